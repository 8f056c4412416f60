//! The list of what to find out next, in words.

use super::next::{Inquiry, LEAST_GAIN, NextMeasurement, OpenKit, Reason, Subject, next};
use crate::bike::{Observable, Reading, observing};
use crate::judgement::{Requirement, evidence};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::{SeatDimension, bearing_sizes, identify};
use steerwright_metrology::quantity::{
    Dismantling, Estimate, ForkPosition, Instrument, Notation, Quantity, quantity_info, shown, trimmed,
};

/// One thing to measure or look at next, as the report shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasureNext {
    /// A quantity's or an observation's name in the bike file.
    pub what: String,
    /// Minutes it takes. The first thing in a state of dismantling carries the minutes to reach that state.
    pub minutes: f64,
    /// How much it is expected to lower the chance of judging a kit wrongly: the mean over the kits still open, each
    /// counted by the upper bound of its probability of going in.
    pub gain: f64,
    /// Why, in a sentence with the numbers.
    pub text: String,
    /// The kits it helps to decide on, by order code, the best first.
    pub of_kits: Vec<String>,
    /// The tool; absent for a thing only looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<Instrument>,
    /// How far the bike is taken apart when it is done.
    pub state: Dismantling,
    /// How to bring the bike there from where the thing before left it; absent where nothing has to be done for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reach: Option<String>,
    /// Where the fork has to be for it.
    pub fork: ForkPosition,
    /// Where to put the tool.
    pub place: String,
    /// The mistake people make.
    pub trap: String,
    /// Which of the guide's texts `place` and `trap` are, where it has several; absent for those of a seat that is not
    /// known, or a fork that is in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variant: Option<String>,
}

/// The list in words; the first of `kits` is the one that stands first now.
pub fn measure_next(bike: &Inquiry<'_>, kits: &[OpenKit<'_>]) -> Vec<MeasureNext> {
    next(bike, kits).iter().map(|next| in_words(next, bike, kits)).collect()
}

/// Whether a gain shows in the numbers that the text has.
pub(super) fn is_visible(risk: f64, gain: f64) -> bool {
    percent(risk) != percent(risk - gain)
}

/// A small probability is never shown as 0 %.
fn percent(p: f64) -> String {
    match 100.0 * p.clamp(0.0, 1.0) {
        p if p < 0.5 => "under 1 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

/// What is at risk for one kit, and how much of it is gained.
#[derive(Clone, Copy)]
struct KitGain {
    kit: usize,
    gain: f64,
    risk: f64,
}

fn by_kit(next: &NextMeasurement) -> Vec<KitGain> {
    let mut kits: Vec<KitGain> = Vec::new();
    for gain in &next.gains {
        match kits.iter_mut().find(|known| known.kit == gain.kit) {
            Some(known) => {
                known.gain += gain.gain;
                known.risk += gain.risk;
            }
            None => kits.push(KitGain { kit: gain.kit, gain: gain.gain, risk: gain.risk }),
        }
    }
    kits.sort_by_key(|gain| gain.kit);
    kits
}

fn in_words(next: &NextMeasurement, bike: &Inquiry<'_>, kits: &[OpenKit<'_>]) -> MeasureNext {
    let what = match next.subject {
        Subject::Quantity(what) => what.name(),
        Subject::Look(look) => look.name(),
    };
    let instruction = &next.guidance.instruction;
    let (why, of_kits) = worth(next, kits);
    let text = format!(
        "{}, {}: {}{why}{}",
        task(next, bike),
        duration(next),
        reason(next, bike),
        afterwards(next, bike)
    );
    MeasureNext {
        what: what.to_owned(),
        minutes: next.minutes,
        gain: next.gain,
        text,
        of_kits,
        with: next.tool,
        state: next.state,
        reach: reach(next),
        fork: instruction.fork,
        place: instruction.place.to_owned(),
        trap: instruction.trap.to_owned(),
        variant: next.guidance.variant.map(str::to_owned),
    }
}

fn task(next: &NextMeasurement, bike: &Inquiry<'_>) -> String {
    match (next.subject, next.tool) {
        (Subject::Quantity(what), Some(Instrument::MakerSheet)) => {
            format!("Ask for the {} (maker sheet)", quantity_info(what).label)
        }
        (Subject::Quantity(what), tool) => {
            // Says that the reading already there is known.
            let again = if bike.known.get(what).is_some() { " again" } else { "" };
            let tool = tool.map(|tool| format!(" ({})", words(tool))).unwrap_or_default();
            format!("Measure the {}{again}{tool}", quantity_info(what).label)
        }
        (Subject::Look(look), _) => format!("Look at the {}", observing(look).label),
    }
}

fn words(tool: Instrument) -> String {
    tool.name().replace('_', " ")
}

/// "about 8 min", with what most of it is for.
fn duration(next: &NextMeasurement) -> String {
    match next.reached.last() {
        Some(state) => format!(
            "about {:.0} min, {:.0} of them {}",
            next.minutes,
            next.minutes - next.own_minutes(),
            state.row().purpose
        ),
        None => format!("about {:.0} min", next.minutes),
    }
}

/// A look with the fork out counts for more only if it is noted that the fork was out.
fn afterwards(next: &NextMeasurement, bike: &Inquiry<'_>) -> &'static str {
    let is_seat = matches!(next.subject, Subject::Look(Observable::UpperSeat | Observable::LowerSeat));
    let is_out = next.state.includes(Dismantling::ForkOut);
    if is_seat && is_out && bike.known.observed.fork_out != Some(true) {
        " Note then that the fork is out (`fork_out`)."
    } else {
        ""
    }
}

/// What to do to bring the bike into the state, in sentences.
fn reach(next: &NextMeasurement) -> Option<String> {
    let refit = next.refit.then_some("Put the fork and the headset together again.");
    let steps = next.reached.iter().map(|state| state.row().reach.as_str());
    let steps: Vec<&str> = refit.into_iter().chain(steps).filter(|step| !step.is_empty()).collect();
    (!steps.is_empty()).then(|| steps.join(" "))
}

/// What was wrong with the readings there are: a sentence, or nothing.
fn reason(next: &NextMeasurement, bike: &Inquiry<'_>) -> String {
    let Subject::Quantity(what) = next.subject else {
        return match next.reason {
            Reason::MaterialFirst => "in carbon a cup may be bonded and stays where it is. ".to_owned(),
            _ => String::new(),
        };
    };
    match next.reason {
        Reason::Contradiction(apart) => {
            let [first, second] = apart.readings.map(|reading| read(&reading, what));
            format!("your {first} and {second} contradict one another. ")
        }
        Reason::Again => {
            let readings = bike.findings.readings(what);
            let unit = what.base_unit();
            let yours = match (readings, bike.known.get(what)) {
                ([one], _) => format!("your {}", read(one, what)),
                (_, Some(joint)) => {
                    let joint = shown(joint, unit, Notation::default()).text;
                    if readings.is_empty() {
                        format!("your {joint}")
                    } else {
                        format!("your {} readings, together {joint},", readings.len())
                    }
                }
                _ => return String::new(),
            };
            let open = open_sizes(what, bike);
            let leave = if readings.len() < 2 { "leaves" } else { "leave" };
            let again = match open.as_slice() {
                [] | [_] => format!("{yours} {leave} the answer open"),
                [all @ .., last] => format!("{yours} {leave} {} and {last} {unit} open", all.join(", ")),
            };
            let same_tool = readings.iter().any(|reading| Some(reading.with) == next.tool);
            let only = if same_tool { ", and the same tool again takes only its scatter away" } else { "" };
            format!("{again}{only}. ")
        }
        Reason::Doubt | Reason::Waits | Reason::MaterialFirst => String::new(),
    }
}

/// "41.5 mm by steel rule".
fn read(reading: &Reading, what: Quantity) -> String {
    format!("{} {} by {}", trimmed(reading.estimate.value, 2), what.base_unit(), words(reading.with))
}

/// The sizes that a seat's reading leaves possible, in mm, rising; empty for other quantities.
fn open_sizes(what: Quantity, bike: &Inquiry<'_>) -> Vec<String> {
    /// Least probability of a size that is named.
    const LEAST: f64 = 0.03;
    let Some((end, dimension)) = SeatDimension::of(what) else { return Vec::new() };
    let posterior = identify(&evidence(bike.known, end));
    let predicted = posterior.predictive(dimension, 0.0);
    let mut sizes: Vec<f64> = predicted
        .iter()
        .flat_map(|predicted| &predicted.components)
        .filter(|part| part.weight >= LEAST)
        .map(|part| part.mean)
        .collect();
    sizes.sort_by(f64::total_cmp);
    let mut named: Vec<String> = sizes.into_iter().map(|size| size_name(dimension, size)).collect();
    named.dedup();
    named
}

/// A bearing's size has the name it is sold under; another dimension is its number.
fn size_name(dimension: SeatDimension, size: f64) -> String {
    let sold_as = |outer: Estimate| (outer.value - size).abs() < 1e-9;
    let bearing = bearing_sizes().iter().find(|bearing| sold_as(bearing.outer.estimate()));
    let name = bearing.map(|bearing| bearing.name.clone()).filter(|name| name.parse::<f64>().is_ok());
    name.filter(|_| dimension == SeatDimension::BearingOuter).unwrap_or_else(|| format!("{size:.1}"))
}

/// What is gained, in a sentence, and the kits that it helps to decide on.
fn worth(next: &NextMeasurement, kits: &[OpenKit<'_>]) -> (String, Vec<String>) {
    /// From this multiple of the first kit's gain on, the kit that gains most is told of too.
    const MUCH_MORE: f64 = 2.0;
    let sku = |kit: usize| kits.get(kit).map(|kit| kit.sku.to_owned()).unwrap_or_default();
    let gains = by_kit(next);
    let weighed = |it: &KitGain| kits.get(it.kit).map_or(0.0, |kit| kit.weight) * it.gain;
    let visible: Vec<KitGain> = gains.into_iter().filter(|it| is_visible(it.risk, it.gain)).collect();
    let subject = |requirement: Requirement| requirement.name().replace('_', " ");
    // The requirement of one kit that gains most.
    let of_kit = |kit: usize| {
        let own = next.gains.iter().filter(|gain| gain.kit == kit);
        let most = own.max_by(|a, b| a.gain.total_cmp(&b.gain));
        most.map_or(next.requirement, |gain| gain.requirement)
    };
    // The kit that stands first now, or else the one that gains most; of equals the one before.
    let most = || visible.iter().rev().max_by(|a, b| weighed(a).total_cmp(&weighed(b)));
    let main = visible.iter().find(|it| it.kit == 0).or_else(most);
    let Some(main) = main.filter(|_| next.gain >= LEAST_GAIN || !next.needed) else {
        let (first, subject) = (sku(0), subject(next.requirement));
        let text = match next.reason {
            Reason::Waits => format!("the {subject} of {first} waits for it, though most bikes pass."),
            _ => format!("the {subject} of {first} rests on it."),
        };
        return (sentence(next, &text), vec![first]);
    };
    let text = format!(
        "the chance of judging {} wrongly on its {} falls from {} to {}.",
        sku(main.kit),
        subject(of_kit(main.kit)),
        percent(main.risk),
        percent(main.risk - main.gain),
    );
    // Where the list rests on another kit than the first, its numbers are told as well.
    let another = most().filter(|it| {
        let is_much = it.kit != main.kit && weighed(it) >= MUCH_MORE * weighed(main);
        is_much && of_kit(it.kit) == of_kit(main.kit)
    });
    let of_another = another.map(|it| {
        let [from, to] = [it.risk, it.risk - it.gain].map(percent);
        format!(" For {} it falls from {from} to {to}.", sku(it.kit))
    });
    let told = |it: &&KitGain| it.kit != main.kit && another.is_none_or(|another| another.kit != it.kit);
    let others: Vec<String> = visible.iter().filter(told).map(|it| sku(it.kit)).collect();
    let also = match others.as_slice() {
        [] => String::new(),
        [one] => format!(" It helps to decide on {one} too."),
        [one, two] => format!(" It helps to decide on {one} and {two} too."),
        [one, two, more @ ..] => format!(" It helps to decide on {one}, {two} and {} more too.", more.len()),
    };
    let text = format!("{}{}{also}", sentence(next, &text), of_another.unwrap_or_default());
    (text, visible.iter().map(|it| sku(it.kit)).collect())
}

/// A sentence of its own after a reason, else what goes on after the colon.
fn sentence(next: &NextMeasurement, text: &str) -> String {
    let follows = matches!(next.reason, Reason::Again | Reason::Contradiction(_) | Reason::MaterialFirst);
    let mut letters = text.chars();
    match letters.next() {
        Some(first) if follows => first.to_uppercase().chain(letters).collect(),
        _ => text.to_owned(),
    }
}
