//! Rejudging a frozen request when the book has a newer catalogue of its maker, or newer readings of its bike.

use super::draft::{CheckInputs, Judged, judge};
use super::record::{self, Entry};
use super::state::{Reason, State, verdict};
use crate::{
    BikeId, BookError, Inner, OrderId, Reader, catalogue_of, current_bike, instruments, number_in_use,
};
use rusqlite::Connection;
use serde::Serialize;
use steerwright_fit::bike::Bike;
use steerwright_fit::judgement::Verdict;
use steerwright_metrology::voice::Voice;
use steerwright_protocol::wire::ShopStatus;
use steerwright_words::say;

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

/// Another verdict about a request that a shop has, by what was measured since.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct VerdictChange {
    /// The request.
    pub order: OrderId,
    /// The verdict that the shop was told.
    pub was: Verdict,
    /// The present verdict.
    pub is: Verdict,
}

impl VerdictChange {
    /// For the user, in a sentence.
    pub fn description(&self) -> String {
        self.in_words(Voice::english())
    }

    /// The same in another language.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        let (is, was) = (verdict(voice, self.is), verdict(voice, self.was));
        say!(voice, "verdict-change", is = is, was = was)
    }
}

/// The bike of a request as it is now; `None` if it is no longer in the book.
pub(super) fn bike_now(conn: &Connection, entry: &Entry) -> Result<Option<Bike>, Inner> {
    Ok(entry.bike.map(|bike| current_bike(conn, bike)).transpose()?.map(|(_, bike)| bike))
}

/// The verdict that a request was made with and the present one, if readings or observations since change it. A kit that
/// was fitted or taken out since is another bike: its readings say nothing about the request.
pub(super) fn by_readings(conn: &Connection, entry: &Entry) -> Result<Option<(Verdict, Verdict)>, Inner> {
    let Some(bike) = bike_now(conn, entry)? else { return Ok(None) };
    let before = record::thawed(&record::body(conn, entry.key)?)?;
    let same = bike.measured == before.bike.measured && bike.observed == before.bike.observed;
    if same || bike.fitted != before.bike.fitted {
        return Ok(None);
    }
    let found = &before.found;
    // Only the readings are compared: by the catalogue that the request was judged against.
    let catalogue = match catalogue_of(conn, &found.catalogue.maker, Some(found.catalogue.number)) {
        Ok(catalogue) => catalogue,
        Err(Inner::NotFound { .. }) => return Ok(None),
        Err(other) => return Err(other),
    };
    let instruments = instruments(conn)?;
    let inputs = CheckInputs { bike: &bike, catalogue: &catalogue, instruments: &instruments };
    let kit = &before.kit;
    let judged = judge(&inputs, &kit.sku, kit.direction, kit.quantity);
    Ok(judged.ok().map(|judged| (found.verdict, judged.found.verdict)).filter(|(was, is)| was != is))
}

/// The change of verdict that the shop which has a request should know of.
pub(super) fn change(conn: &Connection, entry: &Entry) -> Result<Option<VerdictChange>, Inner> {
    let ended = entry.shop_status.is_some_and(|word| word.is_final() || word == ShopStatus::Refused);
    if entry.delivery.state != State::Delivered || ended || entry.erased_at.is_some() {
        return Ok(None);
    }
    // One that was replaced is judged by the request in its place.
    let replaced: bool = conn
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM orders WHERE replaces = ?1)")?
        .query_row([entry.key], |row| row.get(0))?;
    if replaced {
        return Ok(None);
    }
    let change = by_readings(conn, entry)?;
    Ok(change.map(|(was, is)| VerdictChange { order: entry.id, was, is }))
}

impl Reader {
    /// The requests with a shop whose verdict readings since have changed: the shop should know. Of one bike or all,
    /// oldest first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn verdict_changes(&self, bike: Option<BikeId>) -> Result<Vec<VerdictChange>, BookError> {
        self.read(|conn| {
            let mut changes = Vec::new();
            for entry in record::open(conn)? {
                if bike.is_none_or(|bike| entry.bike == Some(bike)) {
                    changes.extend(change(conn, &entry)?);
                }
            }
            Ok(changes)
        })
    }
}
