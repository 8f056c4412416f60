//! Rejudging a frozen request when the book has a newer catalogue of its maker.

use super::draft::{CheckInputs, Judged, judge};
use super::record::{self, Entry};
use super::state::Reason;
use crate::{Inner, catalogue_of, instruments, number_in_use};
use rusqlite::Connection;

/// The number of a newer catalogue by which a request was not judged yet.
pub(super) fn newer(conn: &Connection, entry: &Entry) -> Result<Option<u32>, Inner> {
    Ok(number_in_use(conn, &entry.maker)?.filter(|number| *number > entry.rechecked))
}

/// How that catalogue changes the answer; `None` if it does not.
pub(super) fn changed(conn: &Connection, entry: &Entry, number: u32) -> Result<Option<Reason>, Inner> {
    let before = record::thawed(&record::body(conn, entry.key)?)?;
    let catalogue = catalogue_of(conn, &entry.maker, Some(number))?;
    let instruments = instruments(conn)?;
    let inputs = CheckInputs { bike: &before.bike, catalogue: &catalogue, instruments: &instruments };
    let Ok(Judged { kit, found, .. }) =
        judge(&inputs, &before.kit.sku, before.kit.direction, before.kit.quantity)
    else {
        return Ok(Some(Reason::KitGone { number }));
    };
    if found.verdict != before.found.verdict {
        return Ok(Some(Reason::VerdictChanged { was: before.found.verdict, is: found.verdict, number }));
    }
    if kit.price != before.kit.price {
        return Ok(Some(Reason::PriceChanged { was: before.kit.price, is: kit.price, number }));
    }
    Ok(None)
}
