//! The list of what to measure or look at next.

use super::belief::{Belief, Doubt, metal};
use super::gain::{expected_gain, wrong};
use crate::bike::{Observable, Observed, ObservedSeat, observing};
use crate::judgement::requirement::{Question, Rework};
use crate::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, Requirement, evidence, judge, steerer_missing,
};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::{End, SeatDimension, identify};
use steerwright_mechanics::steerer::Missing;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{
    Estimate, ForkPosition, Instrument, Instruments, Quantity, quantity_info,
};

/// What could be found out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Measure it.
    Quantity(Quantity),
    /// Look at it.
    Look(Observable),
}

/// One thing to find out, with what it is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextMeasurement {
    /// What to find out.
    pub subject: Subject,
    /// Minutes it takes.
    pub minutes: f64,
    /// What it is expected to take off the chance of a wrong verdict.
    pub gain: f64,
    /// The chance that the requirements it bears on are judged wrongly now.
    pub risk: f64,
    /// The requirement that gains most.
    pub requirement: Requirement,
    /// Whether the verdict waits for it, however sure the outcome seems.
    pub needed: bool,
}

/// One thing to measure or look at next, as the report shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasureNext {
    /// A quantity's or an observation's name in the bike file.
    pub what: String,
    /// Minutes it takes.
    pub minutes: f64,
    /// How much it is expected to lower the chance of judging the best kit wrongly.
    pub gain: f64,
    /// Why, in a sentence with the numbers.
    pub text: String,
    /// The usual tool; absent for a thing only looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<Instrument>,
    /// Where the fork has to be for it.
    pub fork: ForkPosition,
    /// Where to put the tool.
    pub place: String,
    /// The mistake people make.
    pub trap: String,
}

/// Least gain that is listed ...
const LEAST_GAIN: f64 = 0.002;

/// ... and least share of the greatest gain on the list.
const LEAST_SHARE: f64 = 0.05;

/// While the verdict waits for readings, other ones are named from this gain on.
const TRIFLE: f64 = 0.02;

/// What is worth finding out for this kit on this bike, the most useful a minute first; each reading as sure as its usual
/// tool in this table.
pub fn next(
    known: &BikeKnowledge,
    direction: Direction,
    kit: &PreparedKit,
    instruments: &Instruments,
) -> Vec<NextMeasurement> {
    let belief = Belief::new(known, direction, kit);
    let needed = needed(known, direction, kit);
    let mut found: Vec<NextMeasurement> = Vec::new();
    let mut quantities: Vec<Quantity> = Vec::new();
    for doubt in &belief.doubts {
        if wrong(doubt.p, doubt.reworkable) > LEAST_GAIN {
            quantities.extend(doubt.requirement.reads());
        }
    }
    quantities.extend(needed.iter().map(|(what, _)| *what));
    quantities.sort_unstable();
    quantities.dedup();
    for what in quantities {
        let Some(own) = instruments.plus_minus(what, quantity_info(what).tool) else { continue };
        let gains = match SeatDimension::of(what) {
            Some((end, dimension)) => seat_gains(known, &belief, end, dimension, own / 2.0),
            None => Vec::new(),
        };
        let gains = gains.into_iter().chain(reading_gains(&belief, what, own / 2.0));
        let minutes = minutes(quantity_info(what).minutes, quantity_info(what).fork, known);
        let waits = needed.iter().find(|(needed, _)| *needed == what).map(|(_, requirement)| *requirement);
        found.extend(summed(Subject::Quantity(what), minutes, gains, waits));
    }
    for look in Observable::ALL {
        let row = observing(look);
        let minutes = minutes(row.minutes, row.fork, known);
        found.extend(summed(Subject::Look(look), minutes, look_gains(known, &belief, look), None));
    }
    // Readings without which there is no verdict come first.
    let most = found.iter().map(|next| next.gain).fold(0.0, f64::max);
    let least = if needed.is_empty() { 0.0 } else { TRIFLE };
    found.retain(|next| next.needed || next.gain >= least.max(LEAST_SHARE * most));
    let worth = |next: &NextMeasurement| next.gain / next.minutes;
    found.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    found
}

/// A requirement with what it gains and what is at risk in it now.
type Gain = (Requirement, f64, f64);

fn summed(
    subject: Subject,
    minutes: f64,
    gains: impl IntoIterator<Item = Gain>,
    waits: Option<Requirement>,
) -> Option<NextMeasurement> {
    let gains: Vec<Gain> = gains.into_iter().filter(|(_, gain, _)| *gain > 0.0).collect();
    let most = gains.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(requirement, ..)| *requirement);
    // Not `sum()`: of nothing at all that is -0.
    let total = |part: fn(&Gain) -> f64| gains.iter().map(part).fold(0.0, |sum, part| sum + part);
    let (gain, risk) = (total(|gain| gain.1), total(|gain| gain.2));
    let needed = waits.is_some();
    let next = NextMeasurement { subject, minutes, gain, risk, requirement: most.or(waits)?, needed };
    (needed || gain >= LEAST_GAIN).then_some(next)
}

/// The readings without which a requirement cannot be answered. A verdict never uses usual values, so the list names
/// these readings even where the expected gain is small.
fn needed(known: &BikeKnowledge, direction: Direction, kit: &PreparedKit) -> Vec<(Quantity, Requirement)> {
    let answers = judge(kit, &Facts::new(known, direction)).answers;
    let open = answers.iter().filter(|answer| answer.question == Question::NotKnown);
    open.flat_map(|answer| {
        // Where the kit's maker states no throat, the clearance model needs the steerer's shape and place.
        let shape: &[Quantity] = match answer.requirement {
            Requirement::UpperThroat if kit.end(End::Upper).throat_min.is_none() => &STEERER_SHAPE,
            Requirement::LowerThroat if kit.end(End::Lower).throat_min.is_none() => &STEERER_SHAPE,
            _ => &[],
        };
        let readings = match answer.requirement {
            Requirement::SteererLength => steerer_way(known),
            // Without the fork's travel the answer is only more cautious.
            other => other.reads().iter().copied().filter(|what| *what != Quantity::ForkTravel).collect(),
        };
        let readings = readings.into_iter().chain(shape.iter().copied());
        readings.filter(|what| known.get(*what).is_none()).map(|what| (what, answer.requirement))
    })
    .collect()
}

/// What is missing to know whether the steerer is long enough, by the way that takes less time: its length with the
/// fork out, or the parts on it with the fork in.
fn steerer_way(known: &BikeKnowledge) -> Vec<Quantity> {
    let Some(Missing { fork_out, fork_in }) = steerer_missing(known) else { return Vec::new() };
    let takes = |way: &[Quantity]| -> f64 {
        way.iter().map(|what| minutes(quantity_info(*what).minutes, quantity_info(*what).fork, known)).sum()
    };
    if takes(&fork_out) < takes(&fork_in) { fork_out } else { fork_in }
}

/// What tells how wide a throat the tilted steerer needs.
const STEERER_SHAPE: [Quantity; 4] = [
    Quantity::HeadTubeLength,
    Quantity::SteererUpperDiameter,
    Quantity::SteererLowerDiameter,
    Quantity::SteererTaperEnd,
];

/// The minutes of a measurement; less the time to take the fork out where it is out already.
fn minutes(usual: f64, fork: ForkPosition, known: &BikeKnowledge) -> f64 {
    let spared = match (fork, known.observed.fork_out) {
        (ForkPosition::Out, Some(true)) => Rule::ForkOutMinutes.value(),
        _ => 0.0,
    };
    (usual - spared).max(1.0)
}

/// What a reading is worth for the requirements whose limits it enters.
fn reading_gains(belief: &Belief<'_>, what: Quantity, u_tool: f64) -> Vec<Gain> {
    let Some(now) = belief.known.get(what) else { return Vec::new() };
    // A further reading joins what is known; with weights 1/u^2 the joint u is the harmonic one.
    let u_after = now.u * u_tool / now.u.hypot(u_tool);
    let Some(then) = belief.measured(what, u_after) else { return Vec::new() };
    let mut places = Vec::new();
    belief
        .doubts
        .iter()
        .filter_map(|doubt| {
            // The same part of the same requirement, by its place among that requirement's parts.
            let place = places.iter().filter(|earlier| **earlier == doubt.requirement).count();
            places.push(doubt.requirement);
            let same = then.iter().filter(|answer| answer.requirement == doubt.requirement).nth(place)?;
            let (Question::Limit { of, within }, Question::Limit { of: later, .. }) =
                (doubt.question, same.question)
            else {
                return None;
            };
            let gain = expected_gain(of, later.u, within, doubt.reworkable);
            Some((doubt.requirement, gain, wrong(doubt.p, doubt.reworkable)))
        })
        .collect()
}

fn seat_requirement(end: End) -> Requirement {
    match end {
        End::Upper => Requirement::UpperSeat,
        End::Lower => Requirement::LowerSeat,
    }
}

fn seat_doubt<'b>(belief: &'b Belief<'_>, end: End) -> Option<&'b Doubt> {
    belief.doubts.iter().find(|doubt| doubt.requirement == seat_requirement(end))
}

/// What one of a seat's dimensions is worth: over the mixture of what it may read.
fn seat_gains(
    known: &BikeKnowledge,
    belief: &Belief<'_>,
    end: End,
    dimension: SeatDimension,
    u: f64,
) -> Vec<Gain> {
    /// Points across each component of the mixture, in its standard deviations, with their normal weights.
    const POINTS: [(f64, f64); 5] =
        [(-2.0, 0.0545), (-1.0, 0.2442), (0.0, 0.4026), (1.0, 0.2442), (2.0, 0.0545)];
    let Some(doubt) = seat_doubt(belief, end) else { return Vec::new() };
    let risk = wrong(doubt.p, 0.0);
    let now = evidence(known, end);
    let measured_before = now.reading(dimension).is_some();
    // Where the kit wants a drop-in seat there should be no cup to measure; if there is one, a look tells.
    if dimension == SeatDimension::CupOuter && !belief.kit.end(end).pressed {
        return Vec::new();
    }
    let Some(predicted) = belief.facts.posterior(end).predictive(dimension, u) else { return Vec::new() };
    if risk <= LEAST_GAIN || measured_before {
        return Vec::new();
    }
    let takes = |reading: f64| {
        let then = identify(&now.with(dimension, Estimate::new(reading, u)));
        then.probability_of_frame_seat(belief.kit.end(end).code)
    };
    // A reading that fits no size rules the kit out for certain, so it leaves no risk.
    let left: f64 = predicted
        .components
        .iter()
        .flat_map(|part| POINTS.map(|(z, weight)| (part.weight * weight, part.mean + z * part.sd)))
        .map(|(weight, reading)| weight * wrong(takes(reading), 0.0))
        .sum();
    vec![(doubt.requirement, risk - left, risk)]
}

/// The gain of an observation.
fn look_gains(known: &BikeKnowledge, belief: &Belief<'_>, look: Observable) -> Vec<Gain> {
    let all_of = |requirement: Requirement| {
        let doubt = belief.doubts.iter().find(|doubt| doubt.requirement == requirement);
        doubt
            .filter(|doubt| doubt.question == Question::NotKnown)
            .map(|doubt| wrong(doubt.p, doubt.reworkable))
            .map(|risk| vec![(requirement, risk, risk)])
            .unwrap_or_default()
    };
    match look {
        Observable::HosesThroughHeadset => all_of(Requirement::Hoses),
        Observable::SteeringStop => all_of(Requirement::SteeringStop),
        Observable::Bearings => all_of(Requirement::BearingCondition),
        Observable::FrameMaterial => {
            let metal = metal(belief.facts.cutting);
            let cut = belief.doubts.iter().filter(|doubt| doubt.rework == Rework::Cut);
            cut.map(|doubt| {
                let risk = wrong(doubt.p, metal);
                let left = metal * wrong(doubt.p, 1.0) + (1.0 - metal) * wrong(doubt.p, 0.0);
                (doubt.requirement, risk - left, risk)
            })
            .collect()
        }
        Observable::UpperSeat => seat_look(known, belief, End::Upper),
        Observable::LowerSeat => seat_look(known, belief, End::Lower),
        Observable::DualCrown => Vec::new(),
    }
}

/// The gain of observing a seat with the bearing or the fork out.
fn seat_look(known: &BikeKnowledge, belief: &Belief<'_>, end: End) -> Vec<Gain> {
    let Some(doubt) = seat_doubt(belief, end) else { return Vec::new() };
    let seen = match end {
        End::Upper => known.observed.upper_seat,
        End::Lower => known.observed.lower_seat,
    };
    let seen_well =
        known.observed.fork_out == Some(true) && !matches!(seen, None | Some(ObservedSeat::NotSeen));
    if seen_well {
        return Vec::new();
    }
    let risk = wrong(doubt.p, 0.0);
    // The look with the fork out replaces an earlier one with the fork in.
    let blind = Observed {
        upper_seat: known.observed.upper_seat.filter(|_| end == End::Lower),
        lower_seat: known.observed.lower_seat.filter(|_| end == End::Upper),
        ..known.observed.clone()
    };
    let without = identify(&evidence(&known.seeing(blind), end));
    let left: f64 = without
        .predicted_look(true)
        .into_iter()
        .map(|(seen, p)| {
            let then = identify(&evidence(known, end).looked(seen, true));
            p * wrong(then.probability_of_frame_seat(belief.kit.end(end).code), 0.0)
        })
        .sum();
    vec![(doubt.requirement, risk - left, risk)]
}

/// The list in words, for the kit with this order code.
pub fn measure_next(
    known: &BikeKnowledge,
    direction: Direction,
    kit: &PreparedKit,
    instruments: &Instruments,
    sku: &str,
) -> Vec<MeasureNext> {
    next(known, direction, kit, instruments).iter().map(|next| in_words(next, sku, known)).collect()
}

fn in_words(next: &NextMeasurement, sku: &str, known: &BikeKnowledge) -> MeasureNext {
    let (what, label, with, fork, place, trap) = match next.subject {
        Subject::Quantity(what) => {
            let row = quantity_info(what);
            (what.name(), &row.label, Some(row.tool), row.fork, &row.place, &row.trap)
        }
        Subject::Look(look) => {
            let row = observing(look);
            (look.name(), &row.label, None, row.fork, &row.place, &row.trap)
        }
    };
    // A small probability is never shown as 0 %.
    let percent = |p: f64| match 100.0 * p {
        p if p < 0.5 => "under 1 %".to_owned(),
        p => format!("{p:.0} %"),
    };
    let how = match (with, next.subject) {
        (Some(tool), Subject::Quantity(what)) => {
            // Says that the reading already there is known.
            let again = if known.get(what).is_some() { " again" } else { "" };
            format!("Measure the {label}{again} ({})", tool.name().replace('_', " "))
        }
        _ => format!("Look at the {label}"),
    };
    let subject = next.requirement.name().replace('_', " ");
    let fork_out = known.observed.fork_out == Some(true);
    let pull = match (fork, next.subject) {
        (ForkPosition::Out, _) if fork_out => "",
        // A look counts for less while the file does not say how well the seat could be seen.
        (ForkPosition::Out, Subject::Look(Observable::UpperSeat | Observable::LowerSeat)) => {
            " The fork has to come out; then note `fork_out` as true."
        }
        (ForkPosition::Out, _) => " The fork has to come out.",
        (ForkPosition::In | ForkPosition::Either, _) => "",
    };
    let text = if next.gain < LEAST_GAIN {
        format!(
            "{how}, about {:.0} min: the {subject} of {sku} waits for it, though most bikes pass.{pull}",
            next.minutes
        )
    } else {
        format!(
            "{how}, about {:.0} min: the chance of judging {sku} wrongly on its {subject} falls from {} to {}.{pull}",
            next.minutes,
            percent(next.risk),
            percent((next.risk - next.gain).max(0.0)),
        )
    };
    MeasureNext {
        what: what.to_owned(),
        minutes: next.minutes,
        gain: next.gain,
        text,
        with,
        fork,
        place: place.clone(),
        trap: trap.clone(),
    }
}
