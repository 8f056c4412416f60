//! Checks against the book's catalogues, and installation of kits.

use super::args::{Against, Check, Fitted, Keep};
use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::{input, output, text};
use steerwright_core::bike::Bike;
use steerwright_core::book::{BikeRow, FieldBook, KeptCheck, LogEntry, NewCheck, Op};
use steerwright_core::catalogue::Catalogue;
use steerwright_core::input::count;
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{CheckError, Options, Report, pictures};

/// A check with everything it was made of.
pub(super) struct Judged {
    row: BikeRow,
    bike: Bike,
    catalogue: Catalogue,
    instruments: Instruments,
    pub(super) report: Report,
}

/// The named maker, or the only one with a catalogue.
pub(super) fn maker(book: &FieldBook, named: Option<&str>) -> Result<String, Fault> {
    let makers = book.read().makers()?;
    let with: Vec<&str> = makers
        .iter()
        .filter(|maker| !maker.catalogues.is_empty())
        .map(|maker| maker.maker.as_str())
        .collect();
    match (named, with.as_slice()) {
        (Some(name), _) => Ok(name.to_owned()),
        (None, [only]) => Ok((*only).to_owned()),
        (None, []) => Err(Fault::Words(
            "the book has no catalogue yet; `steerwright book catalogue import FILE` imports one".to_owned(),
        )),
        (None, several) => {
            Err(Fault::Words(format!("choose a catalogue with --maker: {}", several.join(", "))))
        }
    }
}

/// The selected catalogue.
fn catalogue(book: &FieldBook, call: &Against) -> Result<Catalogue, Fault> {
    let maker = maker(book, call.maker.as_deref())?;
    Ok(book.read().catalogue(&maker, call.number)?)
}

pub(super) fn judge(
    book: &FieldBook,
    bike: &str,
    call: &Against,
    only: Option<&str>,
) -> Result<Judged, Fault> {
    let row = which::bike(book, bike)?;
    let catalogue = catalogue(book, call)?;
    judge_row(book, row, catalogue, call, only)
}

fn judge_row(
    book: &FieldBook,
    row: BikeRow,
    catalogue: Catalogue,
    call: &Against,
    only: Option<&str>,
) -> Result<Judged, Fault> {
    let bike = book.read().bike_screen(row.id)?.record.bike;
    let instruments = book.read().instruments()?;
    let options = Options {
        direction: input::direction(&call.target),
        target: input::target(&call.target),
        only: only.map(str::to_owned),
    };
    let report = steerwright_core::report::check(&bike, &catalogue, &instruments, &options);
    let report = report.map_err(|error| match error {
        CheckError::NoSuchKit { .. } | CheckError::Target { .. } => Fault::Words(error.to_string()),
    })?;
    Ok(Judged { row, bike, catalogue, instruments, report })
}

pub(super) fn check(book: &FieldBook, call: &Check, json: bool) -> Result<(), Fault> {
    let Some(bike) = &call.bike else { return check_all(book, call, json) };
    let judged = judge(book, bike, &call.against, call.kit.as_deref())?;
    if let Some(folder) = &call.drawings {
        let drawings = pictures(&judged.bike, &judged.catalogue, &judged.instruments, &judged.report);
        output::write_drawings(folder, &drawings)?;
    }
    if json {
        output::print_json(&judged.report)
    } else {
        output::print(&text::report_of_book(&judged.report, call.all_kits || call.kit.is_some()))
    }
}

/// Every bike outside the archive in one table.
fn check_all(book: &FieldBook, call: &Check, json: bool) -> Result<(), Fault> {
    let catalogue = catalogue(book, &call.against)?;
    let rows = which::every(book)?.into_iter().filter(|row| row.archived_at.is_none());
    let reports = rows
        .map(|row| Ok(judge_row(book, row, catalogue.clone(), &call.against, call.kit.as_deref())?.report))
        .collect::<Result<Vec<Report>, Fault>>()?;
    if json {
        return output::print_json(&serde_json::json!({ "reports": reports }));
    }
    output::print(&text::book::fleet(&reports))
}

pub(super) fn keep(book: &mut FieldBook, call: &Keep, json: bool) -> Result<(), Fault> {
    let judged = judge(book, &call.bike, &call.against, None)?;
    let sku = call.kit.as_deref();
    let chosen = sku.map(|sku| judged.report.kits.iter().find(|kit| kit.sku == sku));
    if let Some(None) = chosen {
        let near = judged.catalogue.nearest_sku(sku.unwrap_or_default());
        let near = near.map(|near| format!("; did you mean `{near}`?")).unwrap_or_default();
        return Err(Fault::Words(format!(
            "the check did not look at a kit `{}`{near}",
            sku.unwrap_or_default()
        )));
    }
    let checked = NewCheck {
        bike: &judged.bike,
        report: &judged.report,
        instruments: &judged.instruments,
        sku,
        who: call.who.as_deref(),
        note: &call.note,
    };
    let id = book.transact(Op::KeepCheck, |work| work.keep_check(judged.row.id, &checked))?.output;
    let checks = book.read().bike_screen(judged.row.id)?.checks;
    let number = checks.iter().rev().position(|check| check.id == id).map(|place| place + 1);
    let mut text = format!("Kept with {}", judged.row.name);
    if let Some(number) = number {
        text.push_str(&format!(" as check {number}"));
    }
    match chosen.flatten() {
        None => text.push_str(", no kit chosen."),
        Some(kit) => {
            text.push_str(&format!(": {}. {}", kit.sku, kit.text));
            let predicted = checks.iter().find(|check| check.id == id).and_then(|check| check.predicted);
            if let Some(angle) = predicted {
                text.push_str(&format!(" Head angle predicted: {}.", text::book::angle(angle)));
            }
        }
    }
    let verdict = chosen.flatten().map(|kit| kit.verdict);
    let done = Done::new(Op::KeepCheck, text).bike(&judged.row).with("check", id).with("number", number);
    done.with("kit", sku).with("verdict", verdict).print(json)
}

pub(super) fn fitted(book: &mut FieldBook, call: &Fitted, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let before = book.read().bike_screen(bike.id)?;
    let (mut checks, before_struck) = (before.checks, struck(&before.log));
    checks.reverse();
    let (number, check) = match &call.check {
        Some(named) => which::numbered(&checks, |check| check.id, "check", named)?,
        None => {
            let latest = (1..).zip(&checks).filter(|(_, check)| check.sku.is_some()).last();
            latest.ok_or_else(|| {
                let name = &bike.name;
                Fault::Words(format!(
                    "{name} has no check with a kit; `book keep BIKE --kit SKU` keeps one first"
                ))
            })?
        }
    };
    book.transact(Op::FitKit, |work| work.fit_kit(check.id, call.despite.as_deref()))?;
    let text = format!(
        "{} is in {} now (check {number}). Readings from now on count as taken with it; measure the head angle again.{}",
        sku(check),
        bike.name,
        newly_struck(book, &bike, before_struck)?
    );
    done(Op::FitKit, text, &bike, number, check).print(json)
}

pub(super) fn removed(book: &mut FieldBook, bike: &str, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, bike)?;
    let before = book.read().bike_screen(bike.id)?;
    let (mut checks, own) = (before.checks, before.record.bike.fitted);
    let before_struck = struck(&before.log);
    checks.reverse();
    let fitted = (1..).zip(&checks).find(|(_, check)| check.is_fitted());
    book.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(bike.id))?;
    let told = |kit: &str| format!("{kit} is out of {}; the bike is as it was made.", bike.name);
    if let Some((number, check)) = fitted {
        return done(Op::RemoveKit, told(sku(check)), &bike, number, check).print(json);
    }
    let kit = own.map_or_else(|| "The kit".to_owned(), |kit| kit.sku);
    let text = format!("{}{}", told(&kit), newly_struck(book, &bike, before_struck)?);
    Done::new(Op::RemoveKit, text).bike(&bike).with("kit", kit).print(json)
}

fn struck(log: &[LogEntry]) -> usize {
    log.iter().filter(|row| row.struck.is_some()).count()
}

/// What was struck out of the log because a kit went out that the bike was added with, in a sentence.
fn newly_struck(book: &FieldBook, bike: &BikeRow, before: usize) -> Result<String, Fault> {
    let more = struck(&book.read().bike_screen(bike.id)?.log).saturating_sub(before);
    let what = count(more, "measurement");
    Ok(if more == 0 {
        String::new()
    } else {
        format!(" Struck out, since taken with the kit that was in: {what}.")
    })
}

fn sku(check: &KeptCheck) -> &str {
    check.sku.as_deref().unwrap_or("The kit")
}

fn done(op: Op, text: String, bike: &BikeRow, number: usize, check: &KeptCheck) -> Done {
    Done::new(op, text).bike(bike).with("check", check.id).with("number", number).with("kit", &check.sku)
}
