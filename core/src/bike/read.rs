//! Reading, checking and writing a bike file.

use super::{Bike, Measurement};
use crate::file::{FileErrors, Limits, Path, Problems, check_schema, check_text, number, parse, read, rows};
use crate::quantity::{Dimension, Instrument, Instruments, Unit, about};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

impl Bike {
    /// The largest file that is read, in bytes.
    pub const MOST_BYTES: usize = 1 << 20;
    /// The most readings one file may hold.
    pub const MOST_MEASURED: usize = 2_000;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 50_000 };

    /// Reads a bike file (`steerwright.bike/1`, JSON in UTF-8); `file` is what the messages call it.
    ///
    /// # Errors
    /// Every problem of the file at once: unknown, missing and repeated fields, unknown words, and readings with a
    /// unit or tool that does not fit or a value outside the quantity's plausible range
    /// ([`about`]). A text that is no JSON, or is beyond the limits, gives that one problem.
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let mut tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects);
        check_schema(&tree, "steerwright.bike/1", &problems);
        if problems.is_empty() {
            let list = tree.take_list("measured").unwrap_or_default();
            let bike: Option<Self> = read(&tree, &Path::Root, &problems);
            if let Some(bike) = &bike {
                check_names(bike, &problems);
            }
            let path = Path::Field(&Path::Root, "measured");
            let instruments = Instruments::default();
            let measured = rows(&list, &path, Self::MOST_MEASURED, &problems, |row, _, path| {
                check_measurement(row, &instruments, path, &problems);
            });
            if let (true, Some(bike)) = (problems.is_empty(), bike) {
                return Ok(Self { measured, ..bike });
            }
        }
        Err(problems.into_errors())
    }

    /// Checks a bike that was made in memory as [`Bike::from_json`] checks a file; `called` is what the messages call
    /// it.
    ///
    /// # Errors
    /// Every problem of names and readings at once.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, expects);
        check_names(self, &problems);
        let path = Path::Field(&Path::Root, "measured");
        let instruments = Instruments::default();
        if self.measured.len() > Self::MOST_MEASURED {
            let (found, most) = (self.measured.len(), Self::MOST_MEASURED);
            problems.value(&path, format!("{found} readings long"), format!("at most {most}"), None);
        }
        for (place, row) in self.measured.iter().enumerate() {
            check_measurement(row, &instruments, &Path::Place(&path, place), &problems);
        }
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }

    /// The file's text: indented, fields in a fixed order, a line break at the end. Reading it gives an equal bike.
    pub fn to_json(&self) -> String {
        crate::file::pretty(self)
    }
}

impl Measurement {
    /// Checks a reading that was made in memory as [`Bike::from_json`] checks a row of a file; `called` is what the
    /// messages call it.
    ///
    /// # Errors
    /// Every problem of the reading at once.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, expects);
        check_measurement(self, &Instruments::default(), &Path::Root, &problems);
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }
}

const NAME_LENGTH: usize = 120;
const NOTE_LENGTH: usize = 500;

/// What each field expects, in words.
fn expects(field: &str) -> Option<String> {
    let words = match field {
        "schema" => "\"steerwright.bike/1\"",
        "name" | "owner" => "1 to 120 plain characters",
        "observed" => "an object with what was seen",
        "fork_out" | "hoses_through_headset" | "steering_stop" | "dual_crown" => "true or false",
        "measured" => "a list of readings",
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

fn tools(fit: impl Fn(Instrument) -> bool) -> String {
    let names: Vec<&str> =
        Instrument::ALL.into_iter().filter(|tool| fit(*tool)).map(Instrument::name).collect();
    names.join(", ")
}

fn check_names(bike: &Bike, problems: &Problems<'_>) {
    check_text(&bike.name, NAME_LENGTH, &Path::Field(&Path::Root, "name"), problems);
    if let Some(owner) = &bike.owner {
        check_text(owner, NAME_LENGTH, &Path::Field(&Path::Root, "owner"), problems);
    }
}

fn check_measurement(row: &Measurement, instruments: &Instruments, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    if let Some(note) = &row.note {
        check_text(note, NOTE_LENGTH, &field("note"), problems);
    }
    if let Some(at) = &row.at
        && OffsetDateTime::parse(at, &Rfc3339).is_err()
    {
        let expected = expects("at").unwrap_or_default();
        problems.value(&field("at"), format!("{at:?}"), expected, None);
    }
    // No file can hold a number that is not finite; a reading made in memory can.
    if let Some(plus_minus) =
        row.plus_minus.filter(|plus_minus| !(*plus_minus > 0.0 && plus_minus.is_finite()))
    {
        let expected = expects("plus_minus").unwrap_or_default();
        problems.value(&field("plus_minus"), number(plus_minus), expected, None);
    }
    // Whether unit, tool and value fit can only be said of a known quantity.
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
            // Rounded: 4.41 in is 112.014 mm, not 112.01400000000001 mm.
            format!("{plain} ({} {base})", number((value * row.unit.in_base() * 1e6).round() / 1e6))
        }
    };
    let plausible = |value: f64, unit: Unit| (low..=high).contains(&(value * unit.in_base()));
    if !plausible(row.value, row.unit) {
        // The commonest slip is the unit: say so where another one would make sense of the number.
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

#[cfg(feature = "schema")]
impl Bike {
    /// The format's JSON Schema (2020-12). It knows fields, kinds and words; whether a number makes sense is for
    /// [`Bike::from_json`] to say.
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
