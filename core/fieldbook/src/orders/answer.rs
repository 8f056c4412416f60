//! What came back from a shop, and what that means for a request.

use super::back_off;
use super::catalogue;
use super::due::NEVER;
use super::errand::{Answer, Came, ErrandId};
use super::record::{self, Entry, Step};
use super::shop;
use super::state::{Event, Fault, Reason, Standing};
use crate::{BookError, FieldBook, Inner, Json, Moment, Op, Outcome, Screen, Work, photo_file};
use rusqlite::params;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{self, OrderRequest, Problem, ProblemKind, Receipt};

/// So often a shop may throw a photo away before it counts as refused.
const MOST_DAMAGED: u32 = 3;
/// The most characters of a shop's own words that are kept.
const MOST_WORDS: usize = 2_000;

/// Where an errand's end leads.
pub(super) enum Turn {
    /// The shop has the request.
    Received(Receipt),
    /// The shop's word on a request it has.
    Told(Receipt),
    /// The shop has so much of a photo.
    Arrived { photo: PhotoHash, bytes: u64 },
    /// Who asked is not kept at the shop, or no more.
    Erased,
    /// The shop threw photos away, or never had them.
    Thrown { photos: Vec<PhotoHash> },
    /// Another try, by itself.
    Again {
        /// Whether the shop may have taken what was sent.
        unknown: bool,
        /// What went wrong.
        fault: Fault,
        /// The wait the shop asked for, ms.
        asked: Option<i64>,
    },
    /// A photo's file is missing or cannot be read on this device.
    NoFile { photo: PhotoHash },
    /// Trying again as it is will not help.
    Never(Reason),
}

impl Turn {
    pub(super) fn again(unknown: bool, fault: Fault) -> Self {
        Self::Again { unknown, fault, asked: None }
    }
}

pub(super) fn words(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || matches!(c, '\n' | '\t')).take(MOST_WORDS).collect()
}

/// A problem that a shop told, if its answer is one.
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

fn offset(answer: &Answer) -> Option<u64> {
    let text = answer.header(wire::UPLOAD_OFFSET)?;
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

/// What an end means. Statuses count as RFC 9110, 15 has them, told apart further by the problem's type.
fn meaning(entry: &Entry, step: Step, photo_bytes: u64, came: &Came, now: Moment) -> Turn {
    let answer = match came {
        Came::NoNetwork => return Turn::again(false, Fault::NoNetwork),
        Came::NotReached => return Turn::again(false, Fault::NotReached),
        Came::Tls => return Turn::again(false, Fault::Tls),
        Came::Timeout => return Turn::again(true, Fault::Timeout),
        Came::ConnectionLost => return Turn::again(true, Fault::ConnectionLost),
        Came::NoFile => {
            // Only photos are read from files.
            let lost = step.photo().map(|photo| Turn::NoFile { photo });
            return lost.unwrap_or(Turn::again(true, Fault::ConnectionLost));
        }
        Came::Answer(answer) => answer,
    };
    let status = answer.status;
    let no_sense = || Turn::again(true, Fault::NoSense { status });
    if (200..300).contains(&status) {
        let turn = match step {
            Step::Send if status <= 201 => receipt(answer, entry).map(Turn::Received),
            Step::Ask => receipt(answer, entry).map(Turn::Told),
            Step::Erase => Some(Turn::Erased),
            Step::AskPhoto { photo } => offset(answer).map(|bytes| Turn::Arrived { photo, bytes }),
            Step::SendPhoto { photo, .. } if status == 202 => {
                offset(answer).map(|bytes| Turn::Arrived { photo, bytes })
            }
            Step::SendPhoto { photo, .. } => Some(Turn::Arrived { photo, bytes: photo_bytes }),
            Step::Send | Step::Catalogue => None,
        };
        // A shop cannot have more of a photo than there is.
        return match turn {
            Some(Turn::Arrived { bytes, .. }) if bytes > photo_bytes => no_sense(),
            Some(turn) => turn,
            None => no_sense(),
        };
    }
    refusal(step, photo_bytes, answer, now).unwrap_or_else(no_sense)
}

/// What an answer that is no success means; `None` if it makes no sense.
fn refusal(step: Step, photo_bytes: u64, answer: &Answer, now: Moment) -> Option<Turn> {
    let status = answer.status;
    let told = problem(answer);
    let kind = told.as_ref().and_then(Problem::known).filter(|kind| kind.status() == status);
    let detail = told.as_ref().and_then(|it| it.detail.as_deref()).map(words);
    let photo = step.photo();
    let busy = |unknown, detail| {
        let asked = answer.header("Retry-After").and_then(|value| back_off::retry_after(value, now));
        Turn::Again { unknown, fault: Fault::Busy { status, detail }, asked }
    };
    let turn = match (status, step, kind) {
        // The shop says itself that it did nothing; a bare 503 can come from anything on the way.
        (429, ..) | (503, _, Some(ProblemKind::Unavailable)) => busy(false, detail),
        (408 | 409 | 425 | 500..=599, ..) => busy(true, detail),
        (404, Step::AskPhoto { photo }, _) => Turn::Arrived { photo, bytes: 0 },
        (300..=399 | 404 | 405 | 410, ..) => Turn::Never(Reason::Address { status }),
        (401 | 403, ..) => Turn::Never(Reason::Token),
        (413, ..) => Turn::Never(Reason::TooLarge { photo }),
        (416, Step::SendPhoto { photo, .. }, _) => match offset(answer).filter(|it| *it <= photo_bytes) {
            Some(bytes) => Turn::Arrived { photo, bytes },
            None => Turn::again(true, Fault::NoSense { status }),
        },
        (422, Step::SendPhoto { photo, .. }, Some(ProblemKind::PhotoDamaged)) => {
            Turn::Thrown { photos: vec![photo] }
        }
        // Also of a kind not known here, and `PhotoTells`: sent again it would be the same picture.
        (415 | 422, Step::SendPhoto { photo, .. } | Step::AskPhoto { photo }, _) => {
            Turn::Never(Reason::PhotoRefused { photo })
        }
        (422, Step::Send, Some(ProblemKind::PhotoMissing)) => {
            Turn::Thrown { photos: told.map(|it| it.photos).unwrap_or_default() }
        }
        (422, Step::Send, Some(ProblemKind::KeyReused)) => Turn::Never(Reason::KeyReused),
        (422, Step::Send, Some(ProblemKind::KitUnknown)) => Turn::Never(Reason::KitUnknown),
        (422, Step::Send, Some(ProblemKind::Invalid)) => {
            let errors = told.map(|it| it.errors).unwrap_or_default();
            let errors = errors
                .into_iter()
                .take(50)
                .map(|it| wire::FieldProblem { field: words(&it.field), says: words(&it.says) });
            Turn::Never(Reason::Invalid { detail, errors: errors.collect() })
        }
        (400..=499, ..) => Turn::Never(Reason::Other { status, detail }),
        _ => return None,
    };
    Some(turn)
}

/// Writes where a request stands; its errand, if one was out, is over.
pub(super) fn put(
    work: &mut Work<'_>,
    entry: &Entry,
    to: Standing,
    reason: Option<&Reason>,
    fault: Option<&Fault>,
    now: Moment,
) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE outbox SET state = ?2, perhaps = ?3, reason = ?4, fault = ?5, errand = NULL, began_at = NULL,
             changed_at = ?6, shop = iif(?7, shop, NULL) WHERE key = ?1",
        params![
            entry.key,
            to.state.name(),
            to.perhaps,
            reason.map(Json),
            fault.map(Json),
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

fn next(work: &Work<'_>, entry: &Entry, tries: u32, at: Moment) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE outbox SET tries = ?2, next_at = ?3 WHERE key = ?1",
        params![entry.key, tries, at],
    )?;
    Ok(())
}

/// Keeps the shop's word.
fn word(work: &Work<'_>, entry: &Entry, receipt: &Receipt) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE outbox SET shop_word = ?2, shop_says = ?3, shop_since = ?4 WHERE key = ?1",
        params![entry.key, receipt.state.name(), receipt.says.as_deref().map(words), receipt.since],
    )?;
    Ok(())
}

/// Carries out what an errand's end means.
pub(super) fn settle(
    work: &mut Work<'_>,
    entry: &Entry,
    step: Step,
    turn: Turn,
    now: Moment,
) -> Result<(), Inner> {
    // Only the call that carries the request moves it; all others leave it where it is.
    let sending = step == Step::Send;
    let stay =
        |event| if sending { entry.standing.after(event).unwrap_or(entry.standing) } else { entry.standing };
    match turn {
        Turn::Received(receipt) => {
            put(work, entry, stay(Event::Received), None, None, now)?;
            word(work, entry, &receipt)?;
            work.tx()
                .execute("UPDATE outbox SET delivered_at = ?2 WHERE key = ?1", params![entry.key, now])?;
            next(work, entry, 0, asking(&receipt, now, now))
        }
        Turn::Told(receipt) => {
            put(work, entry, entry.standing, None, None, now)?;
            word(work, entry, &receipt)?;
            next(work, entry, 0, asking(&receipt, now, entry.delivered_at.unwrap_or(now)))
        }
        Turn::Arrived { photo, bytes } => {
            let on = match step {
                Step::SendPhoto { from, .. } => bytes > from,
                _ => true,
            };
            work.tx().execute(
                "UPDATE order_photos SET arrived = ?3 WHERE request = ?1 AND sha256 = ?2",
                params![entry.key, photo.0.as_slice(), bytes],
            )?;
            if on {
                put(work, entry, entry.standing, None, None, now)?;
                // Being told how much is there is no success yet, but a part that arrived is.
                let tries = if matches!(step, Step::SendPhoto { .. }) { 0 } else { entry.tries };
                return next(work, entry, tries, now);
            }
            once_more(work, entry, entry.standing, &Fault::Photos, None, now)
        }
        Turn::Erased => {
            put(work, entry, entry.standing, None, None, now)?;
            next(work, entry, 0, NEVER)
        }
        Turn::Thrown { photos } => thrown(work, entry, step, &photos, now),
        Turn::Again { unknown, fault, asked } => {
            if let Step::SendPhoto { photo, .. } = step {
                work.tx().execute(
                    "UPDATE order_photos SET arrived = NULL WHERE request = ?1 AND sha256 = ?2",
                    params![entry.key, photo.0.as_slice()],
                )?;
            }
            let to = stay(if unknown { Event::EndUnknown } else { Event::NotArrived });
            once_more(work, entry, to, &fault, asked, now)
        }
        Turn::NoFile { photo } => {
            let to = entry.standing.after(Event::Refused).unwrap_or(entry.standing);
            put(work, entry, to, Some(&Reason::PhotoLost { photo }), None, now)?;
            // It goes on by itself once the file is back. One that only seems to be costs a wait each time.
            let tries = entry.tries.saturating_add(1);
            let random = work.random();
            next(work, entry, tries, back_off::again(now, tries, None, random))
        }
        // What the shop has is not lost by a question that it does not answer.
        Turn::Never(reason) if matches!(step, Step::Ask | Step::Erase) => {
            if reason == Reason::Token {
                // The shop may have given another token since.
                shop::with_the_new_token(work, entry)?;
            }
            let status = match reason {
                Reason::Address { status } | Reason::Other { status, .. } => status,
                _ => 401,
            };
            once_more(work, entry, entry.standing, &Fault::Busy { status, detail: None }, None, now)
        }
        Turn::Never(reason) => {
            let to = entry.standing.after(Event::Refused).unwrap_or(entry.standing);
            put(work, entry, to, Some(&reason), None, now)
        }
    }
}

fn asking(receipt: &Receipt, now: Moment, delivered: Moment) -> Moment {
    if receipt.state.is_final() { NEVER } else { back_off::ask(now, delivered).unwrap_or(NEVER) }
}

/// Another try later; without a network it costs none.
fn once_more(
    work: &mut Work<'_>,
    entry: &Entry,
    to: Standing,
    fault: &Fault,
    asked: Option<i64>,
    now: Moment,
) -> Result<(), Inner> {
    put(work, entry, to, None, Some(fault), now)?;
    if *fault == Fault::NoNetwork {
        return next(work, entry, entry.tries, back_off::offline(now));
    }
    let tries = entry.tries.saturating_add(1);
    let random = work.random();
    next(work, entry, tries, back_off::again(now, tries, asked, random))
}

/// The shop lacks photos: they go again, unless their file is not what it was, or that happened too often.
fn thrown(
    work: &mut Work<'_>,
    entry: &Entry,
    step: Step,
    named: &[PhotoHash],
    now: Moment,
) -> Result<(), Inner> {
    let all = record::photos(work.tx(), entry.key)?;
    // A shop that names none of this request's photos means all of them.
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
            let to = entry.standing.after(Event::Refused).unwrap_or(entry.standing);
            put(work, entry, to, Some(&reason), None, now)
        }
        None => {
            let sent = step == Step::Send;
            let to = if sent { entry.standing.after(Event::NotArrived) } else { None };
            once_more(work, entry, to.unwrap_or(entry.standing), &Fault::Photos, None, now)
        }
    }
}

impl FieldBook {
    /// Tells how an errand that was begun ended. False: it is not waited for any more (it took too long and counts as
    /// cut short, or its request was withdrawn or erased), and nothing was changed.
    ///
    /// # Errors
    /// No such request, and those of writing; the errand then counts as cut short after five minutes.
    pub fn came_back(&mut self, id: ErrandId, came: &Came, now: Moment) -> Result<Outcome<bool>, BookError> {
        let (order, number) = match id {
            ErrandId::Catalogue { number } => return catalogue::came_back(self, number, came, now),
            ErrandId::Request { order, number } => (order, number),
        };
        self.transact(Op::Order, |work| {
            work.step(|work| {
                let entry = record::find(work.tx(), order)?;
                let Some((step, _)) = entry.errand.filter(|_| entry.errands == number) else {
                    return Ok(false);
                };
                let photos = record::photos(work.tx(), entry.key)?;
                let bytes = photos.iter().find(|photo| step.photo() == Some(photo.hash));
                let turn = meaning(&entry, step, bytes.map_or(0, |photo| photo.bytes), came, now);
                settle(work, &entry, step, turn, now)?;
                Ok(true)
            })
        })
    }
}
