//! The next due call of each request, and the record that it began.

use super::answer::{self, NextStep};
use super::back_off;
use super::messages::{self, MessageKind};
use super::outbound_call::{Body, OutboundCall, OutboundCallId};
use super::record::{self, Entry, PhotoEntry, Step};
use super::shop::{self, Shop, agreed_shop, shop_of};
use super::state::{Event, Fault, Reason, State};
use super::{catalogue, recheck, tell};
use crate::{
    BookError, FieldBook, Inner, JsonText, Op, OrderId, Reader, Screen, Timestamp, photo_file, photo_length,
    photo_path,
};
use rusqlite::{Connection, params};
use std::collections::BTreeSet;
use std::path::Path;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{self, OrderRequest};

/// A call without an outcome counts as interrupted after this time, ms.
pub(super) const LEASE: i64 = 5 * 60_000;
/// The media types that a shop may answer with: those of [`wire::JSON`] and [`wire::PROBLEM_JSON`].
pub(super) const ACCEPT: &str = "application/json, application/problem+json";
/// A time that is never reached.
pub(super) const NEVER: Timestamp = Timestamp(i64::MAX);

/// Whether a request's wait has elapsed. A wait beyond the longest one means that the clock was set back: it counts as
/// elapsed too.
fn ready(entry: &Entry, now: Timestamp) -> bool {
    let wait = entry.next_at.0.saturating_sub(now.0);
    entry.in_flight.is_none() && entry.next_at != NEVER && !(1..=back_off::MOST).contains(&wait)
}

/// When a call that began at that time counts as interrupted.
pub(super) fn lapse(began: Timestamp) -> Timestamp {
    Timestamp(began.0.saturating_add(LEASE))
}

/// Whether the call in flight counts as interrupted.
fn lapsed(entry: &Entry, now: Timestamp) -> bool {
    entry.in_flight.is_some_and(|(_, began)| now.0.abs_diff(began.0) >= LEASE.unsigned_abs())
}

fn path_of(folder: &Path, photo: PhotoHash) -> std::path::PathBuf {
    photo_path(folder, &photo.0)
}

/// Whether a photo's file exists with its full length. The shop verifies its hash.
fn is_there(folder: &Path, photo: &PhotoEntry) -> bool {
    photo_length(folder, &photo.hash.0) == Some(photo.bytes)
}

/// The first photo that is not completely at the shop yet.
fn next_photo(conn: &Connection, entry: &Entry) -> Result<Option<PhotoEntry>, Inner> {
    Ok(record::photos(conn, entry.key)?.into_iter().find(|photo| photo.arrived != Some(photo.bytes)))
}

/// The next step of a request, regardless of when it is due.
fn next_step(conn: &Connection, entry: &Entry) -> Result<Option<Step>, Inner> {
    let withdrawn = entry.delivery.state == State::Withdrawn && entry.delivery.in_doubt;
    if (entry.delivery.state == State::Delivered || withdrawn)
        && let Some(it) = messages::next(conn, entry.key)?
    {
        let message = it.told.id;
        return Ok(Some(match it.told.kind {
            MessageKind::Message => Step::Tell { message },
            MessageKind::Withdrawal => Step::Withdraw { message },
        }));
    }
    if entry.erases_at_shop() {
        return Ok(Some(Step::Erase));
    }
    if entry.erased_at.is_some() {
        return Ok(None);
    }
    match entry.delivery.state {
        State::Delivered => {
            let last = entry.shop_status.is_some_and(|word| word.is_final());
            return Ok((!last).then_some(Step::Ask));
        }
        State::Queued | State::InDoubt => {}
        _ => return Ok(None),
    }
    Ok(Some(match next_photo(conn, entry)? {
        None => Step::Send,
        Some(PhotoEntry { hash: photo, arrived: None, .. }) => Step::AskPhoto { photo },
        Some(PhotoEntry { hash: photo, arrived: Some(from), bytes, .. }) => Step::SendPhoto {
            photo,
            from,
            to: bytes.min(from.saturating_add(OrderRequest::PART_BYTES.into())),
        },
    }))
}

/// The earliest time at which a call for a request can be due; `None` if none will be unless something else changes.
fn due_from(conn: &Connection, entry: &Entry) -> Result<Option<Timestamp>, Inner> {
    if let Some((_, began)) = entry.in_flight {
        return Ok(Some(lapse(began)));
    }
    if entry.next_at == NEVER || shop_of(conn, entry)?.is_none() {
        return Ok(None);
    }
    Ok(next_step(conn, entry)?.map(|_| entry.next_at))
}

/// The next call for a request, if one is due.
fn next_call(
    conn: &Connection,
    shop: &Shop,
    entry: &Entry,
    folder: &Path,
    now: Timestamp,
) -> Result<Option<OutboundCall>, Inner> {
    if !ready(entry, now) {
        return Ok(None);
    }
    let Some(step) = next_step(conn, entry)? else { return Ok(None) };
    let mut headers = vec![("Authorization", shop.token.header())];
    let (method, path, body) = match step {
        Step::AskPhoto { photo } => ("HEAD", wire::photo_path(photo), Body::None),
        Step::SendPhoto { photo, from, to } => {
            let all = record::photos(conn, entry.key)?.into_iter().find(|it| it.hash == photo);
            let all = all.map_or(to, |it| it.bytes);
            // RFC 9110, 14.4: the range includes its last byte.
            headers.push(("Content-Range", format!("bytes {from}-{}/{all}", to.saturating_sub(1))));
            headers.push(("Content-Type", wire::JPEG.to_owned()));
            ("PUT", wire::photo_path(photo), Body::File { path: path_of(folder, photo), from, to })
        }
        Step::Send => {
            headers.push((wire::IDEMPOTENCY_KEY, wire::idempotency_key(entry.id)));
            headers.push(("Content-Type", wire::JSON.to_owned()));
            ("POST", wire::ORDER_REQUESTS.to_owned(), Body::Text(record::body(conn, entry.key)?))
        }
        Step::Ask => ("GET", wire::order_request_path(entry.id), Body::None),
        Step::Tell { message } => {
            headers.push((wire::IDEMPOTENCY_KEY, wire::message_key(message)));
            headers.push(("Content-Type", wire::JSON.to_owned()));
            let body = messages::find(conn, message)?.body.unwrap_or_default();
            ("POST", wire::messages_path(entry.id), Body::Text(body))
        }
        Step::Withdraw { .. } => ("PUT", wire::cancellation_path(entry.id), Body::None),
        Step::Erase => ("DELETE", wire::contact_path(entry.id), Body::None),
        // No request fetches a catalogue.
        Step::Catalogue => return Ok(None),
    };
    headers.push(("Accept", ACCEPT.to_owned()));
    let id = OutboundCallId::Request { order: entry.id, number: entry.calls.saturating_add(1) };
    Ok(Some(OutboundCall { id, step, method, base: shop.base.clone(), path, headers, body }))
}

/// A change that must be recorded before a call can be due.
enum Upkeep {
    Lapsed(Step),
    Judge(u32),
    /// Readings since change the verdict.
    Changed(Reason),
    Lost(PhotoHash),
    /// The photos' files are back.
    Found,
}

/// Whether every photo file of a request is readable and matches the hash in its name.
fn are_whole(conn: &Connection, entry: &Entry, folder: &Path) -> Result<bool, Inner> {
    for photo in record::photos(conn, entry.key)? {
        // A file that cannot be read counts as missing.
        if !matches!(photo_file(folder, &photo.hash.0, OrderRequest::MOST_PHOTO_BYTES), Ok(Some(_))) {
            return Ok(false);
        }
    }
    Ok(true)
}

fn upkeep(conn: &Connection, entry: &Entry, folder: &Path, now: Timestamp) -> Result<Option<Upkeep>, Inner> {
    if let Some((step, _)) = entry.in_flight {
        return Ok(lapsed(entry, now).then_some(Upkeep::Lapsed(step)));
    }
    if entry.lacks_photo {
        let back = ready(entry, now) && are_whole(conn, entry, folder)?;
        return Ok(back.then_some(Upkeep::Found));
    }
    // Without a shop there is nothing to do for a request.
    if shop_of(conn, entry)?.is_none() {
        return Ok(None);
    }
    if !ready(entry, now) || !matches!(entry.delivery.state, State::Queued | State::InDoubt) {
        return Ok(None);
    }
    // A request that the shop may have is not judged again.
    if entry.delivery.state == State::Queued
        && let Some(number) = recheck::newer(conn, entry)?
    {
        return Ok(Some(Upkeep::Judge(number)));
    }
    if entry.delivery.state == State::Queued
        && let Some((was, is)) = recheck::by_readings(conn, entry)?
    {
        return Ok(Some(Upkeep::Changed(Reason::ReadingsChanged { was, is })));
    }
    Ok(next_photo(conn, entry)?.filter(|it| !is_there(folder, it)).map(|it| Upkeep::Lost(it.hash)))
}

impl FieldBook {
    /// The calls that are due at `now`, at most one for each request and each photo, oldest first; none without a shop
    /// and the user's agreement.
    ///
    /// A request that a shop has, or may have, is bound to that shop, with the token it was sent with; any other goes
    /// to the present shop. Photos are sent first, in parts of at most [`OrderRequest::PART_BYTES`], then the request
    /// itself. Later the shop is queried for its decision, or asked to erase a contact that was erased here. The shop's
    /// catalogue precedes them all if it was requested ([`Work::fetch_catalogue`](crate::Work::fetch_catalogue)). Each
    /// call must be recorded with [`FieldBook::begin_call`] before it is sent.
    ///
    /// A call without an outcome counts as interrupted after five minutes. A request for which a newer catalogue or newer
    /// readings give another answer waits for the user from now on.
    ///
    /// # Errors
    /// Those of reading and writing.
    pub fn due(&mut self, now: Timestamp) -> Result<Vec<OutboundCall>, BookError> {
        let folder = self.read().photos_folder();
        let wanted = self.read().read(|conn| {
            for entry in record::open(conn)? {
                if upkeep(conn, &entry, &folder, now)?.is_some() {
                    return Ok(true);
                }
            }
            Ok(false)
        })?;
        if wanted {
            self.transact(Op::Order, |work| {
                work.step(|work| {
                    for entry in record::open(work.tx())? {
                        match upkeep(work.tx(), &entry, &folder, now)? {
                            None => {}
                            Some(Upkeep::Lapsed(step)) => {
                                let turn = NextStep::again(true, Fault::Interrupted);
                                answer::settle(work, &entry, step, turn, now)?;
                            }
                            Some(Upkeep::Lost(photo)) => {
                                let turn = NextStep::NoFile { photo };
                                answer::settle(work, &entry, Step::AskPhoto { photo }, turn, now)?;
                            }
                            Some(Upkeep::Found) => {
                                if let Some(to) = entry.delivery.after(Event::SendAgain) {
                                    answer::put(work, &entry, to, None, None, now)?;
                                }
                            }
                            Some(Upkeep::Changed(reason)) => {
                                if let Some(to) = entry.delivery.after(Event::AnswerChanged) {
                                    answer::put(work, &entry, to, Some(&reason), None, now)?;
                                }
                            }
                            Some(Upkeep::Judge(number)) => {
                                work.tx().execute(
                                    "UPDATE outbox SET rechecked = ?2 WHERE key = ?1",
                                    params![entry.key, number],
                                )?;
                                if let Some(reason) = recheck::changed(work.tx(), &entry, number)?
                                    && let Some(to) = entry.delivery.after(Event::AnswerChanged)
                                {
                                    answer::put(work, &entry, to, Some(&reason), None, now)?;
                                }
                            }
                        }
                    }
                    Ok(())
                })
            })?;
        }
        self.read().read(|conn| {
            let open = record::open(conn)?;
            let out = open.iter().filter_map(|entry| entry.in_flight.and_then(|(step, _)| step.photo()));
            let mut photos: BTreeSet<PhotoHash> = out.collect();
            let mut due = Vec::new();
            if let Some(shop) = agreed_shop(conn)? {
                due.extend(catalogue::next_call(conn, &shop, now)?);
            }
            for entry in open {
                if upkeep(conn, &entry, &folder, now)?.is_none()
                    && let Some(shop) = shop_of(conn, &entry)?
                    && let Some(call) = next_call(conn, &shop, &entry, &folder, now)?
                    && call.step.photo().is_none_or(|photo| photos.insert(photo))
                {
                    due.push(call);
                }
            }
            Ok(due)
        })
    }

    /// Records that a call is about to be sent. It may be sent only if this returns true. False: it is no longer due
    /// unchanged (withdrawn, another shop, begun by another program).
    ///
    /// # Errors
    /// Those of writing; the call must not be sent then.
    pub fn begin_call(&mut self, due: &OutboundCall, now: Timestamp) -> Result<bool, BookError> {
        let folder = self.read().photos_folder();
        let outcome = self.transact(Op::Order, |work| {
            work.step(|work| {
                let Some(order) = due.id.order() else { return catalogue::begin_call(work, due, now) };
                let entry = record::find(work.tx(), order)?;
                let Some(shop) = shop_of(work.tx(), &entry)? else { return Ok(false) };
                if upkeep(work.tx(), &entry, &folder, now)?.is_some()
                    || next_call(work.tx(), &shop, &entry, &folder, now)?.as_ref() != Some(due)
                {
                    return Ok(false);
                }
                if due.step == Step::Send {
                    let Some(to) = entry.delivery.after(Event::Began) else { return Ok(false) };
                    answer::put(work, &entry, to, None, None, now)?;
                    // From here on the request is bound to this shop, even if the user sets another later.
                    shop::bind(work, &entry, &shop)?;
                }
                work.tx().execute(
                    "UPDATE outbox SET calls = ?2, in_flight = ?3, began_at = ?4 WHERE key = ?1",
                    params![entry.key, due.id.number(), JsonText(&due.step), now],
                )?;
                Ok(true)
            })
        })?;
        Ok(outcome.output)
    }

    /// Makes the question for the shop's decision due now, about one request or all: the user opened a screen or asks.
    /// Only a wait that the shop asked for is kept. Also asks about requests that are no longer asked about regularly.
    ///
    /// # Errors
    /// No such request, and those of writing.
    pub fn ask_now(&mut self, order: Option<OrderId>, now: Timestamp) -> Result<(), BookError> {
        if let Some(order) = order {
            self.read().read(|conn| record::find(conn, order).map(|_| ()))?;
        }
        self.transact(Op::Order, |work| {
            work.step(|work| {
                for entry in record::open(work.tx())? {
                    if order.is_none_or(|order| order == entry.id)
                        && entry.in_flight.is_none()
                        && entry.delivery.may_be_with_shop()
                        && next_step(work.tx(), &entry)?.is_some()
                        && !(entry.erases_at_shop() && entry.next_at == NEVER)
                    {
                        tell::due_now(work, &entry, now)?;
                    }
                }
                Ok(())
            })
        })?;
        Ok(())
    }

    /// Makes requests and fetches due that were waiting only for a network: the device has one again.
    ///
    /// # Errors
    /// Those of writing.
    pub fn network_restored(&mut self, now: Timestamp) -> Result<(), BookError> {
        let waits = self.read().orders(None)?.iter().any(|order| order.fault == Some(Fault::NoNetwork));
        let fetch = self.read().catalogue_fetch()?;
        if waits || fetch.is_some_and(|fetch| fetch.fault == Some(Fault::NoNetwork)) {
            self.transact(Op::Order, |work| {
                work.step(|work| {
                    work.tx().execute(
                        "UPDATE outbox SET next_at = min(next_at, ?1)
                         WHERE in_flight IS NULL AND fault ->> 'what' = 'no_network'",
                        [now],
                    )?;
                    catalogue::network_restored(work, now)?;
                    work.touch(Screen::Orders);
                    Ok(())
                })
            })?;
        }
        Ok(())
    }
}

impl Reader {
    /// The earliest time at which [`FieldBook::due`] can have a call, as far as is known: to send, to query the shop's
    /// decision, to have a contact erased, for the catalogue, or to repeat an interrupted call. It may be in the past.
    /// `None` if nothing will be due before the user, the shop or a file changes something: nothing is pending, or
    /// there is no agreement with the shop in question.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn next_due(&self) -> Result<Option<Timestamp>, BookError> {
        self.read(|conn| {
            let mut soonest = match agreed_shop(conn)? {
                Some(_) => catalogue::due_from(conn)?,
                None => None,
            };
            for entry in record::open(conn)? {
                soonest = soonest.into_iter().chain(due_from(conn, &entry)?).min();
            }
            Ok(soonest)
        })
    }
}
