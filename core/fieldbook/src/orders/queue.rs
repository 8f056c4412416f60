//! The user's actions on order requests: queue, change, send again, withdraw, erase.

use super::draft::{CheckInputs, Chosen, OrderDraft, judge, request};
use super::due::LEASE;
use super::recheck;
use super::record::{self, Entry};
use super::shop;
use super::state::{DeliveryState, Event, Reason, State};
use super::undo;
use crate::{
    BikeId, BookError, Inner, JsonText, OrderId, PhotoId, Reader, Screen, Timestamp, Work, catalogue_of,
    current_bike, instruments, number_in_use, photo_file, photo_row, sha256,
};
use rusqlite::{Connection, params};
use std::path::Path;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{Contact, Kind, OrderRequest};
use uuid::Uuid;

/// A chosen photo, with whether its file is sound.
fn chosen(conn: &Connection, folder: &Path, id: PhotoId) -> Result<Option<Chosen>, Inner> {
    let Some((_, row)) = photo_row(conn, id)?.filter(|(_, row)| row.removed_at.is_none()) else {
        return Ok(None);
    };
    let file = photo_file(folder, &row.working, OrderRequest::MOST_PHOTO_BYTES)?;
    let bytes = file.map(|file| file.len() as u64);
    Ok(Some(Chosen { hash: PhotoHash(row.working), bytes, note: row.note }))
}

/// Applies the user's event to a request and abandons a call in flight. `why_not` is the reason reported if the event
/// cannot happen in the request's state.
pub(super) fn moved(
    work: &mut Work<'_>,
    entry: &Entry,
    event: Event,
    why_not: &str,
) -> Result<DeliveryState, Inner> {
    let Some(to) = entry.delivery.after(event) else {
        let text = entry.delivery.state.description();
        return Err(Inner::rule("order.state", format!("the order request {} {text}: {why_not}", entry.id))
            .with("state", entry.delivery.state.name()));
    };
    let now = work.now();
    work.tx().execute(
        "UPDATE outbox SET state = ?2, in_doubt = ?3, changed_at = ?4, in_flight = NULL, began_at = NULL,
             shop = iif(?5, shop, NULL) WHERE key = ?1",
        params![entry.key, to.state.name(), to.in_doubt, now, to.may_be_with_shop()],
    )?;
    stale(work, entry.bike);
    Ok(to)
}

pub(super) fn stale(work: &mut Work<'_>, bike: Option<BikeId>) {
    work.touch(Screen::Orders);
    if let Some(bike) = bike {
        work.touch(Screen::Bike(bike));
    }
}

/// Freezes a request and puts it in the outbox, both in the transaction of `work`.
fn freeze(
    work: &mut Work<'_>,
    bike: Option<BikeId>,
    old: Option<&Entry>,
    mut request: OrderRequest,
    holds_for: u32,
) -> Result<OrderId, Inner> {
    request.id = OrderId(work.fresh_id());
    let body = serde_json::to_string(&request).map_err(|error| Inner::Stored(error.to_string()))?;
    if body.len() > OrderRequest::MOST_BYTES {
        return Err(Inner::rule(
            "order.too_large",
            "the order request is too large: the bike has too many readings and notes",
        ));
    }
    let Timestamp(now) = work.now();
    let catalogue = &request.found.catalogue;
    work.tx().execute(
        "INSERT INTO orders (id, bike, replaces, kind, maker, number, sku, quantity, made_at, body, sha256)
         VALUES (?1, (SELECT key FROM bikes WHERE id = ?2), ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        params![
            request.id,
            bike,
            old.map(|old| old.key),
            request.kind.name(),
            catalogue.maker,
            catalogue.number,
            request.kit.sku,
            request.kit.quantity,
            now,
            body,
            sha256(body.as_bytes()).as_slice()
        ],
    )?;
    let key = work.tx().last_insert_rowid();
    let DeliveryState { state, in_doubt } = DeliveryState::NEW;
    work.tx().execute(
        "INSERT INTO outbox (key, state, in_doubt, tries, next_at, calls, rechecked, changed_at)
         VALUES (?1, ?2, ?3, 0, ?4, 0, ?5, ?4)",
        params![key, state.name(), in_doubt, now, holds_for],
    )?;
    for photo in &request.photos {
        work.tx().execute(
            "INSERT INTO order_photos (request, sha256, bytes, damaged) VALUES (?1, ?2, ?3, 0)",
            params![key, photo.sha256.0.as_slice(), photo.bytes],
        )?;
    }
    undo::note_made(work.tx(), key)?;
    stale(work, bike);
    Ok(request.id)
}

/// Withdraws the old request if the shop cannot have it. Otherwise it continues, and the new one references it.
fn replace(work: &mut Work<'_>, old: &Entry) -> Result<(), Inner> {
    if old.delivery.after(Event::Withdraw).is_some() {
        moved(work, old, Event::Withdraw, "it cannot be replaced")?;
        undo::note_withdrawn(work.tx(), old.key)?;
    }
    Ok(())
}

/// The request that a draft would make now, checked.
fn drawn_up(
    conn: &Connection,
    folder: &Path,
    draft: &OrderDraft,
    replaces: Option<OrderId>,
    now: Timestamp,
) -> Result<OrderRequest, Inner> {
    let (_, bike) = current_bike(conn, draft.bike)?;
    let catalogue = catalogue_of(conn, &draft.maker, None)?;
    let instruments = instruments(conn)?;
    let photos: Vec<Option<Chosen>> = draft
        .photos
        .iter()
        // A draft with too many photos is refused anyway; their files need not be read.
        .take(OrderRequest::MOST_PHOTOS)
        .map(|id| chosen(conn, folder, *id))
        .collect::<Result<_, _>>()?;
    let inputs = CheckInputs { bike: &bike, catalogue: &catalogue, instruments: &instruments };
    request(draft, &inputs, &photos, replaces, now)
}

pub(super) fn queue(work: &mut Work<'_>, draft: &OrderDraft, old: Option<OrderId>) -> Result<OrderId, Inner> {
    let old = old.map(|old| record::find(work.tx(), old)).transpose()?;
    let request =
        drawn_up(work.tx(), &work.photos_folder(), draft, old.as_ref().map(|old| old.id), work.now())?;
    if let Some(old) = &old {
        replace(work, old)?;
    }
    let number = request.found.catalogue.number;
    freeze(work, Some(draft.bike), old.as_ref(), request, number)
}

/// Makes the same request under the catalogue in use: an order only if the new verdict allows one.
fn under_the_new_catalogue(work: &mut Work<'_>, old: &Entry) -> Result<OrderId, Inner> {
    let before = record::thawed(&record::body(work.tx(), old.key)?)?;
    let instruments = instruments(work.tx())?;
    // What was measured since goes along.
    let bike = recheck::bike_now(work.tx(), old)?.unwrap_or_else(|| before.bike.clone());
    let newest = number_in_use(work.tx(), &old.maker)?.unwrap_or(before.found.catalogue.number);
    let judged = |number| -> Result<_, Inner> {
        let catalogue = catalogue_of(work.tx(), &old.maker, Some(number))?;
        let inputs = CheckInputs { bike: &bike, catalogue: &catalogue, instruments: &instruments };
        Ok(judge(&inputs, &before.kit.sku, before.kit.direction, before.kit.quantity))
    };
    let (judged, gone) = match judged(newest)? {
        Ok(judged) => (judged, false),
        // The shop may still have a kit that its catalogue no longer lists: that is a question.
        Err(_) => match judged(before.found.catalogue.number)? {
            Ok(judged) => (judged, true),
            Err(why) => return Err(Inner::rule("order.not_judged", why)),
        },
    };
    let may = !gone && OrderRequest::may_be_ordered(judged.found.verdict);
    let request = OrderRequest {
        // The id is set when the request is frozen.
        id: OrderId(Uuid::nil()),
        replaces: Some(old.id),
        made_at: work.now(),
        kind: if may { before.kind } else { Kind::Question },
        kit: judged.kit,
        parts: if before.parts.is_empty() { Vec::new() } else { judged.parts },
        found: judged.found,
        bike,
        ..before
    };
    request.check("the order request")?;
    replace(work, old)?;
    freeze(work, old.bike, Some(old), request, newest)
}

fn send_again(work: &mut Work<'_>, id: OrderId) -> Result<OrderId, Inner> {
    let entry = record::find(work.tx(), id)?;
    if entry.delivery.state == State::Held {
        return under_the_new_catalogue(work, &entry);
    }
    let reason: Option<JsonText<Reason>> =
        work.tx().query_row("SELECT reason FROM outbox WHERE key = ?1", [entry.key], |row| row.get(0))?;
    if let Some(JsonText(reason)) = reason
        && !reason.same_again()
    {
        return Err(Inner::rule("order.correct_first", reason.description()));
    }
    moved(work, &entry, Event::SendAgain, "there is nothing to send again")?;
    // A request that the shop may have stays with it, but the user may have entered another token since.
    shop::with_the_new_token(work, &entry)?;
    work.tx().execute(
        "UPDATE outbox SET reason = NULL, fault = NULL, tries = 0, next_at = ?2 WHERE key = ?1",
        params![entry.key, work.now()],
    )?;
    // The shop is queried again for how much of a photo it has.
    work.tx()
        .execute("UPDATE order_photos SET arrived = NULL, damaged = 0 WHERE request = ?1", [entry.key])?;
    Ok(id)
}

fn erase(work: &mut Work<'_>, id: OrderId) -> Result<(), Inner> {
    let entry = record::find(work.tx(), id)?;
    if entry.erased_at.is_some() {
        return Ok(());
    }
    let underway = entry.delivery.state == State::Underway
        || entry.in_flight.is_some_and(|(step, _)| step.message().is_some());
    moved(work, &entry, Event::Erase, "its contact cannot be erased")?;
    let mut request = record::thawed(&record::body(work.tx(), entry.key)?)?;
    // Free text may identify the person, and so does the bike's owner.
    request.contact = Contact::default();
    request.note.clear();
    request.bike.owner = None;
    for photo in &mut request.photos {
        photo.note.clear();
    }
    let body = serde_json::to_string(&request).map_err(|error| Inner::Stored(error.to_string()))?;
    let now = work.now();
    work.tx().execute(
        "UPDATE orders SET body = ?2, sha256 = ?3, erased_at = ?4 WHERE key = ?1",
        params![entry.key, body, sha256(body.as_bytes()).as_slice(), now],
    )?;
    // A call in flight may still arrive: the shop is asked to erase after it ended.
    let from = Timestamp(if underway { now.0.saturating_add(LEASE) } else { now.0 });
    work.tx().execute(
        "UPDATE outbox SET reason = NULL, fault = NULL, shop_message = NULL, tries = 0, next_at = ?2 WHERE key = ?1",
        params![entry.key, from],
    )?;
    // What waited to be told is told no more, except that the request is withdrawn.
    work.tx().execute(
        "UPDATE order_messages SET body = NULL, sha256 = NULL,
             state = iif(state = 'queued' AND kind = 'message', 'taken_back', state) WHERE request = ?1",
        [entry.key],
    )?;
    work.rewrite_after()
}

impl Work<'_> {
    /// Puts an order request in the outbox, frozen in the form in which it is sent; returns its id, which the shop
    /// receives too.
    ///
    /// # Errors
    /// Everything that is missing or wrong at once, field by field; an order of a kit that does not fit or is not
    /// decided, which can only be asked about; no such bike, no catalogue of that maker.
    pub fn queue_order(&mut self, draft: &OrderDraft) -> Result<OrderId, BookError> {
        self.step(|work| queue(work, draft, None))
    }

    /// Makes a new request that replaces an old one and references it. The old one is withdrawn if the shop cannot have
    /// it.
    ///
    /// # Errors
    /// Those of [`Work::queue_order`], and no such request.
    pub fn edit_order(&mut self, old: OrderId, draft: &OrderDraft) -> Result<OrderId, BookError> {
        self.step(|work| queue(work, draft, Some(old)))
    }

    /// Sends a request that was rejected once more, when what stood in its way is fixed, or one that waits because
    /// of a newer catalogue or newer readings all the same. The latter becomes a new request with those, a question if
    /// its verdict allows no order. One that a shop may have goes to that shop again, any other to the present one. Returns
    /// the name of what is sent.
    ///
    /// # Errors
    /// No such request, one that is neither, or one that has to be changed first.
    pub fn send_order_again(&mut self, id: OrderId) -> Result<OrderId, BookError> {
        self.step(|work| send_again(work, id))
    }

    /// Erases the contact, the notes and the shop's message from a request in any state; one that is not with the shop
    /// yet is withdrawn. Its id and the ordered items stay. A shop that has it, or may have it, is asked to erase the
    /// same at the next contact. See [`Reader::erasing`](crate::Reader::erasing).
    ///
    /// # Errors
    /// No such request.
    pub fn erase_contact(&mut self, id: OrderId) -> Result<(), BookError> {
        self.step(|work| erase(work, id))
    }
}

impl Reader {
    /// The request that a draft would make at `now`, checked as [`Work::queue_order`] checks it; nothing is written.
    /// Its id is the nil UUID.
    ///
    /// # Errors
    /// Those of [`Work::queue_order`].
    pub fn try_order(&self, draft: &OrderDraft, now: Timestamp) -> Result<OrderRequest, BookError> {
        let folder = self.photos_folder();
        self.read(|conn| drawn_up(conn, &folder, draft, None, now))
    }
}
