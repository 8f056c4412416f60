//! Reading, checking and writing a bike file.

use super::{Bike, FittedKit, Measurement};
use steerwright_input::{FileErrors, Limits, Path, Problems, check_schema, check_text, parse, read, rows};
use steerwright_metrology::quantity::Instruments;

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
            let measured =
                rows(&list, &path, Self::MOST_MEASURED, &problems, |row: &Measurement, _, path| {
                    row.check_at(&instruments, path, &problems);
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
            row.check_at(&instruments, &Path::Place(&path, place), &problems);
        }
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }

    /// The file's text: indented, fields in a fixed order, a line break at the end. Reading it gives an equal bike.
    pub fn to_json(&self) -> String {
        steerwright_input::pretty(self)
    }
}

const NAME_LENGTH: usize = 120;
/// As in a catalogue.
const KIT_NAME_LENGTH: usize = 500;

/// What each field expects, in words.
fn expects(field: &str) -> Option<String> {
    let words = match field {
        "schema" => "\"steerwright.bike/1\"",
        "name" | "owner" | "sku" => "1 to 120 plain characters",
        "fitted" => "the kit that is in the bike",
        "upper" | "lower" => "one half of the kit",
        "seat" => "a seat code such as IS42, ZS44 or EC34",
        "stack_mm" | "plane_mm" | "offset_mm" => "a number of mm",
        "observed" => "an object with what was seen",
        "fork_out"
        | "hoses_through_headset"
        | "steering_stop"
        | "dual_crown"
        | "cups_changed"
        | "maker_allows_pressing" => "true or false",
        "measured" => "a list of readings",
        _ => return Measurement::expects(field),
    };
    Some(words.to_owned())
}

fn check_names(bike: &Bike, problems: &Problems<'_>) {
    check_text(&bike.name, NAME_LENGTH, &Path::Field(&Path::Root, "name"), problems);
    if let Some(owner) = &bike.owner {
        check_text(owner, NAME_LENGTH, &Path::Field(&Path::Root, "owner"), problems);
    }
    if let Some(kit) = &bike.fitted {
        check_fitted(kit, &Path::Field(&Path::Root, "fitted"), problems);
    }
}

fn check_fitted(kit: &FittedKit, path: &Path<'_>, problems: &Problems<'_>) {
    /// No part of a headset lies further from its face, mm.
    const FURTHEST_MM: f64 = 60.0;
    check_text(&kit.sku, NAME_LENGTH, &Path::Field(path, "sku"), problems);
    check_text(&kit.name, KIT_NAME_LENGTH, &Path::Field(path, "name"), problems);
    for (end, half) in [("upper", &kit.upper), ("lower", &kit.lower)] {
        let path = Path::Field(path, end);
        for (field, mm) in
            [("stack_mm", half.stack_mm), ("plane_mm", half.plane_mm), ("offset_mm", half.offset_mm)]
        {
            if !(-FURTHEST_MM..=FURTHEST_MM).contains(&mm) {
                let expected = format!("-{FURTHEST_MM} to {FURTHEST_MM} mm");
                problems.value(&Path::Field(&path, field), format!("{mm} mm"), expected, None);
            }
        }
    }
}

impl Bike {
    /// The format's JSON Schema (2020-12). It knows fields, kinds and words; whether a number makes sense is for
    /// [`Bike::from_json`] to say.
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
