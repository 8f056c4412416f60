//! Measuring one thing, looking at one thing, and what a new reading changed.

use crate::figures::{capital, spoken};
use crate::mark::Mark;
use crate::situation::{Situation, judge};
use crate::{Context, NextStep, ScreenError};
use serde::Serialize;
use steerwright_drawing::{Drawing, tool_place_in};
use steerwright_fieldbook::{BikeId, MeasurementId};
use steerwright_fit::advice::of_quantity;
use steerwright_fit::bike::{Bike, Findings, Observable, Observed, observing};
use steerwright_fit::judgement::{BikeKnowledge, Direction, Facts, Verdict};
use steerwright_fit::report::Report;
use steerwright_metrology::quantity::{Dismantling, Instrument, Quantity, Unit, quantity_info};

/// Measuring a quantity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasureView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The quantity's name in the bike file.
    pub what: String,
    /// The quantity in words.
    pub title: String,
    /// Where the tool goes.
    pub drawing: Drawing,
    /// The same in sentences.
    pub place: String,
    /// The usual mistake.
    pub trap: String,
    /// What is known by now, if anything.
    pub known: Option<String>,
    /// The units to choose from, the usual one first.
    pub units: Vec<UnitChoice>,
    /// The tools and sources to choose from, the usual one first.
    pub tools: Vec<ToolChoice>,
    /// The label of the number.
    pub value_label: String,
    /// The label of the tools.
    pub tool_label: String,
    /// The name of the key that takes the last digit away.
    pub erase: String,
    /// The button that writes it down.
    pub write: String,
    /// Leads to the photos, where one tells this quantity.
    pub by_photo: Option<String>,
    /// Leads to the level, where it tells this quantity.
    pub by_level: Option<String>,
}

/// A unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UnitChoice {
    /// Its name in the bike file.
    pub name: String,
    /// In words.
    pub text: String,
}

/// A tool or a source of a number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ToolChoice {
    /// Its name in the bike file.
    pub name: String,
    /// In words.
    pub text: String,
    /// How sure its reading of this quantity is: "± 0.05 mm".
    pub plus_minus: String,
}

/// Looking at something.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LookView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The observation's name in the bike file.
    pub what: String,
    /// In words.
    pub title: String,
    /// Where to look.
    pub place: String,
    /// The usual mistake.
    pub trap: String,
    /// Whether the fork is out, as a box to tick; only where it matters.
    pub fork_out: Option<Tick>,
    /// The answers to choose from.
    pub answers: Vec<AnswerChoice>,
}

/// A box to tick.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Tick {
    /// What it says.
    pub text: String,
    /// Whether it is ticked.
    pub ticked: bool,
}

/// An answer to choose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AnswerChoice {
    /// Its name in the bike file; `yes` and `no` stand for true and false.
    pub name: String,
    /// In words.
    pub text: String,
    /// What it looks like.
    pub detail: String,
    /// Whether it is noted now.
    pub chosen: bool,
}

/// What a new reading changed, in one line, and what comes next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// In one line.
    pub text: String,
    /// The next sensible thing.
    pub next: Option<NextStep>,
}

/// Measuring a quantity of a bike, by its name in the bike file.
///
/// # Errors
/// No such bike or quantity.
pub fn measure(context: &Context<'_>, id: BikeId, what: &str) -> Result<MeasureView, ScreenError> {
    let quantity = Quantity::from_name(what)
        .ok_or_else(|| ScreenError::NotThere { what: "quantity", name: what.to_owned() })?;
    let screen = context.reader.bike_screen(id)?;
    let instruments = context.reader.instruments()?;
    let info = quantity_info(quantity);
    let (known, words) = (BikeKnowledge::new(&screen.record.bike, &screen.findings), context.words);
    let facts =
        Facts::new(&known, screen.record.wanted.map_or(Direction::default(), |wanted| wanted.direction));
    let variant = of_quantity(quantity, &known, &facts).variant;
    let [place, trap] = context.voice().measuring(quantity, variant);
    let mut tools: Vec<Instrument> = vec![info.tool];
    tools.extend(info.better);
    tools.extend(Instrument::ALL.into_iter().filter(|tool| *tool != Instrument::Photo));
    let mut seen = Vec::new();
    let tools = tools.into_iter().filter_map(|tool| {
        if seen.contains(&tool) {
            return None;
        }
        seen.push(tool);
        let half = instruments.plus_minus(quantity, tool)?;
        let unit = if quantity.base_unit() == Unit::Deg { "°" } else { " mm" };
        Some(ToolChoice {
            name: tool.name().to_owned(),
            text: words.text(&format!("tool-{}", tool.name().replace('_', "-"))),
            plus_minus: format!("± {}{unit}", context.number(half, 3)),
        })
    });
    let units = match quantity.base_unit() {
        Unit::Deg => vec![UnitChoice { name: "deg".to_owned(), text: "°".to_owned() }],
        _ => ["mm", "cm", "in"]
            .into_iter()
            .map(|unit| UnitChoice { name: unit.to_owned(), text: words.text(&format!("unit-{unit}")) })
            .collect(),
    };
    let is_head_angle = quantity == Quantity::HeadAngle;
    let is_angle = is_head_angle || quantity == Quantity::SeatAngle;
    Ok(MeasureView {
        by_photo: is_head_angle.then(|| words.text("measure-by-photo")),
        by_level: is_angle.then(|| words.text("measure-by-level")),
        bike: id,
        bike_name: screen.record.bike.name.clone(),
        what: quantity.name().to_owned(),
        title: capital(&context.voice().quantity(quantity)),
        drawing: tool_place_in(context.voice(), quantity),
        place,
        trap,
        known: screen.findings.get(quantity).map(|found| {
            let found = context.estimate(found, quantity.base_unit());
            words.with("measure-known", &[("value", (&found).into())])
        }),
        units,
        tools: tools.collect(),
        value_label: words.text("measure-value"),
        tool_label: words.text("measure-tool"),
        erase: words.text("measure-erase"),
        write: words.text("measure-write"),
    })
}

/// The answers to a look, by their names in the bike file; `yes` and `no` stand for true and false.
pub fn answers(look: Observable) -> &'static [&'static str] {
    match look {
        Observable::UpperSeat | Observable::LowerSeat => &["drop_in", "thin_lip", "external_cup", "not_seen"],
        Observable::FrameMaterial => &["aluminium", "carbon", "steel", "titanium", "not_known"],
        Observable::HosesThroughHeadset
        | Observable::SteeringStop
        | Observable::DualCrown
        | Observable::MakerAllowsPressing => &["yes", "no"],
        Observable::Bearings => &["good", "rough", "not_known"],
    }
}

/// Looking at something on a bike, by its name in the bike file.
///
/// # Errors
/// No such bike or observation.
pub fn look(context: &Context<'_>, id: BikeId, what: &str) -> Result<LookView, ScreenError> {
    let look = Observable::ALL
        .into_iter()
        .find(|look| look.name() == what)
        .ok_or_else(|| ScreenError::NotThere { what: "observation", name: what.to_owned() })?;
    let situation = Situation::new(context, id)?;
    let observed = &situation.screen.record.bike.observed;
    let row = observing(look);
    let now = seen_name(observed, look);
    let next =
        situation.report().and_then(|report| report.measure_next.iter().find(|next| next.what == what));
    let advised_out = next.is_some_and(|next| next.state.includes(Dismantling::ForkOut));
    let is_seat = matches!(look, Observable::UpperSeat | Observable::LowerSeat);
    let is_out = observed.fork_out.unwrap_or(false);
    let variant = row.fork_out.as_ref().filter(|_| (is_out || advised_out) && is_seat).map(|_| "fork_out");
    let [place, trap] = context.voice().place_and_trap("looking", look.name(), variant);
    let choice = |name: &&'static str| AnswerChoice {
        name: (*name).to_owned(),
        text: context.words.text(&format!("seen-{}", name.replace('_', "-"))),
        detail: match look {
            Observable::UpperSeat | Observable::LowerSeat => {
                context.words.text(&format!("seen-{}-detail", name.replace('_', "-")))
            }
            _ => String::new(),
        },
        chosen: now.as_deref() == Some(name),
    };
    Ok(LookView {
        bike: id,
        bike_name: situation.screen.record.bike.name.clone(),
        what: look.name().to_owned(),
        title: capital(&context.voice().named("observable", look.name())),
        place,
        trap,
        fork_out: is_seat.then(|| Tick { text: context.words.text("look-fork-out"), ticked: is_out }),
        answers: answers(look).iter().map(choice).collect(),
    })
}

/// What is noted of an observation, by its name in the bike file.
pub(crate) fn seen_name(observed: &Observed, look: Observable) -> Option<String> {
    let fields = serde_json::to_value(observed).ok()?;
    match fields.get(look.name())? {
        serde_json::Value::Bool(true) => Some("yes".to_owned()),
        serde_json::Value::Bool(false) => Some("no".to_owned()),
        serde_json::Value::String(name) => Some(name.clone()),
        _ => None,
    }
}

/// What is noted of an observation, in words.
pub(crate) fn seen_words(context: &Context<'_>, observed: &Observed, look: Observable) -> Option<String> {
    let name = seen_name(observed, look)?;
    let known = answers(look).contains(&name.as_str());
    Some(if known { context.words.text(&format!("seen-{}", name.replace('_', "-"))) } else { spoken(&name) })
}

/// What the reading with this id changed: the verdicts with it against those without it.
///
/// # Errors
/// No such bike or reading.
pub fn difference(context: &Context<'_>, bike: BikeId, id: MeasurementId) -> Result<Difference, ScreenError> {
    let situation = Situation::new(context, bike)?;
    let row = situation
        .screen
        .log
        .iter()
        .find(|row| row.id == id)
        .ok_or_else(|| ScreenError::NotThere { what: "reading", name: id.to_string() })?;
    let what = row.measurement.what;
    let unit = row.measurement.unit;
    let value = context.number(row.measurement.value, 4);
    let value = if unit == Unit::Deg { format!("{value}°") } else { format!("{value} {unit}") };
    let written = context.words.with(
        "written-down",
        &[("what", (&context.voice().quantity(what)).into()), ("value", (&value).into())],
    );
    let next = crate::standing::next_step(context, &situation);
    let Some(judged) = &situation.judged else { return Ok(Difference { text: written, next }) };
    let now = &situation.screen.record.bike;
    let mut measured = now.measured.clone();
    if let Some(place) = row.place.filter(|place| *place < measured.len()) {
        measured.remove(place);
    }
    let before = Bike { measured, ..now.clone() };
    let was = judge(context.voice(), &before, &judged.catalogue, &situation.instruments, situation.wanted)?;
    let settled = settled(context, &was, &judged.report);
    let disagree = Findings::new(now, &situation.instruments).is_contradicted(what);
    let changed = if disagree { context.words.text(Mark::Disagree.word()) } else { settled };
    Ok(Difference { text: format!("{written} {changed}"), next })
}

/// How many kits a reading settled.
fn settled(context: &Context<'_>, was: &Report, is: &Report) -> String {
    let verdict =
        |report: &Report, sku: &str| report.kits.iter().find(|kit| kit.sku == sku).map(|kit| kit.verdict);
    let open = is.kits.iter().filter(|kit| verdict(was, &kit.sku) == Some(Verdict::MeasureFirst));
    let (mut fit, mut do_not) = (0_usize, 0_usize);
    for kit in open {
        match kit.verdict {
            Verdict::GoesIn | Verdict::GoesInAfterWork => fit += 1,
            Verdict::WillNotGo => do_not += 1,
            Verdict::MeasureFirst => {}
        }
    }
    let left = is.kits.iter().filter(|kit| kit.verdict == Verdict::MeasureFirst).count();
    let id = match (fit, do_not) {
        (0, 0) => "settled-nothing",
        (_, 0) => "settled-fit",
        (0, _) => "settled-do-not-fit",
        _ => "settled-both",
    };
    context.words.with(id, &[("fit", fit.into()), ("not", do_not.into()), ("left", left.into())])
}
