//! A reading of a quantity.

use super::{Dimension, Instrument, Instruments, Quantity, Unit, about};
use serde::{Deserialize, Serialize};
use steerwright_input::{FileErrors, Path, Problems, check_text, number};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// One reading, as recorded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// What was measured.
    pub what: Quantity,
    /// The number, in `unit`.
    pub value: f64,
    /// The unit of `value` and `plus_minus`.
    pub unit: Unit,
    /// The instrument or source.
    pub with: Instrument,
    /// Expanded uncertainty (coverage factor 2), in `unit`; absent: that of the instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plus_minus: Option<f64>,
    /// Time of the reading, RFC 3339.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// Free text, 1 to 500 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Measurement {
    /// Validates the reading as a row of a bike file. `called` is its name in error messages.
    ///
    /// # Errors
    /// Every problem of the reading at once.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, Self::expects);
        self.check_row(&Instruments::default(), &Path::Root, &problems);
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }

    /// The expected value of a field, for error messages; `None` for an unknown field.
    pub fn expects(field: &str) -> Option<String> {
        let words = match field {
            "what" => "a quantity of the measuring guide, such as head_tube_length",
            "value" => "a number in the reading's unit",
            "unit" => "one of mm, cm, in, deg",
            "with" => return Some(format!("one of {}", tools(|_| true))),
            "plus_minus" => "a number above 0, in the reading's unit",
            "at" => "a date and time such as 2026-05-01T10:30:00Z",
            "note" => "1 to 500 plain characters",
            _ => return None,
        };
        Some(words.to_owned())
    }

    /// Validates one row of a list and adds every problem under its path.
    pub fn check_row(&self, instruments: &Instruments, path: &Path<'_>, problems: &Problems<'_>) {
        check_measurement(self, instruments, path, problems);
    }
}

const NOTE_LENGTH: usize = 500;

fn tools(fit: impl Fn(Instrument) -> bool) -> String {
    let names: Vec<&str> =
        Instrument::ALL.into_iter().filter(|tool| fit(*tool)).map(Instrument::name).collect();
    names.join(", ")
}

fn check_measurement(row: &Measurement, instruments: &Instruments, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    if let Some(note) = &row.note {
        check_text(note, NOTE_LENGTH, &field("note"), problems);
    }
    if let Some(at) = &row.at
        && OffsetDateTime::parse(at, &Rfc3339).is_err()
    {
        let expected = Measurement::expects("at").unwrap_or_default();
        problems.value(&field("at"), format!("{at:?}"), expected, None);
    }
    // JSON has no NaN or infinity, but a reading made in memory may.
    if let Some(plus_minus) =
        row.plus_minus.filter(|plus_minus| !(*plus_minus > 0.0 && plus_minus.is_finite()))
    {
        let expected = Measurement::expects("plus_minus").unwrap_or_default();
        problems.value(&field("plus_minus"), number(plus_minus), expected, None);
    }
    // Unit, instrument and value can be checked only for a known quantity.
    if !problems.is_sound(&field("what")) {
        return;
    }
    let about = about(row.what);
    let dimension = row.what.dimension();
    if row.unit.dimension() != dimension {
        let expected = match dimension {
            Dimension::Length => "mm, cm or in",
            Dimension::Angle => "deg",
        };
        let expected = format!("{expected} for the {}", about.label);
        problems.value(&field("unit"), format!("\"{}\"", row.unit), expected, None);
    }
    if instruments.plus_minus(row.what, row.with).is_none() {
        let fit = tools(|tool| instruments.plus_minus(row.what, tool).is_some());
        let expected = format!("a tool that measures the {}: one of {fit}", about.label);
        problems.value(&field("with"), format!("\"{}\"", row.with), expected, None);
    }
    if !problems.is_sound(&field("unit")) {
        return;
    }
    check_range(row, path, problems);
}

fn check_range(row: &Measurement, path: &Path<'_>, problems: &Problems<'_>) {
    let about = about(row.what);
    let [low, high] = about.plausible;
    let base = row.what.base_unit();
    let written = |value: f64| {
        let plain = format!("{} {}", number(value), row.unit);
        if row.unit == base {
            plain
        } else {
            // Rounded to 1e-6: 4.41 in is 112.014 mm, not 112.01400000000001 mm.
            format!("{plain} ({} {base})", number((value * row.unit.in_base() * 1e6).round() / 1e6))
        }
    };
    let plausible = |value: f64, unit: Unit| (low..=high).contains(&(value * unit.in_base()));
    if !plausible(row.value, row.unit) {
        // A wrong unit is the commonest mistake: suggest one in which the number is plausible.
        let meant = [Unit::Mm, Unit::Cm, Unit::In]
            .into_iter()
            .filter(|unit| unit.dimension() == row.unit.dimension() && *unit != row.unit)
            .find(|unit| plausible(row.value, *unit))
            .map(|unit| format!("{} {unit}", number(row.value)));
        let expected = format!("{} to {} {base} for the {}", number(low), number(high), about.label);
        problems.value(&Path::Field(path, "value"), written(row.value), expected, meant);
    }
    let width = high - low;
    if let Some(plus_minus) = row.plus_minus
        && plus_minus * row.unit.in_base() > width
    {
        let expected = format!("at most {} {base} for the {}", number(width), about.label);
        problems.value(&Path::Field(path, "plus_minus"), written(plus_minus), expected, None);
    }
}
