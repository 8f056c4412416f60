//! The full data of one bike.

use super::error::Inner;
use super::{BikeId, BikeRecord, BookError, KeptCheck, LogEntry, OrderId, Reader, ShownPhoto, Timestamp};
use super::{bikes, checks, log, photos, settings};
use rusqlite::Connection;
use std::path::Path;
use steerwright_fit::bike::{Bike, Findings};

/// A bike with all data that a screen shows, from one snapshot.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeScreen {
    /// The present state of the bike, with the valid readings.
    pub record: BikeRecord,
    /// The findings from those readings; indices are those in `record.bike.measured`.
    pub findings: Findings,
    /// Every row of the log, oldest first, including struck-out ones.
    pub log: Vec<LogEntry>,
    /// Stored checks, the latest first.
    pub checks: Vec<KeptCheck>,
    /// Photos, oldest first.
    pub photos: Vec<ShownPhoto>,
    /// Order requests for it, the latest first.
    pub orders: Vec<OrderSummary>,
}

/// Summary of an order request for its bike's screen. Accessors for `kind`, `state` and `shop` are in the `orders`
/// module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderSummary {
    /// Its id, here and at the shop.
    pub id: OrderId,
    /// The kit's order code.
    pub sku: String,
    /// Quantity.
    pub quantity: u32,
    /// When it was queued.
    pub made_at: Timestamp,
    /// Whether the shop may have it although there is no receipt.
    pub may_be_with_shop: bool,
    /// When the contact was erased.
    pub erased_at: Option<Timestamp>,
    pub(crate) kind: String,
    pub(crate) state: String,
    pub(crate) shop_status: Option<String>,
}

fn orders(conn: &Connection, bike: i64) -> Result<Vec<OrderSummary>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT o.id, o.sku, o.quantity, o.made_at, x.in_doubt OR x.state = 'underway', o.erased_at, o.kind, x.state,
             x.shop_status
         FROM orders o JOIN outbox x ON x.key = o.key WHERE o.bike = ?1 ORDER BY o.key DESC",
    )?;
    let rows = rows.query_map([bike], |row| {
        Ok(OrderSummary {
            id: row.get(0)?,
            sku: row.get(1)?,
            quantity: row.get(2)?,
            made_at: row.get(3)?,
            may_be_with_shop: row.get(4)?,
            erased_at: row.get(5)?,
            kind: row.get(6)?,
            state: row.get(7)?,
            shop_status: row.get(8)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn screen(conn: &Connection, id: BikeId, folder: &Path) -> Result<BikeScreen, Inner> {
    let instruments = settings::instruments(conn)?;
    let (key, mut record) = bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, checks::fitted(conn, key)?)?;
    record.bike.measured = log::valid_measurements(&log);
    record.bike.fitted = checks::fitted_kit(conn, key, record.bike.fitted.take())?;
    Ok(BikeScreen {
        findings: Findings::new(&record.bike, &instruments),
        checks: checks::of_bike(conn, key, &log, &instruments)?,
        photos: photos::of_bike(conn, Some(key), folder)?,
        orders: orders(conn, key)?,
        record,
        log,
    })
}

/// A bike's present state in the form of a bike file, and its row key.
pub(crate) fn current_bike(conn: &Connection, id: BikeId) -> Result<(i64, Bike), Inner> {
    let (key, mut record) = bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, checks::fitted(conn, key)?)?;
    let fitted = checks::fitted_kit(conn, key, record.bike.fitted.take())?;
    Ok((key, Bike { measured: log::valid_measurements(&log), fitted, ..record.bike }))
}

impl Reader {
    /// A bike, archived or not, with all data that a screen shows.
    ///
    /// # Errors
    /// No such bike.
    pub fn bike_screen(&self, id: BikeId) -> Result<BikeScreen, BookError> {
        let folder = self.photos_folder();
        self.read(|conn| screen(conn, id, &folder))
    }
}
