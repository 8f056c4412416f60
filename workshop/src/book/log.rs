//! The measurement log.

use super::args::{Measure, Row, Strike};
use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::text;
use serde_json::{Map, Value, json};
use steerwright_core::bike::{Bike, Measurement};
use steerwright_core::book::{BikeRow, FieldBook, LogEntry, Op};

/// Parses the reading with the bike file parser, so that both give the same error messages.
fn reading(call: &Measure) -> Result<Measurement, Fault> {
    let mut row = Map::new();
    let mut put = |name: &str, value: Value| row.insert(name.to_owned(), value);
    put("what", json!(call.what.replace('-', "_")));
    // JSON cannot represent NaN or infinity, so non-finite values are rejected before the conversion.
    for (name, value) in [("value", Some(call.value)), ("plus_minus", call.plus_minus)] {
        match value {
            Some(value) if !value.is_finite() => {
                return Err(Fault::Words(format!("{name} is {value}; expected a finite number")));
            }
            Some(value) => {
                put(name, json!(value));
            }
            None => {}
        }
    }
    put("unit", json!(call.unit));
    put("with", json!(call.with.replace('-', "_")));
    for (name, text) in [("at", &call.at), ("note", &call.note)] {
        if let Some(text) = text {
            put(name, json!(text));
        }
    }
    let file = json!({"schema": "steerwright.bike/1", "name": "a bike", "measured": [row]});
    let bike = Bike::from_json(file.to_string().as_bytes(), "the call")
        .map_err(|errors| Fault::Words(errors.to_string().replace("measured[0].", "")))?;
    bike.measured.into_iter().next().ok_or_else(|| Fault::Words("a measurement is needed".to_owned()))
}

pub(super) fn measure(book: &mut FieldBook, call: &Measure, json: bool) -> Result<(), Fault> {
    let reading = reading(call)?;
    let bike = which::bike(book, &call.bike)?;
    let who = call.who.as_deref();
    let id =
        book.transact(Op::AddMeasurement, |work| work.add_measurement(bike.id, &reading, who, None))?.output;
    let screen = book.read().bike_screen(bike.id)?;
    let row = screen.log.iter().position(|row| row.id == id).map(|place| place + 1);
    let number = row.map(|row| format!(", row {row}")).unwrap_or_default();
    let mut text = format!("Written down for {}{number}: {}.", bike.name, text::book::reading(&reading));
    let known = screen.findings.readings(reading.what).len();
    if let (Some(all), 2..) = (screen.findings.get(reading.what), known) {
        text.push_str(&format!(
            " With the {known} readings that hold: {}.",
            text::book::estimate(reading.what, all)
        ));
    }
    Done::new(Op::AddMeasurement, text).bike(&bike).with("measurement", id).with("row", row).print(json)
}

/// The bike and the log row named by the arguments.
fn find(book: &FieldBook, call: &Row) -> Result<(BikeRow, usize, LogEntry), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let log = book.read().bike_screen(bike.id)?.log;
    let (number, row) = which::numbered(&log, |row| row.id, "row of the log", &call.row)?;
    Ok((bike, number, row.clone()))
}

pub(super) fn strike(book: &mut FieldBook, call: &Strike, json: bool) -> Result<(), Fault> {
    let (bike, number, row) = find(book, &call.row)?;
    book.transact(Op::StrikeOut, |work| work.strike_out(row.id, call.who.as_deref(), &call.why))?;
    let text = format!(
        "Struck out of the log of {}, row {number}: {}.",
        bike.name,
        text::book::reading(&row.measurement)
    );
    Done::new(Op::StrikeOut, text).bike(&bike).with("measurement", row.id).with("row", number).print(json)
}

pub(super) fn bring_back(book: &mut FieldBook, call: &Row, json: bool) -> Result<(), Fault> {
    let (bike, number, row) = find(book, call)?;
    book.transact(Op::BringBack, |work| work.bring_back(row.id))?;
    let text =
        format!("Back in the log of {}, row {number}: {}.", bike.name, text::book::reading(&row.measurement));
    Done::new(Op::BringBack, text).bike(&bike).with("measurement", row.id).with("row", number).print(json)
}
