//! The outcome of a call to a shop and its effect on the request.

use super::back_off;
use super::catalogue;
use super::due::NEVER;
use super::messages::{self, MessageState};
use super::outbound_call::{Answer, CallOutcome, OutboundCallId};
use super::record::{self, Entry, Step};
use super::shop;
use super::state::{DeliveryState, Event, Fault, Reason};
use crate::{
    BookError, FieldBook, Inner, JsonText, MessageId, Op, Outcome, Screen, Timestamp, Work, photo_file,
};
use rusqlite::params;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{
    self, Cancellation, CancellationOutcome, OrderRequest, Problem, ProblemKind, Receipt, ShopStatus,
};

/// A photo counts as refused once the shop discarded it this many times.
const MOST_DAMAGED: u32 = 3;
/// The most characters of a shop's message that are stored.
const MOST_WORDS: usize = 2_000;

/// The effect of a call's outcome.
pub(super) enum NextStep {
    /// The shop has the request.
    Received(Receipt),
    /// The shop's decision on a request it has.
    Told(Receipt),
    /// The shop has a message about a request.
    Said { message: MessageId, receipt: Receipt },
    /// The shop's answer to a withdrawal.
    Cancelled { message: MessageId, told: Cancellation },
    /// The shop has this many bytes of a photo.
    Arrived { photo: PhotoHash, bytes: u64 },
    /// The shop has no contact for the request, or no longer has one.
    Erased,
    /// The shop discarded photos, or never had them.
    Thrown { photos: Vec<PhotoHash> },
    /// An automatic retry.
    Again {
        /// Whether the shop may have accepted the data sent.
        unknown: bool,
        /// The fault.
        fault: Fault,
        /// The wait the shop asked for, ms.
        asked: Option<i64>,
    },
    /// A photo's file is missing or cannot be read on this device.
    NoFile { photo: PhotoHash },
    /// A retry of the unchanged request will not help.
    Never(Reason),
}

impl NextStep {
    pub(super) fn again(unknown: bool, fault: Fault) -> Self {
        Self::Again { unknown, fault, asked: None }
    }
}

pub(super) fn words(text: &str) -> String {
    steerwright_input::printable_lines(text).chars().take(MOST_WORDS).collect()
}

/// The problem that a shop's answer describes, if any.
pub(super) fn problem(answer: &Answer) -> Option<Problem> {
    let kind = answer.header("Content-Type").unwrap_or_default();
    let kind = kind.split(';').next().unwrap_or_default().trim();
    let whole = answer.body.len() <= Answer::MOST_BYTES;
    let told = kind.eq_ignore_ascii_case(wire::PROBLEM_JSON) && whole;
    told.then(|| serde_json::from_slice(&answer.body).ok()).flatten()
}

fn receipt(answer: &Answer, entry: &Entry) -> Option<Receipt> {
    let whole = answer.body.len() <= Answer::MOST_BYTES;
    let read: Receipt = whole.then(|| serde_json::from_slice(&answer.body).ok()).flatten()?;
    (read.id == entry.id).then_some(read)
}

fn cancellation(answer: &Answer, entry: &Entry) -> Option<Cancellation> {
    let whole = answer.body.len() <= Answer::MOST_BYTES;
    let read: Cancellation = whole.then(|| serde_json::from_slice(&answer.body).ok()).flatten()?;
    let state = read.receipt.as_ref().map(|receipt| (receipt.id == entry.id, receipt.state));
    use CancellationOutcome as C;
    let sound = match (read.outcome, state) {
        (C::Unknown, None) => true,
        (C::TooLate, Some((true, word))) => word.delivers(),
        (C::Accepted, Some((true, word))) => {
            matches!(word, ShopStatus::Refused | ShopStatus::Withdrawn | ShopStatus::Cancelled)
        }
        _ => false,
    };
    sound.then_some(read)
}

fn offset(answer: &Answer) -> Option<u64> {
    let text = answer.header(wire::UPLOAD_OFFSET)?;
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

/// The effect of an outcome. Statuses are those of RFC 9110, 15; the problem's type distinguishes further.
fn meaning(entry: &Entry, step: Step, photo_bytes: u64, outcome: &CallOutcome, now: Timestamp) -> NextStep {
    let answer = match outcome {
        CallOutcome::NoNetwork => return NextStep::again(false, Fault::NoNetwork),
        CallOutcome::NotReached => return NextStep::again(false, Fault::NotReached),
        CallOutcome::Tls => return NextStep::again(false, Fault::Tls),
        CallOutcome::Timeout => return NextStep::again(true, Fault::Timeout),
        CallOutcome::ConnectionLost => return NextStep::again(true, Fault::ConnectionLost),
        CallOutcome::NoFile => {
            // Only photos are read from files.
            let lost = step.photo().map(|photo| NextStep::NoFile { photo });
            return lost.unwrap_or(NextStep::again(true, Fault::ConnectionLost));
        }
        CallOutcome::Answer(answer) => answer,
    };
    let status = answer.status;
    let no_sense = || NextStep::again(true, Fault::NoSense { status });
    if (200..300).contains(&status) {
        let turn = match step {
            Step::Send if status <= 201 => receipt(answer, entry).map(NextStep::Received),
            Step::Ask => receipt(answer, entry).map(NextStep::Told),
            Step::Tell { message } if status <= 201 => {
                receipt(answer, entry).map(|receipt| NextStep::Said { message, receipt })
            }
            Step::Withdraw { message } => {
                cancellation(answer, entry).map(|told| NextStep::Cancelled { message, told })
            }
            Step::Erase => Some(NextStep::Erased),
            Step::AskPhoto { photo } => offset(answer).map(|bytes| NextStep::Arrived { photo, bytes }),
            Step::SendPhoto { photo, .. } if status == 202 => {
                offset(answer).map(|bytes| NextStep::Arrived { photo, bytes })
            }
            Step::SendPhoto { photo, .. } => Some(NextStep::Arrived { photo, bytes: photo_bytes }),
            Step::Send | Step::Tell { .. } | Step::Catalogue => None,
        };
        // A shop cannot have more bytes of a photo than it has.
        return match turn {
            Some(NextStep::Arrived { bytes, .. }) if bytes > photo_bytes => no_sense(),
            Some(turn) => turn,
            None => no_sense(),
        };
    }
    refusal(step, photo_bytes, answer, now).unwrap_or_else(no_sense)
}

/// The effect of an answer that is not a success; `None` if the protocol does not define it.
fn refusal(step: Step, photo_bytes: u64, answer: &Answer, now: Timestamp) -> Option<NextStep> {
    let status = answer.status;
    let told = problem(answer);
    let kind = told.as_ref().and_then(Problem::known).filter(|kind| kind.status() == status);
    let detail = told.as_ref().and_then(|it| it.detail.as_deref()).map(words);
    let photo = step.photo();
    let busy = |unknown, detail| {
        let asked = answer.header("Retry-After").and_then(|value| back_off::retry_after(value, now));
        NextStep::Again { unknown, fault: Fault::Busy { status, detail }, asked }
    };
    let turn = match (status, step, kind) {
        // The shop states that it did nothing; a plain 503 can come from any intermediary.
        (429, ..) | (503, _, Some(ProblemKind::Unavailable)) => busy(false, detail),
        (408 | 409 | 425 | 500..=599, ..) => busy(true, detail),
        (404, Step::AskPhoto { photo }, _) => NextStep::Arrived { photo, bytes: 0 },
        (404, Step::Tell { .. }, Some(ProblemKind::NotFound)) => NextStep::Never(Reason::NotAtShop),
        (300..=399 | 404 | 405 | 410, ..) => NextStep::Never(Reason::Address { status }),
        (401 | 403, ..) => NextStep::Never(Reason::Token),
        (413, ..) => NextStep::Never(Reason::TooLarge { photo }),
        (416, Step::SendPhoto { photo, .. }, _) => match offset(answer).filter(|it| *it <= photo_bytes) {
            Some(bytes) => NextStep::Arrived { photo, bytes },
            None => NextStep::again(true, Fault::NoSense { status }),
        },
        (422, Step::SendPhoto { photo, .. }, Some(ProblemKind::PhotoDamaged)) => {
            NextStep::Thrown { photos: vec![photo] }
        }
        // Also a problem of an unknown type, and `PhotoTells`: a retry would send the same picture.
        (415 | 422, Step::SendPhoto { photo, .. } | Step::AskPhoto { photo }, _) => {
            NextStep::Never(Reason::PhotoRefused { photo })
        }
        (422, Step::Send, Some(ProblemKind::PhotoMissing)) => {
            NextStep::Thrown { photos: told.map(|it| it.photos).unwrap_or_default() }
        }
        (422, Step::Send | Step::Tell { .. }, Some(ProblemKind::KeyReused)) => {
            NextStep::Never(Reason::KeyReused)
        }
        (422, Step::Send, Some(ProblemKind::KitUnknown)) => NextStep::Never(Reason::KitUnknown),
        (422, Step::Send | Step::Tell { .. }, Some(ProblemKind::Invalid)) => {
            let errors = told.map(|it| it.errors).unwrap_or_default();
            let errors = errors
                .into_iter()
                .take(50)
                .map(|it| wire::FieldProblem { field: words(&it.field), text: words(&it.text) });
            NextStep::Never(Reason::Invalid { detail, errors: errors.collect() })
        }
        (400..=499, ..) => NextStep::Never(Reason::Other { status, detail }),
        _ => return None,
    };
    Some(turn)
}

/// Writes the state of a request and clears its call in flight.
pub(super) fn put(
    work: &mut Work<'_>,
    entry: &Entry,
    to: DeliveryState,
    reason: Option<&Reason>,
    fault: Option<&Fault>,
    now: Timestamp,
) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE outbox SET state = ?2, in_doubt = ?3, reason = ?4, fault = ?5, in_flight = NULL, began_at = NULL,
             changed_at = ?6, shop = iif(?7, shop, NULL) WHERE key = ?1",
        params![
            entry.key,
            to.state.name(),
            to.in_doubt,
            reason.map(JsonText),
            fault.map(JsonText),
            now,
            to.may_be_with_shop()
        ],
    )?;
    work.touch(Screen::Orders);
    if let Some(bike) = entry.bike {
        work.touch(Screen::Bike(bike));
    }
    Ok(())
}

fn next(work: &Work<'_>, entry: &Entry, tries: u32, at: Timestamp) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE outbox SET tries = ?2, next_at = ?3 WHERE key = ?1",
        params![entry.key, tries, at],
    )?;
    Ok(())
}

/// Stores the shop's decision, its number of the request and its contact.
fn word(work: &Work<'_>, entry: &Entry, receipt: &Receipt) -> Result<(), Inner> {
    let contact = receipt.contact.as_deref().map(words);
    let contact = contact.map(|it| it.chars().take(Receipt::MOST_CONTACT).collect::<String>());
    work.tx().execute(
        "UPDATE outbox SET shop_status = ?2, shop_message = ?3, shop_since = ?4, shop_number = ?5, shop_contact = ?6
         WHERE key = ?1",
        params![
            entry.key,
            receipt.state.name(),
            receipt.message.as_deref().map(words),
            receipt.since,
            i64::try_from(receipt.number).ok().filter(|number| *number > 0),
            contact.filter(|it| !it.trim().is_empty())
        ],
    )?;
    Ok(())
}

/// Applies the outcome of a call.
pub(super) fn settle(
    work: &mut Work<'_>,
    entry: &Entry,
    step: Step,
    turn: NextStep,
    now: Timestamp,
) -> Result<(), Inner> {
    // Only the call that sends the request changes its state.
    let sending = step == Step::Send;
    let stay =
        |event| if sending { entry.delivery.after(event).unwrap_or(entry.delivery) } else { entry.delivery };
    match turn {
        NextStep::Received(receipt) => {
            put(work, entry, stay(Event::Received), None, None, now)?;
            word(work, entry, &receipt)?;
            work.tx()
                .execute("UPDATE outbox SET delivered_at = ?2 WHERE key = ?1", params![entry.key, now])?;
            next(work, entry, 0, after_contact(work, entry, asking(&receipt, now, now), now)?)
        }
        NextStep::Told(receipt) => {
            put(work, entry, entry.delivery, None, None, now)?;
            word(work, entry, &receipt)?;
            let asks = asking(&receipt, now, entry.delivered_at.unwrap_or(now));
            next(work, entry, 0, after_contact(work, entry, asks, now)?)
        }
        NextStep::Said { message, receipt } => {
            put(work, entry, entry.delivery, None, None, now)?;
            word(work, entry, &receipt)?;
            let message = messages::find(work.tx(), message)?;
            messages::put(work.tx(), message.key, MessageState::Sent, None, None, Some(now))?;
            let asks = asking(&receipt, now, entry.delivered_at.unwrap_or(now));
            next(work, entry, 0, after_contact(work, entry, asks, now)?)
        }
        NextStep::Cancelled { message, told } => cancelled(work, entry, message, &told, now),
        NextStep::Arrived { photo, bytes } => {
            let on = match step {
                Step::SendPhoto { from, .. } => bytes > from,
                _ => true,
            };
            work.tx().execute(
                "UPDATE order_photos SET arrived = ?3 WHERE request = ?1 AND sha256 = ?2",
                params![entry.key, photo.0.as_slice(), bytes],
            )?;
            if on {
                put(work, entry, entry.delivery, None, None, now)?;
                // A received part counts as a success; a query of how much has arrived does not.
                let tries = if matches!(step, Step::SendPhoto { .. }) { 0 } else { entry.tries };
                return next(work, entry, tries, now);
            }
            once_more(work, entry, entry.delivery, &Fault::Photos, None, now)
        }
        NextStep::Erased => {
            put(work, entry, entry.delivery, None, None, now)?;
            next(work, entry, 0, after_contact(work, entry, NEVER, now)?)
        }
        NextStep::Thrown { photos } => thrown(work, entry, step, &photos, now),
        NextStep::Again { unknown, fault, asked } => {
            if let Step::SendPhoto { photo, .. } = step {
                work.tx().execute(
                    "UPDATE order_photos SET arrived = NULL WHERE request = ?1 AND sha256 = ?2",
                    params![entry.key, photo.0.as_slice()],
                )?;
            }
            if unknown && let Some(message) = step.message() {
                work.tx().execute("UPDATE order_messages SET in_doubt = 1 WHERE id = ?1", [message])?;
            }
            let to = stay(if unknown { Event::EndUnknown } else { Event::NotArrived });
            once_more(work, entry, to, &fault, asked, now)
        }
        NextStep::NoFile { photo } => {
            let to = entry.delivery.after(Event::Refused).unwrap_or(entry.delivery);
            put(work, entry, to, Some(&Reason::PhotoLost { photo }), None, now)?;
            // The request continues once the file is back. A file that is back but damaged costs a wait each time.
            let tries = entry.tries.saturating_add(1);
            let random = work.random();
            next(work, entry, tries, back_off::again(now, tries, None, random))
        }
        // The shop keeps the request even if it does not answer a question about it.
        NextStep::Never(reason) if matches!(step, Step::Ask | Step::Erase) => {
            if reason == Reason::Token {
                // The shop may have issued another token since.
                shop::with_the_new_token(work, entry)?;
            }
            let status = match reason {
                Reason::Address { status } | Reason::Other { status, .. } => status,
                _ => 401,
            };
            once_more(work, entry, entry.delivery, &Fault::Busy { status, detail: None }, None, now)
        }
        NextStep::Never(reason) if step.message().is_some() => {
            put(work, entry, entry.delivery, None, None, now)?;
            if let Some(id) = step.message() {
                let message = messages::find(work.tx(), id)?;
                let rejected = MessageState::Rejected;
                messages::put(work.tx(), message.key, rejected, Some(&reason), None, Some(now))?;
            }
            let asks = back_off::ask(now, entry.delivered_at.unwrap_or(now)).unwrap_or(NEVER);
            next(work, entry, 0, after_contact(work, entry, asks, now)?)
        }
        NextStep::Never(reason) => {
            let to = entry.delivery.after(Event::Refused).unwrap_or(entry.delivery);
            put(work, entry, to, Some(&reason), None, now)
        }
    }
}

/// The shop's answer to a withdrawal: its own word resolves the doubt whether it has the request.
fn cancelled(
    work: &mut Work<'_>,
    entry: &Entry,
    message: MessageId,
    told: &Cancellation,
    now: Timestamp,
) -> Result<(), Inner> {
    let event = if told.receipt.is_some() { Event::Received } else { Event::NotThere };
    put(work, entry, entry.delivery.after(event).unwrap_or(entry.delivery), None, None, now)?;
    let message = messages::find(work.tx(), message)?;
    messages::put(work.tx(), message.key, MessageState::Sent, None, Some(told.outcome), Some(now))?;
    let mut asks = NEVER;
    if let Some(receipt) = &told.receipt {
        word(work, entry, receipt)?;
        work.tx().execute(
            "UPDATE outbox SET delivered_at = coalesce(delivered_at, ?2) WHERE key = ?1",
            params![entry.key, now],
        )?;
        asks = asking(receipt, now, entry.delivered_at.unwrap_or(now));
    }
    next(work, entry, 0, after_contact(work, entry, asks, now)?)
}

/// The time of the next call after one that succeeded: at once if something waits to be told or erased, and else `asks`.
fn after_contact(
    work: &Work<'_>,
    entry: &Entry,
    asks: Timestamp,
    now: Timestamp,
) -> Result<Timestamp, Inner> {
    let tells = messages::next(work.tx(), entry.key)?.is_some();
    let erases = entry.erases_at_shop() && entry.in_flight.is_none_or(|(step, _)| step != Step::Erase);
    Ok(if tells || erases { now } else { asks })
}

fn asking(receipt: &Receipt, now: Timestamp, delivered: Timestamp) -> Timestamp {
    if receipt.state.is_final() { NEVER } else { back_off::ask(now, delivered).unwrap_or(NEVER) }
}

/// Schedules a retry; a failure due to a missing network does not count as a try.
fn once_more(
    work: &mut Work<'_>,
    entry: &Entry,
    to: DeliveryState,
    fault: &Fault,
    asked: Option<i64>,
    now: Timestamp,
) -> Result<(), Inner> {
    put(work, entry, to, None, Some(fault), now)?;
    if *fault == Fault::NoNetwork {
        return next(work, entry, entry.tries, back_off::offline(now));
    }
    if let Some(asked) = asked {
        work.tx().execute(
            "UPDATE outbox SET not_before = ?2 WHERE key = ?1",
            params![entry.key, now.0.saturating_add(asked)],
        )?;
    }
    let tries = entry.tries.saturating_add(1);
    let random = work.random();
    next(work, entry, tries, back_off::again(now, tries, asked, random))
}

/// The shop lacks photos: they are sent again, unless their file has changed or that happened too often.
fn thrown(
    work: &mut Work<'_>,
    entry: &Entry,
    step: Step,
    named: &[PhotoHash],
    now: Timestamp,
) -> Result<(), Inner> {
    let all = record::photos(work.tx(), entry.key)?;
    // If the shop names none of this request's photos, all of them are sent again.
    let any = all.iter().any(|photo| named.contains(&photo.hash));
    let folder = work.photos_folder();
    let mut reason = None;
    for photo in all.iter().filter(|photo| !any || named.contains(&photo.hash)) {
        let times = photo.damaged.saturating_add(1);
        work.tx().execute(
            "UPDATE order_photos SET arrived = NULL, damaged = ?3 WHERE request = ?1 AND sha256 = ?2",
            params![entry.key, photo.hash.0.as_slice(), times],
        )?;
        if photo_file(&folder, &photo.hash.0, OrderRequest::MOST_PHOTO_BYTES)?.is_none() {
            reason = Some(Reason::PhotoLost { photo: photo.hash });
        } else if times >= MOST_DAMAGED {
            reason = reason.or(Some(Reason::PhotoRefused { photo: photo.hash }));
        }
    }
    if all.is_empty() {
        reason = Some(Reason::Other { status: ProblemKind::PhotoMissing.status(), detail: None });
    }
    match reason {
        Some(reason) => {
            let to = entry.delivery.after(Event::Refused).unwrap_or(entry.delivery);
            put(work, entry, to, Some(&reason), None, now)
        }
        None => {
            let sent = step == Step::Send;
            let to = if sent { entry.delivery.after(Event::NotArrived) } else { None };
            once_more(work, entry, to.unwrap_or(entry.delivery), &Fault::Photos, None, now)
        }
    }
}

impl FieldBook {
    /// Records the outcome of a call that was begun. False: the outcome is no longer awaited (it took too long, or its
    /// request was withdrawn or erased), and nothing was changed.
    ///
    /// # Errors
    /// No such request, and those of writing; the call then counts as interrupted after five minutes.
    pub fn finish_call(
        &mut self,
        id: OutboundCallId,
        outcome: &CallOutcome,
        now: Timestamp,
    ) -> Result<Outcome<bool>, BookError> {
        let (order, number) = match id {
            OutboundCallId::Catalogue { number } => {
                return catalogue::finish_call(self, number, outcome, now);
            }
            OutboundCallId::Request { order, number } => (order, number),
        };
        self.transact(Op::Order, |work| {
            work.step(|work| {
                let entry = record::find(work.tx(), order)?;
                let Some((step, _)) = entry.in_flight.filter(|_| entry.calls == number) else {
                    return Ok(false);
                };
                let photos = record::photos(work.tx(), entry.key)?;
                let bytes = photos.iter().find(|photo| step.photo() == Some(photo.hash));
                let turn = meaning(&entry, step, bytes.map_or(0, |photo| photo.bytes), outcome, now);
                settle(work, &entry, step, turn, now)?;
                Ok(true)
            })
        })
    }
}
