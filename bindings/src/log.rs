//! Readings: written down, struck out, brought back.

use crate::{Book, Changes, Instrument, MeasureUnit, Quantity, SteerwrightError};
use steerwright_core::bike::Measurement;
use steerwright_core::book::{BikeId, LogEntry, MeasurementId, Op, PhotoId, Timestamp, changes_with_a_kit};

/// A reading as it was taken.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Reading {
    /// What was measured.
    pub what: Quantity,
    /// The number, in `unit`.
    pub value: f64,
    /// The unit of `value` and `plus_minus`.
    pub unit: MeasureUnit,
    /// The tool or source.
    pub tool: Instrument,
    /// Half-width of the reading (k = 2), in `unit`; absent: the instrument's own.
    #[uniffi(default = None)]
    pub plus_minus: Option<f64>,
    /// When, as an RFC 3339 date and time.
    #[uniffi(default = None)]
    pub at: Option<String>,
    /// Anything worth remembering.
    #[uniffi(default = None)]
    pub note: Option<String>,
}

/// A row of a bike's log.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LogLine {
    /// Its name in the book.
    pub id: MeasurementId,
    /// The reading as it was written down.
    pub reading: Reading,
    /// Who took it.
    pub who: Option<String>,
    /// When it was written down.
    pub recorded_at: Timestamp,
    /// The photo it belongs to.
    pub photo: Option<PhotoId>,
    /// Whether it counts: not struck out, and taken with what is in the bike now.
    pub holds: bool,
    /// Its being struck out, if it is.
    pub struck: Option<Struck>,
}

/// A reading's being struck out.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Struck {
    /// When.
    pub at: Timestamp,
    /// By whom.
    pub who: Option<String>,
    /// Why.
    pub why: String,
}

/// A reading that was written down.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ReadingAdded {
    /// Its name in the book.
    pub id: MeasurementId,
    /// Which screens are stale.
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

impl From<LogEntry> for LogLine {
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

/// Whether readings of this say nothing any more once another kit is in the bike.
#[uniffi::export]
pub fn depends_on_the_kit(what: Quantity) -> bool {
    changes_with_a_kit(what)
}

#[uniffi::export]
impl Book {
    /// Writes a reading down, as it was taken and in its unit.
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

    /// Strikes a reading out: it stays in the log and says nothing any more.
    #[uniffi::method(default(who = None))]
    pub fn strike_out(
        &self,
        id: MeasurementId,
        why: String,
        who: Option<String>,
    ) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::StrikeOut, |work| work.strike_out(id, who.as_deref(), &why))?.changes.into())
    }

    /// Brings a reading back that was struck out.
    pub fn bring_back(&self, id: MeasurementId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::BringBack, |work| work.bring_back(id))?.changes.into())
    }
}
