//! The kits for a bike, best first, and one kit in full.

use crate::bike::{change_words, wanted_words};
use crate::mark::{Mark, Sign};
use crate::situation::Situation;
use crate::standing::{fitted, job_words, jobs, reason};
use crate::{Context, ScreenError};
use serde::Serialize;
use std::collections::BTreeMap;
use steerwright_drawing::Drawing;
use steerwright_fieldbook::{BikeId, CheckId};
use steerwright_fit::judgement::{Direction, State, TargetChange, Verdict};
use steerwright_fit::report::{KitReport, Report};
use steerwright_pictures::pictures_in;
use steerwright_protocol::wire::OrderRequest;

/// The kits for a bike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KitsView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// Whose catalogue, which issue; absent while there is none.
    pub catalogue: Option<String>,
    /// What is wanted, as a form.
    pub wanted: WantedView,
    /// The kits that fit or may fit, best first.
    pub cards: Vec<KitCard>,
    /// Those that do not, by reason.
    pub folded: Option<Folded>,
    /// What to say where there is no kit at all.
    pub empty: Option<String>,
}

/// What is wanted, as a form: a direction, and degrees on the ground or a head angle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WantedView {
    /// In words.
    pub text: String,
    /// The direction.
    pub direction: Direction,
    /// Degrees on the ground, as typed.
    pub change: String,
    /// The head angle, as typed.
    pub head_angle: String,
}

/// One kit as a card.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KitCard {
    /// Its order code.
    pub sku: String,
    /// Its sign: the mark of its verdict, or the spanner of a kit that is in.
    pub sign: Sign,
    /// The mark's word.
    pub word: String,
    /// Why, and what it needs.
    pub text: String,
    /// What it does to the head angle.
    pub change: Option<String>,
    /// What cannot be undone, where material has to go.
    pub caution: Option<String>,
    /// Its price.
    pub price: String,
    /// How many are in stock, where the catalogue says.
    pub stock: Option<String>,
    /// Whether it is in the bike.
    pub fitted: bool,
    /// The button that asks the shop: for it, or only about it.
    pub ask: String,
}

/// The kits that do not fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Folded {
    /// How many.
    pub title: String,
    /// How many for which reason.
    pub reasons: String,
    /// Each with its reason.
    pub kits: Vec<FoldedKit>,
}

/// A kit that does not fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FoldedKit {
    /// Its order code.
    pub sku: String,
    /// The reason in a few words.
    pub why: String,
}

/// One kit in full.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KitView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The kit's card.
    pub card: KitCard,
    /// The kit's name.
    pub name: String,
    /// Why the head angle changes by another amount than the kit's own tilt.
    pub angles: Option<String>,
    /// What it asks, in the trade's order.
    pub requirements: Vec<RequirementLine>,
    /// Work before it goes in.
    pub work: Vec<WorkStep>,
    /// Parts to order with it.
    pub parts: Vec<String>,
    /// What to watch for when putting it together.
    pub notes: Vec<String>,
    /// Safety notes to read before tools come out.
    pub cautions: Vec<String>,
    /// What would make the answer wrong.
    pub wrong_if: Vec<String>,
    /// Its drawings, by name.
    pub drawings: Vec<Picture>,
    /// The kept check whose kit this is and which is in the bike.
    pub fitted: Option<CheckId>,
    /// Whether a reason is wanted before it is noted as fitted.
    pub needs_reason: bool,
}

/// A drawing with a name.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Picture {
    /// Its name, such as `section-TT-4180-15`.
    pub name: String,
    /// The drawing.
    pub drawing: Drawing,
}

/// One requirement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RequirementLine {
    /// Met, met after work, not known, not met.
    pub state: State,
    /// The state's word.
    pub word: String,
    /// In a sentence.
    pub text: String,
}

/// One piece of work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WorkStep {
    /// In a sentence.
    pub text: String,
    /// What cannot be undone.
    pub caution: Option<String>,
}

/// The kits for a bike.
///
/// # Errors
/// No such bike.
pub fn kits(context: &Context<'_>, id: BikeId) -> Result<KitsView, ScreenError> {
    let situation = Situation::new(context, id)?;
    let words = context.words;
    let report = situation.report();
    let kits = report.map(|report| report.kits.as_slice()).unwrap_or_default();
    let (out, open): (Vec<&KitReport>, Vec<&KitReport>) =
        kits.iter().partition(|kit| kit.verdict == Verdict::WillNotGo);
    let currency = report.map(|report| report.catalogue.currency.clone()).unwrap_or_default();
    let mut cards: Vec<KitCard> = open.iter().map(|kit| card(context, &situation, kit, &currency)).collect();
    // The kit that is in stands first.
    cards.sort_by_key(|card| !card.fitted);
    Ok(KitsView {
        bike: id,
        bike_name: situation.screen.record.bike.name.clone(),
        catalogue: report.map(|report| {
            let number = report.catalogue.number.to_string();
            words.with(
                "kits-catalogue",
                &[("maker", (&report.catalogue.maker).into()), ("number", (&number).into())],
            )
        }),
        wanted: wanted_view(context, &situation),
        cards,
        folded: folded(context, &out),
        empty: kits
            .is_empty()
            .then(|| words.text(if report.is_some() { "answer-no-kit" } else { "answer-no-catalogue" })),
    })
}

fn wanted_view(context: &Context<'_>, situation: &Situation) -> WantedView {
    let wanted = situation.wanted;
    let number = |value: f64| context.number(value, 2);
    let (change, head_angle) = match wanted.target {
        None => (String::new(), String::new()),
        Some(TargetChange::Change(degrees)) => (number(degrees), String::new()),
        Some(TargetChange::HeadAngle(angle)) => (String::new(), number(angle)),
    };
    WantedView { text: wanted_words(context, wanted), direction: wanted.direction, change, head_angle }
}

fn card(context: &Context<'_>, situation: &Situation, kit: &KitReport, currency: &str) -> KitCard {
    let words = context.words;
    let mark = if situation.disagrees() && kit.verdict == Verdict::MeasureFirst {
        Mark::Disagree
    } else {
        Mark::of(kit.verdict)
    };
    let jobs = jobs(kit);
    let is_fitted = fitted(situation).is_some_and(|check| check.sku.as_ref() == Some(&kit.sku));
    let word = match mark {
        _ if is_fitted => words.text("kit-in-the-bike"),
        Mark::FitsAfterWork => words.with("mark-jobs", &[("jobs", jobs.into())]),
        other => words.text(other.word()),
    };
    let cuts = kit.work.iter().any(|work| work.task.cuts());
    let text = if is_fitted {
        words.text("kit-is-in")
    } else if kit.verdict == Verdict::GoesInAfterWork {
        let jobs: Vec<String> =
            kit.work.iter().map(|work| crate::figures::capital(&job_words(context, work))).collect();
        jobs.join(" ")
    } else {
        kit.text.clone()
    };
    KitCard {
        sku: kit.sku.clone(),
        sign: if is_fitted { Sign::Fitted } else { Sign::Verdict(mark) },
        word,
        text,
        // Changes count from the bike as it is: with this kit.
        change: kit
            .change
            .head_angle
            .as_ref()
            .filter(|_| !is_fitted)
            .map(|change| change_words(context, change)),
        caution: cuts.then(|| words.text("caution-cutting")),
        price: format!("{} {currency}", context.voice().mark(kit.price.to_string())),
        stock: kit.stock.map(|stock| {
            words.with("stock", &[("stock", usize::try_from(stock).unwrap_or(usize::MAX).into())])
        }),
        fitted: is_fitted,
        ask: words.text(if OrderRequest::may_be_ordered(kit.verdict) { "kit-ask" } else { "kit-ask-about" }),
    }
}

fn folded(context: &Context<'_>, out: &[&KitReport]) -> Option<Folded> {
    if out.is_empty() {
        return None;
    }
    let kits: Vec<FoldedKit> =
        out.iter().map(|kit| FoldedKit { sku: kit.sku.clone(), why: reason(context, kit) }).collect();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for kit in &kits {
        *counts.entry(&kit.why).or_default() += 1;
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(why, count)| (std::cmp::Reverse(*count), *why));
    let reasons: Vec<String> = counts.into_iter().map(|(why, count)| format!("{why} {count}")).collect();
    Some(Folded {
        title: context.words.with("kits-folded", &[("count", out.len().into())]),
        reasons: reasons.join(" · "),
        kits,
    })
}

/// One kit in full, by its order code.
///
/// # Errors
/// No such bike or kit.
pub fn kit(context: &Context<'_>, id: BikeId, sku: &str) -> Result<KitView, ScreenError> {
    let situation = Situation::new(context, id)?;
    let none = || ScreenError::NotThere { what: "kit", name: sku.to_owned() };
    let judged = situation.judged.as_ref().ok_or_else(none)?;
    let report = &judged.report;
    let found = report.kits.iter().find(|kit| kit.sku == sku).ok_or_else(none)?;
    let only = Report { kits: vec![found.clone()], measure_next: Vec::new(), ..report.clone() };
    let bike = &situation.screen.record.bike;
    let words = context.words;
    let caution = |cuts: bool| cuts.then(|| words.text("caution-cutting"));
    Ok(KitView {
        bike: id,
        bike_name: bike.name.clone(),
        card: card(context, &situation, found, &report.catalogue.currency),
        name: found.name.clone(),
        angles: angles(context, found),
        requirements: found
            .requirements
            .iter()
            .map(|line| RequirementLine {
                state: line.state,
                word: words.text(state_word(line.state)),
                text: line.text.clone(),
            })
            .collect(),
        work: found
            .work
            .iter()
            .map(|work| WorkStep { text: work.text.clone(), caution: caution(work.task.cuts()) })
            .collect(),
        parts: found.also_order.clone(),
        notes: found.notes.iter().map(|note| note.text.clone()).collect(),
        cautions: report.cautions.clone(),
        wrong_if: found.holds.iter().map(|it| crate::figures::capital(&it.text)).collect(),
        drawings: pictures_in(context.voice(), bike, &judged.catalogue, &situation.instruments, &only)
            .into_iter()
            .map(|(name, drawing)| Picture { name, drawing })
            .collect(),
        fitted: fitted(&situation).filter(|check| check.sku.as_deref() == Some(sku)).map(|check| check.id),
        needs_reason: !matches!(found.verdict, Verdict::GoesIn | Verdict::GoesInAfterWork),
    })
}

/// The three angles of one kit: what it is made for, its tilt in this head tube, and the change on the ground.
fn angles(context: &Context<'_>, kit: &KitReport) -> Option<String> {
    let change = kit.change.head_angle.as_ref().filter(|change| change.assumed.is_empty())?;
    let amounts = [kit.tilt_deg.nominal, kit.tilt_deg.real?, change.after - change.before];
    let [nominal, tilt, ground] = amounts.map(|degrees| context.fixed(degrees.abs(), 2));
    let amounts = [("nominal", (&nominal).into()), ("tilt", (&tilt).into()), ("ground", (&ground).into())];
    Some(context.words.with("kit-angles", &amounts))
}

fn state_word(state: State) -> &'static str {
    match state {
        State::Met => "state-met",
        State::MetAfterWork => "state-met-after-work",
        State::NotKnown => "state-not-known",
        State::NotMet => "state-not-met",
    }
}
