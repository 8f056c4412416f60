//! Samples as a table of comma-separated values: `reading,bike,pose,time_s,x,y,z`.
//!
//! One row is one sample. Successive rows with the same `reading` are one reading; `reading` is any word. `bike` is
//! `one_way` or `other_way`, `pose` is `along`, `lean_left` or `lean_right`, `time_s` is in seconds and increases
//! within a reading, `x`, `y`, `z` are the specific force in m/s². Columns may be in any order; other columns are
//! ignored.

use super::{Bearing, Pose, Reading, Sample, Session, Still, Unsteady};
use csv::{ByteRecord, ReaderBuilder, Trim};
use steerwright_input::{CsvError, CsvErrors, nearest, shown};
use steerwright_metrology::quantity::Quantity;

/// Samples of a session, reading by reading.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    readings: Vec<Rows>,
}

#[derive(Debug, Clone, PartialEq)]
struct Rows {
    name: String,
    /// The row of its first sample, as a spreadsheet counts.
    row: u64,
    bearing: Bearing,
    pose: Pose,
    time: f64,
    samples: Vec<Sample>,
}

/// Why a table gives no session.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// Cells are wrong.
    #[error("{0}")]
    Cells(CsvErrors),
    /// A reading was not steady.
    #[error("reading `{name}` (from row {row}): {why}")]
    Unsteady {
        /// The reading's name.
        name: String,
        /// Its first row.
        row: u64,
        /// What is wrong with it.
        why: Unsteady,
    },
}

const COLUMNS: [&str; 7] = ["reading", "bike", "pose", "time_s", "x", "y", "z"];

impl Table {
    /// Greatest size of a table, bytes.
    pub const MOST_BYTES: usize = 64 << 20;
    /// The greatest component of a sample, m/s²: 16 g.
    const MOST: f64 = 160.0;

    /// Reads a table.
    ///
    /// # Errors
    /// Every wrong cell with its row and column, or what is wrong with the table as a whole.
    pub fn read(bytes: &[u8]) -> Result<Self, CsvErrors> {
        if bytes.len() > Self::MOST_BYTES {
            return Err(CsvErrors::whole(
                format!("the table has {} bytes", bytes.len()),
                format!("at most {}", Self::MOST_BYTES),
            ));
        }
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let mut reader =
            ReaderBuilder::new().has_headers(false).flexible(true).trim(Trim::All).from_reader(bytes);
        let (mut record, mut places, mut table) = (ByteRecord::new(), None, Self::default());
        let mut errors = CsvErrors::default();
        let mut row = 0;
        let whole = |error: csv::Error| CsvErrors::whole(error.to_string(), "comma-separated values");
        while reader.read_byte_record(&mut record).map_err(whole)? {
            row += 1;
            let Ok(cells) = record.iter().map(std::str::from_utf8).collect::<Result<Vec<_>, _>>() else {
                return Err(CsvErrors::whole(
                    format!("row {row} is no UTF-8 text"),
                    "a table saved as CSV UTF-8",
                ));
            };
            match &places {
                None => places = Some(header(&cells)?),
                Some(places) => table.take(row, &cells, places, &mut errors),
            }
        }
        if places.is_none() {
            return Err(CsvErrors::whole(
                "there is nothing in the table",
                "a first line with the columns' names",
            ));
        }
        if table.readings.is_empty() && errors.is_empty() {
            return Err(CsvErrors::whole(
                "there are no samples in the table",
                "rows below the columns' names",
            ));
        }
        if errors.is_empty() { Ok(table) } else { Err(errors) }
    }

    fn take(&mut self, row: u64, cells: &[&str], places: &[usize; 7], errors: &mut CsvErrors) {
        let mut wrong = false;
        let mut note = |column: &str, cell: &str, expected: String, meant: Option<&str>| {
            wrong = true;
            errors.push(CsvError {
                row: Some(row),
                column: Some(column.to_owned()),
                found: shown(cell),
                expected,
                did_you_mean: meant.map(|word| format!("`{word}`")),
            });
        };
        let [name, bike, pose, time, x, y, z] = places.map(|place| cells.get(place).copied().unwrap_or(""));
        if name.is_empty() {
            note("reading", name, "the reading's name".to_owned(), None);
        }
        let bearing = Bearing::ALL.into_iter().find(|it| it.name() == bike);
        if bearing.is_none() {
            let names = Bearing::ALL.map(Bearing::name);
            note("bike", bike, format!("one of {}", names.join(", ")), nearest(bike, &names));
        }
        let posed = Pose::ALL.into_iter().find(|it| it.name() == pose);
        if posed.is_none() {
            let names = Pose::ALL.map(Pose::name);
            note("pose", pose, format!("one of {}", names.join(", ")), nearest(pose, &names));
        }
        let number = |cell: &str| cell.parse::<f64>().ok().filter(|number| number.is_finite());
        let axes = [("x", x), ("y", y), ("z", z)].map(|(column, cell)| {
            let value = number(cell).filter(|value| value.abs() <= Self::MOST);
            if value.is_none() {
                note(column, cell, format!("a number of m/s² within ±{}", Self::MOST), None);
            }
            value
        });
        let seconds = number(time);
        if seconds.is_none() {
            note("time_s", time, "a number of seconds".to_owned(), None);
        }
        let current = self.readings.last().filter(|rows| rows.name == name);
        if let (Some(rows), Some(seconds)) = (current, seconds) {
            if seconds <= rows.time {
                note("time_s", time, format!("more than {}, the time of the sample before", rows.time), None);
            }
            for (column, cell, before, now) in [
                ("bike", bike, rows.bearing.name(), bearing.map(Bearing::name)),
                ("pose", pose, rows.pose.name(), posed.map(Pose::name)),
            ] {
                if now.is_some_and(|now| now != before) {
                    note(column, cell, format!("{before}, as in the rows before of the same reading"), None);
                }
            }
        } else if self.readings.iter().any(|rows| rows.name == name) {
            note("reading", name, "a name that no earlier reading has".to_owned(), None);
        }
        if wrong {
            return;
        }
        let (Some(bearing), Some(pose), Some(time), [Some(x), Some(y), Some(z)]) =
            (bearing, posed, seconds, axes)
        else {
            return;
        };
        let sample = Sample::new(x, y, z);
        match self.readings.last_mut().filter(|rows| rows.name == name) {
            Some(rows) => {
                rows.time = time;
                rows.samples.push(sample);
            }
            None => self.readings.push(Rows {
                name: name.to_owned(),
                row,
                bearing,
                pose,
                time,
                samples: vec![sample],
            }),
        }
    }

    /// The names of the readings, in their order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.readings.iter().map(|rows| rows.name.as_str())
    }

    /// The session of these samples.
    ///
    /// # Errors
    /// A reading that was not steady.
    pub fn session(&self, what: Quantity) -> Result<Session, TableError> {
        let still = |rows: &Rows| {
            let still = Still::of(&rows.samples).map_err(|why| TableError::Unsteady {
                name: rows.name.clone(),
                row: rows.row,
                why,
            })?;
            Ok(Reading { bearing: rows.bearing, pose: rows.pose, still })
        };
        Ok(Session { what, readings: self.readings.iter().map(still).collect::<Result<_, _>>()? })
    }
}

/// The index of each column.
fn header(cells: &[&str]) -> Result<[usize; 7], CsvErrors> {
    let mut errors = CsvErrors::default();
    let places = COLUMNS.map(|column| {
        let mut found = cells.iter().enumerate().filter(|(_, cell)| cell.eq_ignore_ascii_case(column));
        let (first, second) = (found.next(), found.next());
        let problem = match (first, second) {
            (Some(_), None) => None,
            (Some(_), Some(_)) => Some("is there twice"),
            (None, _) => Some("is missing"),
        };
        if let Some(problem) = problem {
            errors.push(CsvError {
                row: Some(1),
                column: Some(column.to_owned()),
                found: problem.to_owned(),
                expected: format!("the columns {}", COLUMNS.join(", ")),
                did_you_mean: None,
            });
        }
        first.map_or(0, |(place, _)| place)
    });
    if errors.is_empty() { Ok(places) } else { Err(errors) }
}
