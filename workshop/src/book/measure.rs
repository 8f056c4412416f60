//! Writing measurements down.

use super::args::Measure;
use super::done::Done;
use super::{next, which};
use crate::fault::Fault;
use crate::text;
use serde_json::{Map, Value, json};
use steerwright_core::bike::{Bike, Measurement, Observable};
use steerwright_core::book::{BikeRow, FieldBook, MeasurementId, Op};
use steerwright_core::geometry::TyreSize;
use steerwright_core::input::typed_number;
use steerwright_core::quantity::{Instrument, Quantity, quantity_info};

/// A reading as it was typed, word by word.
#[derive(Debug, Default)]
pub(super) struct Typed<'w> {
    pub(super) what: &'w str,
    pub(super) value: &'w str,
    pub(super) unit: Option<&'w str>,
    pub(super) with: Option<&'w str>,
    pub(super) plus_minus: Option<f64>,
    pub(super) note: Option<&'w str>,
    pub(super) at: Option<&'w str>,
}

fn is_tyre(what: &str) -> bool {
    [Quantity::FrontTyreDiameter, Quantity::RearTyreDiameter].iter().any(|it| it.name() == what)
}

/// The number and the unit that may follow it without a space, as in `112mm` and `29"`.
fn split_unit(text: &str) -> (&str, Option<&str>) {
    let text = text.trim();
    let end = text.find(|c: char| c.is_alphabetic() || matches!(c, '"' | '″' | '”' | '°'));
    match end.map(|end| text.split_at(end)) {
        // "nan" and "1e3" are for the number's own reader.
        Some((value, unit))
            if value.ends_with(|c: char| c.is_ascii_digit()) && !unit.starts_with(['e', 'E']) =>
        {
            (value, Some(unit))
        }
        _ => (text, None),
    }
}

/// The reading that was typed, read as a bike file's row is: what is wrong is told in the same words.
pub(super) fn reading(typed: &Typed<'_>) -> Result<Measurement, Fault> {
    let what = typed.what.trim().to_lowercase().replace(['-', ' '], "_");
    if is_tyre(&what) && TyreSize::is_written_as_one(typed.value) {
        return by_size(&what, typed);
    }
    let (value, glued) = split_unit(typed.value);
    let value = typed_number(value).map_err(|why| Fault::Words(format!("the value {why}")))?;
    let usual = Quantity::from_name(&what).map(quantity_info);
    let unit = typed.unit.or(glued).ok_or_else(|| {
        let expected = match Quantity::from_name(&what) {
            Some(what) if what.base_unit().name() == "deg" => "deg",
            _ => "mm, cm or in",
        };
        Fault::Words(format!("the unit is missing after {value}; expected {expected}"))
    })?;
    let with = typed.with.ok_or_else(|| {
        let tool = usual.map_or("caliper", |info| info.tool.name());
        Fault::Words(format!(
            "--with is missing: the tool, or where the number is from; the usual one here is `--with {tool}`"
        ))
    })?;
    row(&what, value, unit, with, typed)
}

/// A tyre's diameter by the size on its side.
fn by_size(what: &str, typed: &Typed<'_>) -> Result<Measurement, Fault> {
    let size = TyreSize::read(typed.value).map_err(|error| Fault::Words(format!("the value {error}")))?;
    if let Some(unit) = typed.unit {
        return Err(Fault::Words(format!(
            "the tyre size `{}` has no unit, found `{unit}`",
            typed.value.trim()
        )));
    }
    if let Some(tool) =
        typed.with.filter(|tool| tool.trim().replace('-', "_") != Instrument::MakerSheet.name())
    {
        return Err(Fault::Words(format!(
            "--with {tool}: the size `{}` is printed on the tyre, and no tool reads it; leave --with out, or measure the \
             diameter",
            typed.value.trim()
        )));
    }
    let quantity = Quantity::from_name(what).unwrap_or(Quantity::FrontTyreDiameter);
    let reading = size.reading(quantity, typed.value, typed.plus_minus, typed.note);
    row(
        what,
        reading.value,
        reading.unit.name(),
        reading.with.name(),
        &Typed {
            plus_minus: reading.plus_minus,
            note: reading.note.as_deref(),
            at: typed.at,
            ..Typed::default()
        },
    )
}

fn row(what: &str, value: f64, unit: &str, with: &str, typed: &Typed<'_>) -> Result<Measurement, Fault> {
    let mut row = Map::new();
    row.insert("what".to_owned(), json!(what));
    row.insert("value".to_owned(), json!(value));
    row.insert("unit".to_owned(), json!(unit));
    row.insert("with".to_owned(), json!(with.trim().to_lowercase().replace(['-', ' '], "_")));
    if let Some(plus_minus) = typed.plus_minus {
        row.insert("plus_minus".to_owned(), json!(plus_minus));
    }
    for (name, text) in [("at", typed.at), ("note", typed.note)] {
        if let Some(text) = text {
            row.insert(name.to_owned(), Value::from(text));
        }
    }
    let file = json!({"schema": "steerwright.bike/1", "name": "a bike", "measured": [row]});
    let bike = Bike::from_json(file.to_string().as_bytes(), "the call").map_err(|errors| {
        let mut text = errors.to_string().replace("measured[0].", "");
        if Observable::ALL.iter().any(|look| look.name() == what) {
            text.push_str(&format!(
                " It is looked at, not measured: `steerwright book see BIKE {what} ANSWER`."
            ));
        }
        if is_tyre(what) && text.contains("`value`") {
            text.push_str(" The size on the tyre, such as 29x2.4 or 60-622, is accepted too.");
        }
        Fault::Words(text)
    })?;
    bike.measured.into_iter().next().ok_or_else(|| Fault::Words("a measurement is needed".to_owned()))
}

/// What was written down, in a sentence, with its id and its row in the log.
pub(super) struct Written {
    pub(super) text: String,
    pub(super) id: MeasurementId,
    pub(super) row: Option<usize>,
}

pub(super) fn write(
    book: &mut FieldBook,
    bike: &BikeRow,
    reading: &Measurement,
    who: Option<&str>,
) -> Result<Written, Fault> {
    let id =
        book.transact(Op::AddMeasurement, |work| work.add_measurement(bike.id, reading, who, None))?.output;
    let screen = book.read().bike_screen(bike.id)?;
    let row = screen.log.iter().position(|row| row.id == id).map(|place| place + 1);
    let number = row.map(|row| format!(", row {row}")).unwrap_or_default();
    let mut text = format!("Written down for {}{number}: {}.", bike.name, text::book::reading(reading));
    if let Some(note) = reading.note.as_ref().filter(|note| note.contains("bead seat")) {
        text.push_str(&format!(" From the {note}; a measured diameter is much more accurate."));
    }
    let known = screen.findings.readings(reading.what).len();
    if let (Some(all), 2..) = (screen.findings.get(reading.what), known) {
        text.push_str(&format!(
            " With the {known} readings that hold: {}.",
            text::book::estimate(reading.what, all)
        ));
    }
    Ok(Written { text, id, row })
}

pub(super) fn measure(book: &mut FieldBook, call: &Measure, json: bool) -> Result<(), Fault> {
    let (Some(what), Some(value)) = (&call.what, &call.value) else {
        return next::run(book, call, json);
    };
    // "29 x 2,4" arrives in three words.
    let spaced = call.unit.first().is_some_and(|word| word.starts_with(['x', 'X', '×']));
    let (value, unit) = match call.unit.as_slice() {
        rest if spaced => (format!("{value}{}", rest.concat()), None),
        [] => (value.clone(), None),
        [unit] => (value.clone(), Some(unit.as_str())),
        [unit, more, ..] => {
            return Err(Fault::Words(format!(
                "there is `{more}` after the unit {unit}; expected nothing more"
            )));
        }
    };
    let typed = Typed {
        what,
        value: &value,
        unit,
        with: call.with.as_deref(),
        plus_minus: call.plus_minus,
        note: call.note.as_deref(),
        at: call.at.as_deref(),
    };
    let reading = reading(&typed)?;
    if let Some(question) = reading.question().filter(|_| !call.as_read) {
        return Err(Fault::Words(format!(
            "{question}{} --as-read writes it down as it is",
            if question.ends_with('?') { "" } else { ";" }
        )));
    }
    let bike = which::bike(book, &call.bike)?;
    let Written { text, id, row } = write(book, &bike, &reading, call.who.as_deref())?;
    Done::new(Op::AddMeasurement, text).bike(&bike).with("measurement", id).with("row", row).print(json)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_may_follow_without_a_space() {
        assert_eq!(split_unit("112mm"), ("112", Some("mm")));
        assert_eq!(split_unit("4,4cm"), ("4,4", Some("cm")));
        assert_eq!(split_unit("29\""), ("29", Some("\"")));
        assert_eq!(split_unit("1e3"), ("1e3", None));
        assert_eq!(split_unit("nan"), ("nan", None));
        assert_eq!(split_unit("66.4"), ("66.4", None));
    }
}
