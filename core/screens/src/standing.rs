//! Where a bike stands, in one sentence.

use crate::figures::capital;
use crate::mark::{Mark, Sign};
use crate::situation::Situation;
use crate::{Context, NextStep, StepTarget};
use steerwright_fieldbook::KeptCheck;
use steerwright_fieldbook::OrderSummary;
use steerwright_fieldbook::orders::State;
use steerwright_fit::bike::Observable;
use steerwright_fit::judgement::{Task, Verdict, Work};
use steerwright_fit::report::{KitReport, MeasureNext};
use steerwright_metrology::quantity::{Dismantling, Quantity, Unit};
use steerwright_protocol::wire::ShopStatus;

/// A bike's sign and its sentence in the list.
pub(crate) fn standing(context: &Context<'_>, situation: &Situation) -> (Sign, String) {
    let words = context.words;
    if let Some(order) = open_order(situation) {
        let state = order.state().map_or_else(String::new, |state| order_state(context, order, state));
        return (
            Sign::Asked,
            words.with("standing-asked", &[("sku", (&order.sku).into()), ("state", (&state).into())]),
        );
    }
    if situation.disagrees() {
        return (Sign::Verdict(Mark::Disagree), contradiction(context, situation));
    }
    if let Some(check) = fitted(situation) {
        return (Sign::Fitted, fitted_words(context, check));
    }
    let Some(best) = situation.best() else {
        let id = if situation.judged.is_some() { "standing-no-kit" } else { "standing-no-catalogue" };
        return (Sign::Open, words.text(id));
    };
    let sku = ("sku", (&best.sku).into());
    let text = match best.verdict {
        Verdict::GoesIn => words.with("standing-fits", &[sku]),
        Verdict::GoesInAfterWork => {
            words.with("standing-fits-after-work", &[sku, ("jobs", jobs(best).into())])
        }
        Verdict::MeasureFirst => match situation.report().and_then(|report| report.measure_next.first()) {
            Some(next) => words.with("standing-measure", &[("what", (&label(context, &next.what)).into())]),
            None => words.text("standing-undecided"),
        },
        Verdict::WillNotGo => {
            words.with("standing-none-fits", &[("reason", (&reason(context, best)).into())])
        }
    };
    (Sign::Verdict(Mark::of(best.verdict)), text)
}

/// The latest request that still runs.
pub(crate) fn open_order(situation: &Situation) -> Option<&OrderSummary> {
    let is_open = |order: &&OrderSummary| {
        !matches!(order.state(), None | Some(State::Withdrawn | State::Rejected))
            && !matches!(order.shop(), Some(ShopStatus::Withdrawn | ShopStatus::Cancelled))
            && fitted(situation).is_none_or(|check| check.fitted_at <= Some(order.made_at))
    };
    situation.screen.orders.iter().find(is_open)
}

/// The state of a request for the user: what the shop said, or where it is on its way.
pub(crate) fn order_state(context: &Context<'_>, order: &OrderSummary, state: State) -> String {
    match (state, order.shop()) {
        (State::Delivered, Some(status)) => context.words.text(&format!("shop-{}", status.name())),
        _ => context.words.text(&format!("order-{}", state.name().replace('_', "-"))),
    }
}

/// The check whose kit is in the bike.
pub(crate) fn fitted(situation: &Situation) -> Option<&KeptCheck> {
    situation.screen.checks.iter().find(|check| check.is_fitted())
}

fn fitted_words(context: &Context<'_>, check: &KeptCheck) -> String {
    let sku = check.sku.clone().unwrap_or_default();
    match &check.comparison {
        None => context.words.with("standing-fitted", &[("sku", (&sku).into())]),
        Some(comparison) => {
            let angle = context.estimate(comparison.installed, Unit::Deg);
            let id =
                if comparison.agrees { "standing-fitted-as-predicted" } else { "standing-fitted-otherwise" };
            context.words.with(id, &[("sku", (&sku).into()), ("angle", (&angle).into())])
        }
    }
}

/// The first pair of readings that contradict each other.
pub(crate) fn contradiction(context: &Context<'_>, situation: &Situation) -> String {
    let Some(pair) = situation.contradiction() else { return String::new() };
    let unit = pair.what.base_unit();
    let [first, second] = pair.readings.map(|reading| {
        let value = context.number(reading.estimate.value, 2);
        if unit == Unit::Deg { format!("{value}°") } else { format!("{value} mm") }
    });
    context.words.with(
        "standing-disagree",
        &[
            ("what", (&capital(&context.voice().quantity(pair.what))).into()),
            ("first", (&first).into()),
            ("second", (&second).into()),
        ],
    )
}

/// Pieces of work before a kit goes in. A stop to measure is part of the fitting.
pub(crate) fn jobs(kit: &KitReport) -> usize {
    kit.work.iter().filter(|work| work.task != Task::CheckBore).count()
}

/// A kit's work in a few words: "open the upper throat 33.2 to 34.0 mm".
pub(crate) fn job_words(context: &Context<'_>, work: &Work) -> String {
    let number = |mm: Option<f64>| mm.map(|mm| context.fixed(mm, 1)).unwrap_or_default();
    let task = serde_name(&work.task);
    let place = context.words.text(&format!("place-{}", serde_name(&work.place)));
    let (from, to) = (number(work.from_mm), number(work.to_mm));
    let id = if work.from_mm.is_some() && work.to_mm.is_some() {
        format!("job-{task}-sized")
    } else {
        format!("job-{task}")
    };
    context.words.with(&id, &[("place", (&place).into()), ("from", (&from).into()), ("to", (&to).into())])
}

/// A word of a file format, as a part of an id.
fn serde_name(word: &impl serde::Serialize) -> String {
    let name = serde_json::to_value(word).ok().and_then(|it| it.as_str().map(str::to_owned));
    name.unwrap_or_default().replace('_', "-")
}

/// The requirement that keeps a kit out, in a few words.
pub(crate) fn reason(context: &Context<'_>, kit: &KitReport) -> String {
    use steerwright_fit::judgement::State;
    let failed = kit.requirements.iter().find(|line| line.state == State::NotMet);
    failed.map_or_else(
        || kit.text.clone(),
        |line| context.words.text(&format!("requirement-{}", line.requirement.name().replace('_', "-"))),
    )
}

/// The label of a quantity or an observation, by its name in the bike file.
fn label(context: &Context<'_>, what: &str) -> String {
    let look = Observable::ALL.into_iter().find(|look| look.name() == what);
    match (look, Quantity::from_name(what)) {
        (Some(look), _) => context.voice().named("observable", look.name()),
        (None, Some(quantity)) => context.voice().quantity(quantity),
        (None, None) => what.to_owned(),
    }
}

/// The next sensible thing: measure, ask the shop, note that the kit went in, or measure again after a ride.
pub(crate) fn next_step(context: &Context<'_>, situation: &Situation) -> Option<NextStep> {
    let words = context.words;
    if situation.judged.is_none() {
        return Some(NextStep {
            title: words.text("next-catalogue"),
            detail: words.text("next-catalogue-detail"),
            target: StepTarget::Book,
        });
    }
    if let Some(pair) = situation.contradiction() {
        let label = context.voice().quantity(pair.what);
        return Some(NextStep {
            title: words.with("next-again", &[("what", (&label).into())]),
            detail: words.text("next-again-detail"),
            target: StepTarget::Measure(pair.what.name().to_owned()),
        });
    }
    if let Some(check) = fitted(situation) {
        if check.comparison.is_some() {
            return None;
        }
        return Some(NextStep {
            title: words.text("next-ride"),
            detail: words.text("next-ride-detail"),
            target: StepTarget::Measure(Quantity::HeadAngle.name().to_owned()),
        });
    }
    if let Some(order) = open_order(situation) {
        let sku = ("sku", (&order.sku).into());
        // Only what the shop has can have come.
        return Some(if order.state() == Some(State::Delivered) {
            NextStep {
                title: words.with("next-fitted", &[sku]),
                detail: words.text("next-fitted-detail"),
                target: StepTarget::Kit(order.sku.clone()),
            }
        } else {
            NextStep {
                title: words.text("next-outbox"),
                detail: words.text("next-outbox-detail"),
                target: StepTarget::Outbox,
            }
        });
    }
    if situation.screen.record.wanted.is_none() {
        return Some(NextStep {
            title: words.text("next-wanted"),
            detail: words.text("next-wanted-detail"),
            target: StepTarget::Wanted,
        });
    }
    let best = situation.best()?;
    let is_decided = matches!(best.verdict, Verdict::GoesIn | Verdict::GoesInAfterWork);
    match to_do(situation).next() {
        Some(next) if !is_decided => Some(measure_step(context, situation, next)),
        _ if is_decided => Some(NextStep {
            title: words.with("next-ask", &[("sku", (&best.sku).into())]),
            detail: words.text("next-ask-detail"),
            target: StepTarget::Ask(best.sku.clone()),
        }),
        _ => doubt(context, situation, best),
    }
}

/// No kit fits, and one reading that was taken once decides that: a slip of the caliper or of a digit would do the same.
fn doubt(context: &Context<'_>, situation: &Situation, best: &KitReport) -> Option<NextStep> {
    let once = |what: Quantity| {
        situation.screen.record.bike.measured.iter().filter(|row| row.what == what).count() == 1
    };
    let what = best.holds.iter().map(|holds| holds.what).find(|what| once(*what))?;
    Some(NextStep {
        title: context.words.with("next-doubt", &[("what", (&context.voice().quantity(what)).into())]),
        detail: context.words.text("next-doubt-detail"),
        target: StepTarget::Measure(what.name().to_owned()),
    })
}

/// What to measure or look at next, without the looks that were tried and told nothing.
fn to_do(situation: &Situation) -> impl Iterator<Item = &MeasureNext> {
    let observed = &situation.screen.record.bike.observed;
    let tried = |next: &&MeasureNext| {
        let look = Observable::ALL.into_iter().find(|look| look.name() == next.what);
        let is_answered = look.is_some_and(|look| crate::measure::seen_name(observed, look).is_some());
        let needs_fork_out = next.state.includes(Dismantling::ForkOut) && observed.fork_out != Some(true);
        is_answered && !needs_fork_out
    };
    situation.report().into_iter().flat_map(|report| &report.measure_next).filter(move |next| !tried(next))
}

/// A step that measures or looks at something.
fn measure_step(context: &Context<'_>, situation: &Situation, next: &MeasureNext) -> NextStep {
    let words = context.words;
    let name = label(context, &next.what);
    let look = Observable::ALL.into_iter().find(|look| look.name() == next.what);
    let observed = &situation.screen.record.bike.observed;
    let is_again = look.is_some_and(|look| crate::measure::seen_name(observed, look).is_some());
    let minutes = context.minutes(next.minutes);
    let is_look = Quantity::from_name(&next.what).is_none();
    let id = match (is_look, is_again) {
        (true, true) => "next-look-again",
        (true, false) => "next-look",
        (false, _) => "next-measure",
    };
    let title = words.with(id, &[("what", (&name).into())]);
    let detail = match next.with {
        Some(tool) => {
            let tool = words.text(&format!("tool-{}", tool.name().replace('_', "-")));
            let kits = next.of_kits.len();
            words.with(
                "next-measure-detail",
                &[("tool", (&capital(&tool)).into()), ("minutes", (&minutes).into()), ("kits", kits.into())],
            )
        }
        None => words
            .with("next-look-detail", &[("minutes", (&minutes).into()), ("kits", next.of_kits.len().into())]),
    };
    let target =
        if is_look { StepTarget::Look(next.what.clone()) } else { StepTarget::Measure(next.what.clone()) };
    NextStep { title, detail, target }
}
