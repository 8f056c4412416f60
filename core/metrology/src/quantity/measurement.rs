//! A reading of a quantity.

use super::{Dimension, Instrument, Instruments, Quantity, Unit, quantity_info};
use crate::voice::Voice;
use serde::{Deserialize, Serialize};
use steerwright_input::{FileErrors, Path, Problems, check_text, number};
use steerwright_words::say;
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
        self.check_at(&Instruments::default(), &Path::Root, &problems);
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

    /// Validates the reading at `path` of a file and records its problems: text and time, and whether unit, instrument
    /// and value match the quantity. `instruments` defines what each instrument can measure.
    pub fn check_at(&self, instruments: &Instruments, path: &Path<'_>, problems: &Problems<'_>) {
        let field = |name| Path::Field(path, name);
        if let Some(note) = &self.note {
            check_text(note, NOTE_LENGTH, &field("note"), problems);
        }
        if let Some(at) = &self.at
            && OffsetDateTime::parse(at, &Rfc3339).is_err()
        {
            let expected = Self::expects("at").unwrap_or_default();
            problems.value(&field("at"), format!("{at:?}"), expected, None);
        }
        // A file cannot contain a number that is not finite; a reading made in memory can.
        if let Some(plus_minus) =
            self.plus_minus.filter(|plus_minus| !(*plus_minus > 0.0 && plus_minus.is_finite()))
        {
            let expected = Self::expects("plus_minus").unwrap_or_default();
            problems.value(&field("plus_minus"), number(plus_minus), expected, None);
        }
        // Unit, instrument and value can be checked only for a known quantity.
        if !problems.is_sound(&field("what")) {
            return;
        }
        let info = quantity_info(self.what);
        let dimension = self.what.dimension();
        if self.unit.dimension() != dimension {
            let expected = match dimension {
                Dimension::Length => "mm, cm or in",
                Dimension::Angle => "deg",
            };
            let expected = format!("{expected} for the {}", info.label);
            problems.value(&field("unit"), format!("\"{}\"", self.unit), expected, None);
        }
        if instruments.plus_minus(self.what, self.with).is_none() {
            let fit = tools(|tool| instruments.plus_minus(self.what, tool).is_some());
            let expected = format!("a tool that measures the {}: one of {fit}", info.label);
            problems.value(&field("with"), format!("\"{}\"", self.with), expected, None);
        }
        if !problems.is_sound(&field("unit")) {
            return;
        }
        self.check_range(path, problems);
    }

    /// A question about a value that is possible and outside the usual range of its quantity: "a fork offset of 4.4 mm is
    /// outside the usual 30 to 60 mm; did you mean 44 mm?". `None` for a usual one.
    pub fn question(&self) -> Option<String> {
        self.question_in(Voice::english())
    }

    /// The same in another language.
    pub fn question_in(&self, voice: Voice<'_>) -> Option<String> {
        let info = quantity_info(self.what);
        let [low, high] = info.usual?;
        let usual = |value: f64, unit: Unit| (low..=high).contains(&(value * unit.in_base()));
        if usual(self.value, self.unit) {
            return None;
        }
        // A decimal point in the wrong place, or another unit.
        let shifted = [self.value * 10.0, self.value / 10.0].map(|value| (value, self.unit));
        let other = [Unit::Mm, Unit::Cm, Unit::In].map(|unit| (self.value, unit));
        let meant = shifted.into_iter().chain(other).find(|(value, unit)| usual(*value, *unit));
        let written = |value: f64| voice.mark(number(value));
        let meant = meant.map_or_else(
            || "none".to_owned(),
            |(value, unit)| format!("{} {unit}", written((value * 1e6).round() / 1e6)),
        );
        Some(say!(
            voice,
            "reading-question",
            what = voice.quantity(self.what),
            value = written(self.value),
            unit = self.unit.name(),
            low = written(low),
            high = written(high),
            base = self.what.base_unit().name(),
            meant = meant
        ))
    }

    /// Notes a value outside the plausible range of the quantity, and a half-width larger than that range.
    fn check_range(&self, path: &Path<'_>, problems: &Problems<'_>) {
        let info = quantity_info(self.what);
        let [low, high] = info.plausible;
        let base = self.what.base_unit();
        let written = |value: f64| {
            let plain = format!("{} {}", number(value), self.unit);
            if self.unit == base {
                plain
            } else {
                // Rounded: 4.41 in is 112.014 mm, not 112.01400000000001 mm.
                format!("{plain} ({} {base})", number((value * self.unit.in_base() * 1e6).round() / 1e6))
            }
        };
        let plausible = |value: f64, unit: Unit| (low..=high).contains(&(value * unit.in_base()));
        if !plausible(self.value, self.unit) {
            // The commonest slip is the unit: say so where another one would make sense of the number.
            // Wheels are named in inches: 29 is no length in cm there.
            let order = match self.what {
                Quantity::FrontTyreDiameter | Quantity::RearTyreDiameter => [Unit::In, Unit::Cm, Unit::Mm],
                _ => [Unit::Mm, Unit::Cm, Unit::In],
            };
            let meant = order
                .into_iter()
                .filter(|unit| unit.dimension() == self.unit.dimension() && *unit != self.unit)
                .find(|unit| plausible(self.value, *unit))
                .map(|unit| format!("{} {unit}", number(self.value)));
            let expected = format!("{} to {} {base} for the {}", number(low), number(high), info.label);
            problems.value(&Path::Field(path, "value"), written(self.value), expected, meant);
        }
        let width = high - low;
        if let Some(plus_minus) = self.plus_minus
            && plus_minus * self.unit.in_base() > width
        {
            let expected = format!("at most {} {base} for the {}", number(width), info.label);
            problems.value(&Path::Field(path, "plus_minus"), written(plus_minus), expected, None);
        }
    }
}

const NOTE_LENGTH: usize = 500;

/// The names of the instruments that pass `filter`.
fn tools(filter: impl Fn(Instrument) -> bool) -> String {
    let names: Vec<&str> =
        Instrument::ALL.into_iter().filter(|tool| filter(*tool)).map(Instrument::name).collect();
    names.join(", ")
}
