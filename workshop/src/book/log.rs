//! The measurement log.

use super::args::Strike;
use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::text;
use steerwright_core::book::{BikeRow, FieldBook, LogEntry, Op};

/// The bike and the row that a call names.
fn find(book: &FieldBook, bike: &str, row: &str) -> Result<(BikeRow, usize, LogEntry), Fault> {
    let bike = which::bike(book, bike)?;
    let log = book.read().bike_screen(bike.id)?.log;
    let (number, row) = which::numbered(&log, |row| row.id, "row of the log", row)?;
    Ok((bike, number, row.clone()))
}

pub(super) fn strike(book: &mut FieldBook, call: &Strike, json: bool) -> Result<(), Fault> {
    let (bike, number, row) = find(book, &call.row.bike, &call.row.row)?;
    book.transact(Op::StrikeOut, |work| work.strike_out(row.id, call.who.as_deref(), &call.why))?;
    let text = format!(
        "Struck out of the log of {}, row {number}: {}.",
        bike.name,
        text::book::reading(&row.measurement)
    );
    Done::new(Op::StrikeOut, text).bike(&bike).with("measurement", row.id).with("row", number).print(json)
}

pub(super) fn restore(book: &mut FieldBook, bike: &str, row: &str, json: bool) -> Result<(), Fault> {
    let (bike, number, row) = find(book, bike, row)?;
    book.transact(Op::BringBack, |work| work.bring_back(row.id))?;
    let text = format!(
        "Restored in the log of {}, row {number}: {}.",
        bike.name,
        text::book::reading(&row.measurement)
    );
    Done::new(Op::BringBack, text).bike(&bike).with("measurement", row.id).with("row", number).print(json)
}
