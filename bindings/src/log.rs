//! Readings: add, strike out, bring back.

use crate::{Book, Changes, Instrument, MeasureUnit, Quantity, SteerwrightError};
use steerwright_core::bike::Measurement;
use steerwright_core::book::{BikeId, LogEntry, MeasurementId, Op, PhotoId, Timestamp, changes_with_a_kit};

/// A reading as taken.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Reading {
    /// What was measured.
    pub what: Quantity,
    /// Value in `unit`.
    pub value: f64,
    /// Unit of `value` and `plus_minus`.
    pub unit: MeasureUnit,
    /// The tool or source.
    pub tool: Instrument,
    /// Expanded uncertainty (half-width, k = 2) in `unit`; absent: the instrument's default.
    #[uniffi(default = None)]
    pub plus_minus: Option<f64>,
    /// When it was taken, as an RFC 3339 date and time.
    #[uniffi(default = None)]
    pub at: Option<String>,
    /// Free-text note.
    #[uniffi(default = None)]
    pub note: Option<String>,
}

/// A row of a bike's log.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LogRow {
    /// Id in the book.
    pub id: MeasurementId,
    /// The reading as recorded.
    pub reading: Reading,
    /// The person who took it.
    pub who: Option<String>,
    /// Time of recording.
    pub recorded_at: Timestamp,
    /// The photo it was taken from.
    pub photo: Option<PhotoId>,
    /// Whether it is in effect: not struck out, and taken with the parts currently installed.
    pub holds: bool,
    /// Present if the reading was struck out.
    pub struck: Option<Struck>,
}

/// When, by whom and why a reading was struck out.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Struck {
    /// Time of striking out.
    pub at: Timestamp,
    /// The person who struck it out.
    pub who: Option<String>,
    /// The reason.
    pub why: String,
}

/// Result of adding a reading.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ReadingAdded {
    /// Id in the book.
    pub id: MeasurementId,
    /// Stale screens.
    pub changes: Changes,
}

impl From<Measurement> for Reading {
    fn from(it: Measurement) -> Self {
        let Measurement { what, value, unit, with: tool, plus_minus, at, note } = it;
        Self { what, value, unit, tool, plus_minus, at, note }
    }
}

impl From<Reading> for Measurement {
    fn from(it: Reading) -> Self {
        let Reading { what, value, unit, tool: with, plus_minus, at, note } = it;
        Self { what, value, unit, with, plus_minus, at, note }
    }
}

impl From<LogEntry> for LogRow {
    fn from(row: LogEntry) -> Self {
        Self {
            id: row.id,
            reading: row.measurement.into(),
            who: row.who,
            recorded_at: row.recorded_at,
            photo: row.photo,
            holds: row.place.is_some(),
            struck: row.struck.map(|struck| Struck { at: struck.at, who: struck.who, why: struck.why }),
        }
    }
}

/// Whether readings of this quantity become invalid when another kit is installed.
#[uniffi::export]
pub fn depends_on_the_kit(what: Quantity) -> bool {
    changes_with_a_kit(what)
}

#[uniffi::export]
impl Book {
    /// Records a reading as taken, in its own unit.
    #[uniffi::method(default(who = None, photo = None))]
    pub fn add_measurement(
        &self,
        bike: BikeId,
        reading: Reading,
        who: Option<String>,
        photo: Option<PhotoId>,
    ) -> Result<ReadingAdded, SteerwrightError> {
        let reading: Measurement = reading.into();
        let done = self
            .change(Op::AddMeasurement, |work| work.add_measurement(bike, &reading, who.as_deref(), photo))?;
        Ok(ReadingAdded { id: done.output, changes: done.changes.into() })
    }

    /// Strikes a reading out: it stays in the log and no longer counts.
    #[uniffi::method(default(who = None))]
    pub fn strike_out(
        &self,
        id: MeasurementId,
        why: String,
        who: Option<String>,
    ) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::StrikeOut, |work| work.strike_out(id, who.as_deref(), &why))?.changes.into())
    }

    /// Reverts the striking out of a reading.
    pub fn bring_back(&self, id: MeasurementId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::BringBack, |work| work.bring_back(id))?.changes.into())
    }
}
