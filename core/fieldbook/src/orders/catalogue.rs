//! Fetching the shop's catalogue, once or daily.

use super::answer::{problem, words};
use super::back_off;
use super::due::{ACCEPT, LEASE, NEVER, lapse};
use super::outbound_call::{Answer, Body, CallOutcome, OutboundCall, OutboundCallId};
use super::record::Step;
use super::shop::{Shop, agreed_shop, shop};
use super::state::Fault;
use crate::{
    BookError, CatalogueImport, Changes, FieldBook, Inner, JsonText, Op, Outcome, Reader, Screen,
    SignatureStatus, Timestamp, Work, is_kept, sha256,
};
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;
use steerwright_fit::catalogue::Catalogue;
use steerwright_protocol::wire;

/// Time between two fetches, ms.
const DAY: i64 = 24 * 3_600_000;
/// The file's name in messages.
const FILE: &str = "the shop's catalogue";
/// The most characters of an entity tag; a longer one is ignored.
const MOST_TAG: usize = 200;

/// The state of fetching the shop's catalogue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CatalogueFetch {
    /// Whether it is fetched daily.
    pub daily: bool,
    /// Whether a fetch was requested and is not complete.
    pub asked: bool,
    /// When the shop last sent it, or reported that it has no other.
    pub fetched_at: Option<Timestamp>,
    /// The last fault.
    pub fault: Option<Fault>,
    /// Attempts that failed since the last success.
    pub tries: u32,
    /// When it is due next, if it is.
    pub next_at: Option<Timestamp>,
}

struct Fetch {
    daily: bool,
    asked: bool,
    etag: Option<String>,
    sha256: Option<[u8; 32]>,
    calls: u32,
    began_at: Option<Timestamp>,
    tries: u32,
    next_at: Timestamp,
    fault: Option<Fault>,
    fetched_at: Option<Timestamp>,
}

fn fetch(conn: &Connection) -> Result<Option<Fetch>, Inner> {
    let read = |row: &Row<'_>| {
        let fault: Option<JsonText<Fault>> = row.get("fault")?;
        Ok(Fetch {
            daily: row.get("daily")?,
            asked: row.get("asked")?,
            etag: row.get("etag")?,
            sha256: row.get("sha256")?,
            calls: row.get("calls")?,
            began_at: row.get("began_at")?,
            tries: row.get("tries")?,
            next_at: row.get("next_at")?,
            fault: fault.map(|JsonText(fault)| fault),
            fetched_at: row.get("fetched_at")?,
        })
    };
    Ok(conn.prepare_cached("SELECT * FROM catalogue_fetch WHERE key = 1")?.query_row([], read).optional()?)
}

fn ready(fetch: &Fetch, now: Timestamp) -> bool {
    // A wait beyond the longest one, or a call begun in the future: the clock was set back.
    let wait = fetch.next_at.0.saturating_sub(now.0);
    let out = fetch.began_at.is_some_and(|began| now.0.abs_diff(began.0) < LEASE.unsigned_abs());
    (fetch.daily || fetch.asked) && fetch.next_at != NEVER && !(1..=back_off::MOST).contains(&wait) && !out
}

/// The earliest time at which the call for the catalogue can be due, if there is a shop.
pub(super) fn due_from(conn: &Connection) -> Result<Option<Timestamp>, Inner> {
    let wanted = fetch(conn)?.filter(|fetch| (fetch.daily || fetch.asked) && fetch.next_at != NEVER);
    Ok(wanted.map(|fetch| fetch.began_at.map_or(fetch.next_at, lapse)))
}

/// The call for the catalogue, if it is due.
pub(super) fn next_call(
    conn: &Connection,
    shop: &Shop,
    now: Timestamp,
) -> Result<Option<OutboundCall>, Inner> {
    let Some(fetch) = fetch(conn)?.filter(|fetch| ready(fetch, now)) else { return Ok(None) };
    let mut headers = vec![("Authorization", shop.token.header())];
    // An undone import stays undone until the shop has another file, unless the user requests it.
    let here = fetch.sha256.map(|hash| is_kept(conn, &hash)).transpose()?.unwrap_or(false);
    if let Some(etag) = fetch.etag.filter(|_| here || !fetch.asked) {
        headers.push(("If-None-Match", etag));
    }
    headers.push(("Accept", ACCEPT.to_owned()));
    Ok(Some(OutboundCall {
        id: OutboundCallId::Catalogue { number: fetch.calls.saturating_add(1) },
        step: Step::Catalogue,
        method: "GET",
        base: shop.base.clone(),
        path: wire::CATALOGUE.to_owned(),
        headers,
        body: Body::None,
    }))
}

/// Records that the call begins, if it is still due unchanged.
pub(super) fn begin_call(work: &mut Work<'_>, due: &OutboundCall, now: Timestamp) -> Result<bool, Inner> {
    let Some(shop) = agreed_shop(work.tx())? else { return Ok(false) };
    if next_call(work.tx(), &shop, now)?.as_ref() != Some(due) {
        return Ok(false);
    }
    work.tx().execute(
        "UPDATE catalogue_fetch SET calls = ?1, began_at = ?2 WHERE key = 1",
        params![due.id.number(), now],
    )?;
    Ok(true)
}

/// Makes a fetch due that was waiting only for a network.
pub(super) fn network_restored(work: &Work<'_>, now: Timestamp) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE catalogue_fetch SET next_at = min(next_at, ?1)
         WHERE began_at IS NULL AND fault ->> 'what' = 'no_network'",
        [now],
    )?;
    Ok(())
}

/// Resets the state for another shop, which has another catalogue.
pub(super) fn another_shop(work: &Work<'_>) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE catalogue_fetch SET etag = NULL, sha256 = NULL, began_at = NULL, tries = 0, next_at = 0, fault = NULL,
             fetched_at = NULL",
        [],
    )?;
    Ok(())
}

/// Stops fetching.
pub(super) fn end(work: &Work<'_>) -> Result<(), Inner> {
    work.tx().execute("UPDATE catalogue_fetch SET daily = 0, asked = 0, fault = NULL", [])?;
    Ok(())
}

/// Whether this call is the one in flight.
fn awaited(conn: &Connection, number: u32) -> Result<bool, Inner> {
    Ok(fetch(conn)?.is_some_and(|fetch| fetch.calls == number && fetch.began_at.is_some()))
}

/// Records that the shop has no newer catalogue, or the one that is in the book.
fn fetched(work: &mut Work<'_>, of: Option<(Option<&str>, [u8; 32])>, now: Timestamp) -> Result<(), Inner> {
    work.tx().execute(
        "UPDATE catalogue_fetch SET asked = 0, began_at = NULL, tries = 0, fault = NULL, fetched_at = ?1, next_at = ?2
         WHERE key = 1",
        params![now, now.0.saturating_add(DAY)],
    )?;
    if let Some((etag, hash)) = of {
        let etag = etag
            .filter(|etag| etag.len() <= MOST_TAG && etag.bytes().all(|byte| (0x20..0x7F).contains(&byte)));
        work.tx().execute(
            "UPDATE catalogue_fetch SET etag = ?1, sha256 = ?2 WHERE key = 1",
            params![etag, hash.as_slice()],
        )?;
    }
    work.touch(Screen::Settings);
    Ok(())
}

/// The time of the next try after a failure.
enum Wait {
    Offline,
    BackOff(Option<i64>),
    Tomorrow,
}

fn failed(work: &mut Work<'_>, fault: &Fault, wait: Wait, now: Timestamp) -> Result<(), Inner> {
    let before = fetch(work.tx())?.map_or(0, |fetch| fetch.tries);
    let tries = before.saturating_add(1);
    let random = work.random();
    let (tries, next) = match wait {
        Wait::Offline => (before, back_off::offline(now)),
        Wait::BackOff(asked) => (tries, back_off::again(now, tries, asked, random)),
        Wait::Tomorrow => (tries, Timestamp(now.0.saturating_add(DAY))),
    };
    work.tx().execute(
        "UPDATE catalogue_fetch SET began_at = NULL, tries = ?1, fault = ?2, next_at = ?3 WHERE key = 1",
        params![tries, JsonText(fault), next],
    )?;
    work.touch(Screen::Settings);
    Ok(())
}

/// Imports the received file. If a key of the maker is pinned, it must have signed the file.
fn take(work: &mut Work<'_>, answer: &Answer, now: Timestamp) -> Result<(), Inner> {
    let signature = answer.header(wire::CATALOGUE_SIGNATURE);
    let incoming = CatalogueImport { bytes: &answer.body, file: FILE, signature, allow_older: false };
    let imported = work.import_catalogue(&incoming)?;
    if imported.signature_status == SignatureStatus::UnsignedThoughPinned {
        let maker = imported.maker;
        return Err(Inner::rule(
            "catalogue.not_signed",
            format!("{FILE} is not signed, but you pinned a key of {maker}"),
        )
        .with("maker", maker));
    }
    fetched(work, Some((answer.header("ETag"), sha256(&answer.body))), now)
}

/// The effect of an outcome without a catalogue; `None`: the shop has no newer one.
fn trouble(outcome: &CallOutcome, asked_for_newer: bool, now: Timestamp) -> Option<(Fault, Wait)> {
    let answer = match outcome {
        CallOutcome::NoNetwork => return Some((Fault::NoNetwork, Wait::Offline)),
        CallOutcome::NotReached => return Some((Fault::NotReached, Wait::BackOff(None))),
        CallOutcome::Tls => return Some((Fault::Tls, Wait::BackOff(None))),
        CallOutcome::Timeout => return Some((Fault::Timeout, Wait::BackOff(None))),
        // The call for a catalogue has no file as its body.
        CallOutcome::ConnectionLost | CallOutcome::NoFile => {
            return Some((Fault::ConnectionLost, Wait::BackOff(None)));
        }
        CallOutcome::Answer(answer) => answer,
    };
    let status = answer.status;
    let detail = problem(answer).and_then(|it| it.detail).map(|detail| words(&detail));
    let asked = answer.header("Retry-After").and_then(|value| back_off::retry_after(value, now));
    match status {
        304 if asked_for_newer => None,
        408 | 425 | 429 | 500..=599 => Some((Fault::Busy { status, detail }, Wait::BackOff(asked))),
        400..=499 => Some((Fault::Busy { status, detail }, Wait::Tomorrow)),
        _ => Some((Fault::NoSense { status }, Wait::Tomorrow)),
    }
}

/// Records the outcome of a call; false if it is not the one in flight.
pub(super) fn finish_call(
    book: &mut FieldBook,
    number: u32,
    outcome: &CallOutcome,
    now: Timestamp,
) -> Result<Outcome<bool>, BookError> {
    if !book.read().read(|conn| awaited(conn, number))? {
        return Ok(Outcome { output: false, changes: Changes::default() });
    }
    let file = match outcome {
        CallOutcome::Answer(answer) if answer.status == 200 => Some(answer),
        _ => None,
    };
    if let Some(answer) = file {
        let taken = book.transact(Op::ImportCatalogue, |work| {
            work.step(|work| {
                if !awaited(work.tx(), number)? {
                    return Ok(false);
                }
                if answer.body.len() > Catalogue::MOST_BYTES {
                    let most = Catalogue::MOST_BYTES;
                    return Err(Inner::rule(
                        "catalogue.too_large",
                        format!("{FILE} is larger than {most} bytes"),
                    )
                    .with("most", most));
                }
                take(work, answer, now)?;
                Ok(true)
            })
        });
        // An invalid catalogue changes only the record of the attempt.
        let detail = match taken {
            Err(BookError::Invalid(errors)) => {
                errors.errors().first().map(ToString::to_string).unwrap_or_default()
            }
            Err(BookError::Refused(said)) => said.text,
            other => return other,
        };
        let fault = Fault::Catalogue { detail: words(&detail) };
        return book.transact(Op::Order, |work| {
            work.step(|work| {
                let awaited = awaited(work.tx(), number)?;
                if awaited {
                    failed(work, &fault, Wait::Tomorrow, now)?;
                }
                Ok(awaited)
            })
        });
    }
    book.transact(Op::Order, |work| {
        work.step(|work| {
            if !awaited(work.tx(), number)? {
                return Ok(false);
            }
            let has_tag = fetch(work.tx())?.is_some_and(|fetch| fetch.etag.is_some());
            match trouble(outcome, has_tag, now) {
                None => fetched(work, None, now)?,
                Some((fault, wait)) => failed(work, &fault, wait, now)?,
            }
            Ok(true)
        })
    })
}

impl Work<'_> {
    /// Requests the shop's catalogue at the next contact, and with `daily` once a day from then on; without it, ends
    /// daily fetching. A received file is imported as by [`Work::import_catalogue`], never with an older number than
    /// the one in use, and if a key of its maker is pinned only with that key's signature. A newer catalogue can make
    /// requests wait for the user.
    ///
    /// # Errors
    /// No shop.
    pub fn fetch_catalogue(&mut self, daily: bool) -> Result<(), BookError> {
        self.step(|work| {
            if shop(work.tx())?.is_none() {
                return Err(Inner::rule("shop.none", "there is no shop to fetch a catalogue from yet"));
            }
            let now = work.now();
            work.tx().execute(
                "INSERT INTO catalogue_fetch (key, daily, asked, calls, tries, next_at) VALUES (1, ?1, 1, 0, 0, ?2)
                 ON CONFLICT (key) DO UPDATE SET daily = ?1, asked = 1, tries = 0, next_at = ?2, fault = NULL",
                params![daily, now],
            )?;
            work.touch(Screen::Settings);
            Ok(())
        })
    }

    /// Stops fetching the shop's catalogue.
    ///
    /// # Errors
    /// Only those of writing.
    pub fn end_fetching_catalogues(&mut self) -> Result<(), BookError> {
        self.step(|work| {
            end(work)?;
            work.touch(Screen::Settings);
            Ok(())
        })
    }
}

impl Reader {
    /// The state of fetching the shop's catalogue; `None` if it was never requested.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn catalogue_fetch(&self) -> Result<Option<CatalogueFetch>, BookError> {
        self.read(|conn| {
            Ok(fetch(conn)?.map(|fetch| {
                let Fetch { daily, asked, fetched_at, fault, tries, next_at, .. } = fetch;
                let next_at = (daily || asked).then_some(next_at);
                CatalogueFetch { daily, asked, fetched_at, fault, tries, next_at }
            }))
        })
    }
}
