//! Reads a user's table of instruments.

use super::{Instrument, Instruments};
use steerwright_input::{FileErrors, Limits, Path, Problems, check_text, keep_known, number, parse, read};

impl Instruments {
    /// The largest file that is read, in bytes.
    pub const MOST_BYTES: usize = 64 << 10;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 1_000 };

    /// Reads a table such as `{"caliper": {"plus_minus_mm": 0.03, "source": "calibrated in May"}}` (expanded
    /// uncertainties, coverage factor 2). Its rows replace those of the built-in table; other instruments keep theirs.
    /// `file` is the name used in error messages.
    ///
    /// # Errors
    /// Every problem of the file at once, as for a bike file.
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let mut tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects);
        keep_known(&mut tree, &Instrument::ALL.map(Instrument::name), &problems);
        let table: Option<Self> = read(&tree, &Path::Root, &problems);
        for (instrument, reach) in table.iter().flat_map(|table| &table.0) {
            let row = Path::Field(&Path::Root, instrument.name());
            let widths = [
                ("plus_minus_mm", reach.plus_minus_mm, WIDEST_MM, "mm"),
                ("plus_minus_deg", reach.plus_minus_deg, WIDEST_DEG, "degrees"),
            ];
            for (name, value, most, unit) in widths {
                if let Some(value) = value.filter(|value| !(*value > 0.0 && *value <= most)) {
                    let found = format!("{} {unit}", number(value));
                    problems.value(&Path::Field(&row, name), found, expects(name).unwrap_or_default(), None);
                }
            }
            if reach.plus_minus_mm.is_none() && reach.plus_minus_deg.is_none() {
                let expected = "plus_minus_mm, plus_minus_deg or both".to_owned();
                problems.value(&row, "without a half-width".to_owned(), expected, None);
            }
            check_text(&reach.source, SOURCE_LENGTH, &Path::Field(&row, "source"), &problems);
        }
        match table {
            Some(table) if problems.is_empty() => {
                let mut all = Self::default();
                all.0.extend(table.0);
                Ok(all)
            }
            _ => Err(problems.into_errors()),
        }
    }
}

/// The largest half-widths that are accepted.
const WIDEST_MM: f64 = 50.0;
const WIDEST_DEG: f64 = 10.0;
const SOURCE_LENGTH: usize = 300;

/// The expected value of each field, for error messages.
fn expects(field: &str) -> Option<String> {
    match field {
        "plus_minus_mm" => Some(format!("a half-width above 0 and at most {WIDEST_MM} mm")),
        "plus_minus_deg" => Some(format!("a half-width above 0 and at most {WIDEST_DEG} degrees")),
        "source" => {
            Some(format!("1 to {SOURCE_LENGTH} plain characters that say where the figure comes from"))
        }
        "" => Some("an object with an instrument's name in front of each row".to_owned()),
        _ => None,
    }
}
