//! Everything about one bike at once.

use super::error::Inner;
use super::{BikeId, BikeRecord, BookError, KeptCheck, Logged, Reader, ShownPhoto};
use super::{bikes, checks, log, photos, settings};
use crate::bike::{Bike, Findings};
use rusqlite::Connection;
use std::path::Path;

/// A bike with everything a screen shows of it, all of one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeScreen {
    /// The bike as it stands, with the readings that hold.
    pub record: BikeRecord,
    /// What those readings say together; places are those in `record.bike.measured`.
    pub findings: Findings,
    /// Every row of the log, oldest first, struck-out ones too.
    pub log: Vec<Logged>,
    /// Kept checks, the latest first.
    pub checks: Vec<KeptCheck>,
    /// Photos, oldest first.
    pub photos: Vec<ShownPhoto>,
}

fn screen(conn: &Connection, id: BikeId, folder: &Path) -> Result<BikeScreen, Inner> {
    let instruments = settings::instruments(conn)?;
    let (key, mut record) = bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, checks::fitted(conn, key)?)?;
    record.bike.measured = log::holding(&log);
    Ok(BikeScreen {
        findings: Findings::new(&record.bike, &instruments),
        checks: checks::of_bike(conn, key, &log, &instruments)?,
        photos: photos::of_bike(conn, Some(key), folder)?,
        record,
        log,
    })
}

/// A bike as a bike file would say it now, and its row's number.
pub(crate) fn as_it_stands(conn: &Connection, id: BikeId) -> Result<(i64, Bike), Inner> {
    let (key, record) = bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, checks::fitted(conn, key)?)?;
    Ok((key, Bike { measured: log::holding(&log), ..record.bike }))
}

impl Reader {
    /// A bike, archived or not, with everything a screen shows of it.
    ///
    /// # Errors
    /// No such bike.
    pub fn bike_screen(&self, id: BikeId) -> Result<BikeScreen, BookError> {
        let folder = self.photos_folder();
        self.read(|conn| screen(conn, id, &folder))
    }
}
