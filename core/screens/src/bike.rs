//! One bike: the answer, the drawing, what is known, and the next sensible thing.

use crate::figures::capital;
use crate::mark::{Mark, Sign};
use crate::situation::Situation;
use crate::standing::{contradiction, fitted, jobs, next_step, open_order, reason, standing};
use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_drawing::Drawing;
use steerwright_fieldbook::BikeId;
use steerwright_fit::bike::Observable;
use steerwright_fit::judgement::{Direction, TargetChange, Verdict, Wanted};
use steerwright_fit::report::{KitReport, Report};
use steerwright_metrology::quantity::{Dismantling, Quantity, Unit};
use steerwright_pictures::pictures_in;

/// A bike's screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BikeView {
    /// The bike.
    pub id: BikeId,
    /// Its name.
    pub name: String,
    /// Its owner.
    pub owner: Option<String>,
    /// The sign before its name.
    pub sign: Sign,
    /// The answer and why.
    pub answer: Answer,
    /// The head tube's section with the kit that the answer speaks of; absent while too little is known to draw it.
    pub drawing: Option<Drawing>,
    /// Which kit the drawing shows.
    pub drawing_caption: Option<String>,
    /// Why there is no drawing.
    pub no_drawing: Option<String>,
    /// The next sensible thing.
    pub next: Option<NextStep>,
    /// What would make the answer wrong, the tightest stretch first.
    pub wrong_if: Vec<String>,
    /// The same as number lines.
    pub wrong_if_drawing: Option<Drawing>,
    /// The heading above it.
    pub wrong_if_title: String,
    /// What is wrong or odd in the readings.
    pub readings: Vec<String>,
    /// Every quantity and observation, as rows to touch.
    pub groups: Vec<RowGroup>,
}

/// The answer in one sentence, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Answer {
    /// In one sentence.
    pub title: String,
    /// Why, in a sentence or two.
    pub why: String,
}

/// The one large button.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NextStep {
    /// What to do.
    pub title: String,
    /// With which tool, how long, what it settles.
    pub detail: String,
    /// Where it leads.
    pub target: StepTarget,
}

/// Where a step leads.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StepTarget {
    /// Measuring this quantity.
    Measure(String),
    /// Looking at this.
    Look(String),
    /// This kit.
    Kit(String),
    /// Asking the shop for this kit.
    Ask(String),
    /// Saying what is wanted.
    Wanted,
    /// The outbox.
    Outbox,
    /// Makers and catalogues.
    Book,
}

/// Rows that belong together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RowGroup {
    /// Its heading.
    pub title: String,
    /// The rows.
    pub rows: Vec<DimensionRow>,
}

/// A dimension or an observation, as a row to touch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DimensionRow {
    /// Its name in the bike file.
    pub what: String,
    /// Its name in words.
    pub label: String,
    /// Its value, or that it is not measured.
    pub value: String,
    /// Whether it is known.
    pub known: bool,
    /// Whether its readings contradict each other.
    pub disagrees: bool,
    /// What a touch opens.
    pub target: StepTarget,
}

/// A bike's screen.
///
/// # Errors
/// No such bike.
pub fn bike(context: &Context<'_>, id: BikeId) -> Result<BikeView, ScreenError> {
    let situation = Situation::new(context, id)?;
    let (sign, _) = standing(context, &situation);
    let (drawing, wrong_if_drawing) = drawings(context, &situation);
    let words = context.words;
    let wrong_if = situation.best().map(|best| best.holds.iter().map(|it| capital(&it.text)).collect());
    let readings =
        situation.report().map(|report| report.readings.iter().map(|it| it.text.clone()).collect());
    Ok(BikeView {
        id,
        name: situation.screen.record.bike.name.clone(),
        owner: situation.screen.record.bike.owner.clone(),
        sign,
        answer: answer(context, &situation),
        drawing_caption: drawn(&situation)
            .filter(|_| drawing.is_some())
            .map(|kit| words.with("bike-drawn-with", &[("sku", (&kit.sku).into())])),
        no_drawing: drawing.is_none().then(|| words.text(no_drawing(&situation))),
        drawing,
        next: next_step(context, &situation),
        wrong_if: wrong_if.unwrap_or_default(),
        wrong_if_drawing,
        wrong_if_title: words.text("bike-wrong-if"),
        readings: readings.unwrap_or_default(),
        groups: groups(context, &situation),
    })
}

/// What is wanted, in words: "1.2° slacker wanted".
pub(crate) fn wanted_words(context: &Context<'_>, wanted: Wanted) -> String {
    let way = context.words.text(match wanted.direction {
        Direction::Slacker => "slacker",
        Direction::Steeper => "steeper",
    });
    match wanted.target {
        None => context.words.with("wanted-way", &[("way", (&way).into())]),
        Some(TargetChange::Change(degrees)) => {
            let degrees = context.number(degrees, 2);
            context.words.with("wanted-change", &[("degrees", (&degrees).into()), ("way", (&way).into())])
        }
        Some(TargetChange::HeadAngle(angle)) => {
            let angle = context.number(angle, 2);
            context.words.with("wanted-angle", &[("angle", (&angle).into())])
        }
    }
}

fn answer(context: &Context<'_>, situation: &Situation) -> Answer {
    let words = context.words;
    if situation.disagrees() {
        return Answer {
            title: words.text(Mark::Disagree.word()),
            why: format!("{}. {}", contradiction(context, situation), words.text("answer-disagree")),
        };
    }
    if let Some(check) = fitted(situation) {
        let (_, title) = standing(context, situation);
        let why = check
            .comparison
            .as_ref()
            .map_or_else(|| words.text("answer-fitted"), |it| it.in_words(context.voice()));
        return Answer { title, why };
    }
    let (Some(report), Some(best)) = (situation.report(), situation.best()) else {
        let id = if situation.judged.is_some() { "answer-no-kit" } else { "answer-no-catalogue" };
        return Answer { title: words.text("answer-open"), why: words.text(id) };
    };
    if let Some(order) = open_order(situation) {
        let (_, title) = standing(context, situation);
        let why = words.with("answer-asked", &[("sku", (&order.sku).into())]);
        return Answer { title, why };
    }
    let wanted =
        situation.screen.record.wanted.map(|wanted| wanted_words(context, wanted)).unwrap_or_default();
    let sku = ("sku", (&best.sku).into());
    let (title, why) = match best.verdict {
        Verdict::GoesIn => (words.with("standing-fits", &[sku]), best.text.clone()),
        Verdict::GoesInAfterWork => {
            let title = words.with("standing-fits-after-work", &[sku, ("jobs", jobs(best).into())]);
            (title, best.work.iter().map(|work| work.text.clone()).collect::<Vec<_>>().join(" "))
        }
        Verdict::MeasureFirst => (words.text("answer-undecided"), to_measure(context, report)),
        Verdict::WillNotGo => {
            let reason = reason(context, best);
            (words.with("standing-none-fits", &[("reason", (&reason).into())]), best.text.clone())
        }
    };
    let change = best.change.head_angle.as_ref().filter(|_| best.verdict != Verdict::WillNotGo);
    let change = change.map(|it| change_words(context, it)).unwrap_or_default();
    Answer {
        title,
        why: [wanted, change, why].into_iter().filter(|it| !it.is_empty()).collect::<Vec<_>>().join(" "),
    }
}

/// "1.25° slacker on the ground, 66.0 to 64.7."
pub(crate) fn change_words(
    context: &Context<'_>,
    change: &steerwright_fit::report::HeadAngleChange,
) -> String {
    let by = change.after - change.before;
    let way = context.words.text(if by <= 0.0 { "slacker" } else { "steeper" });
    let degrees = context.fixed(by.abs(), 2);
    if change.assumed.contains(&Quantity::HeadAngle) {
        let about = context.fixed(by.abs(), 1);
        return context.words.with("change-assumed", &[("degrees", (&about).into()), ("way", (&way).into())]);
    }
    let (before, after) = (context.fixed(change.before, 1), context.fixed(change.after, 1));
    context.words.with(
        "change",
        &[
            ("degrees", (&degrees).into()),
            ("way", (&way).into()),
            ("before", (&before).into()),
            ("after", (&after).into()),
        ],
    )
}

/// How much is left to measure, by how far the bike is taken apart.
fn to_measure(context: &Context<'_>, report: &Report) -> String {
    let out = |state: Dismantling| state.includes(Dismantling::ForkOut);
    let with_fork_in = report.measure_next.iter().filter(|next| !out(next.state)).count();
    let with_fork_out = report.measure_next.len() - with_fork_in;
    let id = match (with_fork_in, with_fork_out) {
        (0, 0) => "left-nothing",
        (_, 0) => "left-fork-in",
        (0, _) => "left-fork-out",
        _ => "left-both",
    };
    context.words.with(id, &[("in", with_fork_in.into()), ("out", with_fork_out.into())])
}

/// The kit that is drawn: the one that is in, or the one that the answer speaks of unless it does not fit.
fn drawn(situation: &Situation) -> Option<&KitReport> {
    let report = situation.report()?;
    match fitted(situation).and_then(|check| check.sku.as_ref()) {
        Some(sku) => report.kits.iter().find(|kit| kit.sku == *sku),
        None => report.kits.first().filter(|kit| kit.verdict != Verdict::WillNotGo),
    }
}

/// Why there is no drawing.
fn no_drawing(situation: &Situation) -> &'static str {
    match situation.best() {
        None => "bike-no-drawing-catalogue",
        Some(best) if best.verdict == Verdict::WillNotGo => "bike-no-drawing-none-fits",
        Some(_) => "bike-no-drawing",
    }
}

/// The section with the kit that the answer speaks of, and how far that answer holds.
fn drawings(context: &Context<'_>, situation: &Situation) -> (Option<Drawing>, Option<Drawing>) {
    let (Some(judged), Some(best)) = (situation.judged.as_ref(), drawn(situation)) else {
        return (None, None);
    };
    let only = Report { kits: vec![best.clone()], measure_next: Vec::new(), ..judged.report.clone() };
    let bike = &situation.screen.record.bike;
    let mut drawings = pictures_in(context.voice(), bike, &judged.catalogue, &situation.instruments, &only);
    let mut take = |start: &str| {
        let at = drawings.iter().position(|(name, _)| name.starts_with(start))?;
        Some(drawings.swap_remove(at).1)
    };
    (take("section-"), take("holds-"))
}

/// Where a quantity is read.
fn group_of(what: Quantity) -> &'static str {
    use Quantity as Q;
    let name = what.name();
    match what {
        Q::UpperStack
        | Q::LowerStack
        | Q::CapGap
        | Q::StemClampHeight
        | Q::SpacersAbove
        | Q::SpacersBelow => "group-steerer",
        _ if name.starts_with("steerer") => "group-steerer",
        _ if name.starts_with("upper") => "group-upper",
        _ if name.starts_with("lower") => "group-lower",
        _ if name.starts_with("head_tube") => "group-head-tube",
        _ => "group-bike",
    }
}

const GROUPS: [&str; 5] = ["group-head-tube", "group-upper", "group-lower", "group-steerer", "group-bike"];

fn groups(context: &Context<'_>, situation: &Situation) -> Vec<RowGroup> {
    let rows = |group: &str| {
        let looks = Observable::ALL.into_iter().filter(|look| look_group(*look) == group);
        let quantities = Quantity::ALL.iter().copied().filter(|what| group_of(*what) == group);
        let looks = looks.map(|look| look_row(context, situation, look));
        looks.chain(quantities.map(|what| quantity_row(context, situation, what))).collect::<Vec<_>>()
    };
    GROUPS
        .into_iter()
        .map(|group| RowGroup { title: context.words.text(group), rows: rows(group) })
        .filter(|group| !group.rows.is_empty())
        .collect()
}

fn look_group(look: Observable) -> &'static str {
    match look {
        Observable::UpperSeat | Observable::HosesThroughHeadset => "group-upper",
        Observable::LowerSeat => "group-lower",
        Observable::FrameMaterial | Observable::MakerAllowsPressing | Observable::SteeringStop => {
            "group-head-tube"
        }
        Observable::DualCrown | Observable::Bearings => "group-steerer",
    }
}

fn quantity_row(context: &Context<'_>, situation: &Situation, what: Quantity) -> DimensionRow {
    let found = situation.screen.findings.get(what);
    let unit = if what.base_unit() == Unit::Deg { Unit::Deg } else { Unit::Mm };
    DimensionRow {
        what: what.name().to_owned(),
        label: context.voice().quantity(what),
        value: found
            .map_or_else(|| context.words.text("not-measured"), |found| context.estimate(found, unit)),
        known: found.is_some(),
        disagrees: situation.screen.findings.disagreements().iter().any(|pair| pair.what == what),
        target: StepTarget::Measure(what.name().to_owned()),
    }
}

fn look_row(context: &Context<'_>, situation: &Situation, look: Observable) -> DimensionRow {
    let observed = &situation.screen.record.bike.observed;
    DimensionRow {
        what: look.name().to_owned(),
        label: context.voice().named("observable", look.name()),
        value: crate::measure::seen_words(context, observed, look)
            .unwrap_or_else(|| context.words.text("not-looked-at")),
        known: observed.is_known(look),
        disagrees: false,
        target: StepTarget::Look(look.name().to_owned()),
    }
}
