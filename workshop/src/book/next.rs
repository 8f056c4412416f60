//! The next things worth measuring on a bike: told, or asked one by one in a terminal.

use super::args::{Against, Measure};
use super::change;
use super::checks;
use super::measure::{self, Typed};
use super::which::{self, Named};
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use serde_json::json;
use std::collections::BTreeSet;
use std::io::{self, BufRead, IsTerminal, Write};
use steerwright_core::bike::{Observable, observing};
use steerwright_core::book::{BikeRow, FieldBook};
use steerwright_core::geometry::TyreSize;
use steerwright_core::quantity::{Instrument, Quantity, quantity_info};
use steerwright_core::screens::answers;

/// Worth knowing of any bike where no catalogue says what matters.
const BASICS: &[Quantity] = &[
    Quantity::HeadTubeLength,
    Quantity::HeadAngle,
    Quantity::Wheelbase,
    Quantity::FrontTyreDiameter,
    Quantity::RearTyreDiameter,
    Quantity::ForkOffset,
    Quantity::AxleToCrown,
    Quantity::ChainstayLength,
    Quantity::BottomBracketHeight,
    Quantity::SpacersBelow,
    Quantity::SpacersAbove,
    Quantity::StemClampHeight,
    Quantity::UpperBearingOuterDiameter,
    Quantity::LowerBearingOuterDiameter,
    Quantity::SteererLength,
    Quantity::SteererUpperDiameter,
    Quantity::SteererLowerDiameter,
    Quantity::UpperThroatDiameter,
    Quantity::LowerThroatDiameter,
];

/// One thing to find out.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Task {
    /// Its name in the bike file.
    pub(crate) what: String,
    /// Its name in a sentence.
    #[serde(skip)]
    pub(crate) label: &'static str,
    /// Why it is worth knowing, if a catalogue tells.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) text: Option<String>,
    pub(crate) minutes: f64,
    pub(crate) place: String,
    pub(crate) trap: String,
    /// The usual tool; absent for what is looked at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) with: Option<Instrument>,
    /// The answers to choose from, for what is looked at.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub(crate) answers: &'static [&'static str],
}

/// What to do next on a bike.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// The kit whose verdict waits for it.
    pub(crate) kit: Option<String>,
    pub(crate) tasks: Vec<Task>,
    /// What to say where there is nothing to measure, or where no catalogue chose.
    pub(crate) remark: Option<String>,
}

fn look(look: Observable) -> Task {
    let row = observing(look);
    Task {
        what: look.name().to_owned(),
        label: &row.label,
        text: None,
        minutes: row.minutes,
        place: row.place.clone(),
        trap: row.trap.clone(),
        with: None,
        answers: answers(look),
    }
}

fn reading(what: Quantity) -> Task {
    let row = quantity_info(what);
    Task {
        what: what.name().to_owned(),
        label: &row.label,
        text: None,
        minutes: row.minutes,
        place: row.place.clone(),
        trap: row.trap.clone(),
        with: Some(row.tool),
        answers: &[],
    }
}

fn named(what: &str) -> Option<Task> {
    let by_look = Observable::ALL.into_iter().find(|look| look.name() == what).map(look);
    by_look.or_else(|| Quantity::from_name(what).map(reading))
}

/// What to do next: by the book's catalogue what decides a kit soonest, and without one what any kit asks.
fn plan(book: &FieldBook, bike: &BikeRow, maker: Option<&str>) -> Result<Plan, Fault> {
    let any = book.read().makers()?.iter().any(|maker| !maker.catalogues.is_empty());
    if !any && maker.is_none() {
        let screen = book.read().bike_screen(bike.id)?;
        let observed = &screen.record.bike.observed;
        let looks = [Observable::UpperSeat, Observable::LowerSeat];
        let looks = looks.into_iter().filter(|what| !observed.is_known(*what)).map(look);
        let readings =
            BASICS.iter().filter(|what| screen.findings.get(**what).is_none()).map(|what| reading(*what));
        let mut tasks: Vec<Task> = looks.chain(readings).collect();
        tasks.sort_by(|one, other| one.minutes.total_cmp(&other.minutes));
        let remark = "No catalogue is in the book, so these are what any kit asks first; with `steerwright book catalogue \
                      import FILE` the list follows what decides a kit.";
        return Ok(Plan { kit: None, tasks, remark: Some(remark.to_owned()) });
    }
    let against = Against { maker: maker.map(str::to_owned), ..Against::default() };
    let report = checks::judge(book, &bike.id.to_string(), &against, None)?.report;
    let tasks: Vec<Task> = report
        .measure_next
        .iter()
        .filter_map(|next| {
            Some(Task { text: Some(next.text.clone()), minutes: next.minutes, ..named(&next.what)? })
        })
        .collect();
    let best = report.kits.first();
    let remark = match best {
        Some(best) if tasks.is_empty() => Some(format!(
            "Nothing has to be measured to decide: {}: {} `steerwright book check` shows every kit.",
            best.sku, best.text
        )),
        _ => None,
    };
    Ok(Plan { kit: best.map(|kit| kit.sku.clone()), tasks, remark })
}

pub(super) fn run(book: &mut FieldBook, call: &Measure, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    if let Some(what) = &call.what {
        return Err(Fault::Words(format!(
            "the value is missing after {what}; expected a number and its unit, such as 112 mm. `steerwright guide {what}` \
             says how to take it"
        )));
    }
    if json {
        let plan = plan(book, &bike, call.maker.as_deref())?;
        return output::print_json(&json!({
            "bike": Named::from(&bike), "kit": plan.kit, "measure_next": plan.tasks, "text": plan.remark,
        }));
    }
    if call.ask || io::stdin().is_terminal() {
        let mut answers = io::stdin().lock();
        return dialogue(book, &bike, call, &mut answers);
    }
    let plan = plan(book, &bike, call.maker.as_deref())?;
    output::print(&text::book::next(&bike.name, &plan))
}

/// A line of the user's; `None` at the end of the input.
fn line(from: &mut dyn BufRead, prompt: &str) -> Result<Option<String>, Fault> {
    let mut out = anstream::stdout().lock();
    // A closed terminal is found by the read that follows.
    let _ = write!(out, "{prompt}").and_then(|()| out.flush());
    let mut text = String::new();
    let read = from.read_line(&mut text).map_err(|error| Fault::Machine {
        doing: "reading",
        what: "standard input".to_owned(),
        error,
    })?;
    Ok((read > 0).then(|| text.trim().to_owned()))
}

/// Asks for one thing after the other, and writes each answer down at once.
fn dialogue(
    book: &mut FieldBook,
    bike: &BikeRow,
    call: &Measure,
    from: &mut dyn BufRead,
) -> Result<(), Fault> {
    let mut skipped: BTreeSet<String> = BTreeSet::new();
    let mut told = false;
    loop {
        let plan = plan(book, bike, call.maker.as_deref())?;
        if let Some(remark) = plan.remark.as_ref().filter(|_| !told) {
            output::print(&text::book::sentence(remark))?;
            told = plan.kit.is_none();
        }
        let Some(task) = plan.tasks.iter().find(|task| !skipped.contains(&task.what)) else {
            if !skipped.is_empty() {
                output::print(&text::book::sentence(
                    "What is left was skipped; call again to be asked for it.",
                ))?;
            }
            return Ok(());
        };
        output::print(&text::book::task(task))?;
        loop {
            let Some(answer) = line(from, &text::book::prompt(task))? else { return Ok(()) };
            match answer.as_str() {
                "q" | "quit" => return Ok(()),
                "" => {
                    skipped.insert(task.what.clone());
                    break;
                }
                answer => match taken(book, bike, call, task, answer, from) {
                    Ok(Some(text)) => {
                        output::print(&text::book::sentence(&text))?;
                        // A thing that stays on the list after it was answered is not asked again in this call.
                        skipped.insert(task.what.clone());
                        break;
                    }
                    Ok(None) => {}
                    Err(fault @ Fault::Words(_)) => output::remark(&format!("{fault}")),
                    Err(fault) => return Err(fault),
                },
            }
        }
    }
}

/// Writes an answer down; `None` where the user took it back.
fn taken(
    book: &mut FieldBook,
    bike: &BikeRow,
    call: &Measure,
    task: &Task,
    answer: &str,
    from: &mut dyn BufRead,
) -> Result<Option<String>, Fault> {
    let Some(tool) = task.with else {
        return Ok(Some(change::see_one(book, bike, &task.what, Some(answer))?.0));
    };
    let what = Quantity::from_name(&task.what);
    let base = what.map_or("mm", |what| what.base_unit().name());
    let mut words = answer.split_whitespace();
    let mut typed = Typed { what: &task.what, with: Some(tool.name()), ..Typed::default() };
    if TyreSize::is_written_as_one(answer) {
        typed.value = answer;
        typed.with = None;
    } else {
        typed.value = words.next().unwrap_or_default();
        let glued = typed.value.ends_with(|c: char| !c.is_ascii_digit());
        let unit = if glued { None } else { words.next().or(Some(base)) };
        typed.unit = unit;
        typed.with = words.next().or(typed.with);
    }
    let reading = measure::reading(&typed)?;
    if let Some(question) = reading.question() {
        let sure = line(from, &format!("{question} Write it down as it is? (y/n) "))?;
        if !matches!(sure.as_deref(), Some("y" | "Y" | "yes")) {
            return Ok(None);
        }
    }
    Ok(Some(measure::write(book, bike, &reading, call.who.as_deref())?.text))
}
