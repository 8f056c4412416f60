//! The log of measurements: rows are added and struck out, never changed.

use super::error::Inner;
use super::stored::EnumText;
use super::text::{self, Lines};
use super::{BikeId, BookError, CheckId, MeasurementId, PhotoId, Timestamp, Work, bikes, photos};
use crate::error::Missing as _;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::{Bike, Measurement};
use steerwright_metrology::quantity::Quantity;

/// A row of the log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogEntry {
    /// Its id in the book.
    pub id: MeasurementId,
    /// The reading as it was recorded.
    pub measurement: Measurement,
    /// Who took it.
    pub who: Option<String>,
    /// When it was recorded.
    pub recorded_at: Timestamp,
    /// The photo it belongs to.
    pub photo: Option<PhotoId>,
    /// The stored check whose kit was fitted when it was taken.
    pub since: Option<CheckId>,
    /// When, by whom and why it was struck out, if it was.
    pub struck: Option<Struck>,
    /// Its index in the bike's `measured`, to which the findings refer. Absent for a row that is not valid: struck out,
    /// or of a quantity that a kit changes and taken with another kit fitted.
    #[serde(skip_serializing_if = "Option::is_none", skip_deserializing)]
    pub place: Option<usize>,
}

/// When, by whom and why a measurement was struck out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Struck {
    /// Timestamp.
    pub at: Timestamp,
    /// Person.
    pub who: Option<String>,
    /// Reason.
    pub why: String,
}

/// Whether fitting a kit changes this quantity, so that earlier readings are no longer valid.
///
/// Frame, fork and wheels stay the same; parts that the headset supports or whose height it determines do not. The
/// steerer stays too: if it is cut, it is measured again.
pub fn changes_with_a_kit(what: Quantity) -> bool {
    use Quantity as Q;
    matches!(
        what,
        Q::UpperCupOuterDiameter
            | Q::LowerCupOuterDiameter
            | Q::UpperBearingOuterDiameter
            | Q::LowerBearingOuterDiameter
            | Q::UpperBearingInnerDiameter
            | Q::LowerBearingInnerDiameter
            | Q::UpperBearingHeight
            | Q::LowerBearingHeight
            | Q::UpperBearingRecess
            | Q::UpperStack
            | Q::LowerStack
            | Q::SpacersBelow
            | Q::SpacersAbove
            | Q::CapGap
            | Q::HeadAngle
            | Q::SeatAngle
            | Q::Wheelbase
            | Q::BottomBracketHeight
            | Q::BottomBracketDrop
            | Q::Reach
            | Q::Stack
            | Q::FrontCentre
            | Q::TyreToDownTube
    )
}

fn logged(row: &Row<'_>) -> rusqlite::Result<LogEntry> {
    let struck = match row.get("struck_at")? {
        None => None,
        Some(at) => Some(Struck { at, who: row.get("struck_by")?, why: row.get("struck_why")? }),
    };
    let (EnumText(what), EnumText(unit), EnumText(with)) =
        (row.get("what")?, row.get("unit")?, row.get("tool")?);
    Ok(LogEntry {
        id: row.get("id")?,
        measurement: Measurement {
            what,
            value: row.get("value")?,
            unit,
            with,
            plus_minus: row.get("plus_minus")?,
            at: row.get("taken_at")?,
            note: row.get("note")?,
        },
        who: row.get("who")?,
        recorded_at: row.get("recorded_at")?,
        photo: row.get("photo_id")?,
        since: row.get("since_id")?,
        struck,
        place: None,
    })
}

/// A bike's log, oldest row first, each row with its index among the valid readings with the kit of check `fitted`, or
/// without a kit.
pub(super) fn of_bike(conn: &Connection, bike: i64, fitted: Option<CheckId>) -> Result<Vec<LogEntry>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT m.*, p.id AS photo_id, c.id AS since_id
         FROM measurements m LEFT JOIN photos p ON p.key = m.photo LEFT JOIN checks c ON c.key = m.since
         WHERE m.bike = ?1 ORDER BY m.recorded_at, m.key",
    )?;
    let rows = rows.query_map([bike], logged)?;
    let mut log: Vec<LogEntry> = rows.collect::<Result<_, _>>()?;
    let mut places = 0..;
    for row in &mut log {
        let same_kit = row.since == fitted || !changes_with_a_kit(row.measurement.what);
        row.place = if row.struck.is_none() && same_kit { places.next() } else { None };
    }
    Ok(log)
}

/// The valid readings of a log, in its order.
pub(super) fn valid_measurements(log: &[LogEntry]) -> Vec<Measurement> {
    log.iter().filter(|row| row.place.is_some()).map(|row| row.measurement.clone()).collect()
}

/// Inserts a row for a bike's key. It belongs to the kit that is fitted now.
pub(super) fn insert(
    work: &mut Work<'_>,
    bike: i64,
    reading: &Measurement,
    who: Option<&str>,
    photo: Option<i64>,
) -> Result<MeasurementId, Inner> {
    let id = MeasurementId(work.fresh_id());
    work.tx()
        .prepare_cached(
            "INSERT INTO measurements (id, bike, what, value, unit, tool, plus_minus, taken_at, note, who,
                 recorded_at, photo, since)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12,
                 (SELECT key FROM checks WHERE bike = ?2 AND fitted_at IS NOT NULL AND removed_at IS NULL))",
        )?
        .execute(params![
            id,
            bike,
            reading.what.name(),
            reading.value,
            reading.unit.name(),
            reading.with.name(),
            reading.plus_minus,
            reading.at,
            reading.note,
            who,
            work.now(),
            photo
        ])?;
    Ok(id)
}

fn add(
    work: &mut Work<'_>,
    bike: BikeId,
    reading: &Measurement,
    who: Option<&str>,
    photo: Option<PhotoId>,
) -> Result<MeasurementId, Inner> {
    reading.check("the measurement")?;
    let who = text::who(who)?;
    let key = bikes::key_of(work.tx(), bike)?;
    let photo = photo.map(|photo| photos::key_of(work.tx(), photo)).transpose()?;
    let count: usize = work
        .tx()
        .prepare_cached("SELECT count(*) FROM measurements WHERE bike = ?1")?
        .query_row([key], |row| row.get(0))?;
    if count >= Bike::MOST_MEASURED {
        return Err(log_full());
    }
    let id = insert(work, key, reading, who, photo)?;
    bikes::touch(work, key)?;
    Ok(id)
}

/// Bike, row key and whether it is struck out.
fn find(conn: &Connection, id: MeasurementId) -> Result<(i64, i64, bool), Inner> {
    let found = conn
        .prepare_cached("SELECT bike, key, struck_at IS NOT NULL FROM measurements WHERE id = ?1")?
        .query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .optional()?;
    found.ok_or_else(|| id.missing())
}

pub(super) fn strike(
    work: &mut Work<'_>,
    id: MeasurementId,
    who: Option<&str>,
    why: &str,
) -> Result<(), Inner> {
    let who = text::who(who)?;
    let why = text::needed("the reason", why, text::NOTE, Lines::One)?;
    let (bike, key, struck) = find(work.tx(), id)?;
    if struck {
        return Err(Inner::rule("measurement.struck_already", "the measurement is struck out already"));
    }
    work.tx()
        .prepare_cached(
            "UPDATE measurements SET struck_at = ?2, struck_by = ?3, struck_why = ?4 WHERE key = ?1",
        )?
        .execute(params![key, work.now(), who, why])?;
    bikes::touch(work, bike)
}

fn bring_back(work: &mut Work<'_>, id: MeasurementId) -> Result<(), Inner> {
    let (bike, key, struck) = find(work.tx(), id)?;
    if !struck {
        return Err(Inner::rule("measurement.not_struck", "the measurement is not struck out"));
    }
    work.tx()
        .prepare_cached(
            "UPDATE measurements SET struck_at = NULL, struck_by = NULL, struck_why = NULL WHERE key = ?1",
        )?
        .execute([key])?;
    bikes::touch(work, bike)
}

impl Work<'_> {
    /// Records a reading in its unit. If a kit is fitted, the reading counts as taken with it.
    ///
    /// # Errors
    /// No such bike or photo, or what [`Measurement::check`] refuses.
    pub fn add_measurement(
        &mut self,
        bike: BikeId,
        reading: &Measurement,
        who: Option<&str>,
        photo: Option<PhotoId>,
    ) -> Result<MeasurementId, BookError> {
        self.step(|work| add(work, bike, reading, who, photo))
    }

    /// Strikes a measurement out: it stays in the log but is no longer valid.
    ///
    /// # Errors
    /// No such measurement, it is struck out already, or no reason is given.
    pub fn strike_out(&mut self, id: MeasurementId, who: Option<&str>, why: &str) -> Result<(), BookError> {
        self.step(|work| strike(work, id, who, why))
    }

    /// Restores a measurement that was struck out.
    ///
    /// # Errors
    /// No such measurement, or it is not struck out.
    pub fn bring_back(&mut self, id: MeasurementId) -> Result<(), BookError> {
        self.step(|work| bring_back(work, id))
    }
}

/// The error for a log that would have too many rows.
pub(super) fn log_full() -> Inner {
    let most = Bike::MOST_MEASURED;
    Inner::rule("log.full", format!("a bike's log holds at most {most} rows")).with("most", most)
}
