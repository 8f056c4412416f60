//! Fetching the shop's catalogue: on request or daily, never an invalid, foreign or older one.

use crate::fixture::{Fixture, MAKER, START, demo_catalogue};
use crate::shop::{InjectedFault, Shop, answer, problem};
use data_encoding::BASE64;
use ed25519_dalek::{Signer, SigningKey};
use rust_decimal::Decimal;
use steerwright_core::book::{Op, PublicKey, SignatureStatus, Timestamp};
use steerwright_core::orders::{CallOutcome, CatalogueFetch, Fault, OutboundCallId, State, Step};
use steerwright_core::protocol::wire::ProblemKind;

const HOUR: i64 = 3_600_000;
const DAY: i64 = 24 * HOUR;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

fn numbered(number: u32) -> Vec<u8> {
    let mut catalogue = demo_catalogue();
    catalogue.number = number;
    serde_json::to_vec(&catalogue).unwrap()
}

fn ask(fixture: &mut Fixture, daily: bool) {
    fixture.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(daily)).unwrap();
}

fn fetch(fixture: &Fixture) -> CatalogueFetch {
    fixture.book.read().catalogue_fetch().unwrap().unwrap()
}

fn in_use(fixture: &Fixture) -> (u32, SignatureStatus) {
    let makers = fixture.book.read().makers().unwrap();
    let maker = makers.iter().find(|maker| maker.maker == MAKER).unwrap();
    let row = maker.catalogues.iter().find(|row| row.in_use).unwrap();
    (row.number, row.signature_status)
}

/// One call for the catalogue with this outcome.
#[track_caller]
fn once(fixture: &mut Fixture, now: Timestamp, outcome: &CallOutcome) {
    let due = fixture.book.due(now).unwrap();
    let [call] = due.as_slice() else { panic!("{due:?}") };
    assert_eq!(call.step, Step::Catalogue);
    assert!(matches!(call.id, OutboundCallId::Catalogue { .. }), "{call:?}");
    assert!(fixture.book.begin_call(call, now).unwrap());
    assert!(fixture.book.finish_call(call.id, outcome, now).unwrap().output);
}

#[test]
fn asked_for_it_comes_once_and_daily_every_day() {
    let mut fixture = Fixture::with_shop();
    let mut shop = Shop { catalogue: Some((numbered(20), None)), ..Shop::default() };
    assert_eq!(
        (fixture.book.read().catalogue_fetch().unwrap(), fixture.book.due(START).unwrap().len()),
        (None, 0)
    );
    ask(&mut fixture, false);
    assert_eq!(shop.sync_once(&mut fixture.book, START, || InjectedFault::None), 1);
    assert_eq!(in_use(&fixture), (20, SignatureStatus::Unsigned));
    assert_eq!((fetch(&fixture).fetched_at, fetch(&fixture).next_at), (Some(START), None));
    // An imported catalogue can be undone like any import.
    assert_eq!(fixture.book.read().next_undo().unwrap().map(|it| it.op), Some(Op::ImportCatalogue));
    assert_eq!(fixture.book.due(after(30 * DAY)).unwrap(), []);

    ask(&mut fixture, true);
    let due = fixture.book.due(after(30 * DAY)).unwrap();
    let tag = due[0].headers.iter().find(|(name, _)| *name == "If-None-Match");
    assert!(tag.is_some_and(|(_, tag)| tag.starts_with('"')), "{due:?}");
    let mut now = after(30 * DAY);
    for number in [20, 20, 21, 22] {
        shop.catalogue = Some((numbered(number), None));
        let calls = shop.calls;
        shop.serve(&mut fixture.book, now);
        assert_eq!((shop.calls - calls, in_use(&fixture).0), (1, number));
        assert_eq!((fetch(&fixture).fetched_at, fetch(&fixture).fault), (Some(now), None));
        assert_eq!(fixture.book.due(Timestamp(now.0 + DAY - 1)).unwrap(), []);
        now = Timestamp(now.0 + DAY);
    }
    // The file that is in the book is not sent again, unless it was undone and is requested again.
    fixture.book.undo().unwrap();
    assert_eq!(in_use(&fixture).0, 21);
    shop.serve(&mut fixture.book, now);
    assert_eq!(in_use(&fixture).0, 21);
    ask(&mut fixture, true);
    shop.serve(&mut fixture.book, now);
    assert_eq!(in_use(&fixture).0, 22);
    fixture.book.transact(Op::ChangeSettings, |work| work.end_fetching_catalogues()).unwrap();
    assert_eq!(fixture.book.due(Timestamp(now.0 + 9 * DAY)).unwrap(), []);
}

/// Nothing of it is imported, the book is unchanged, and the next try is on another day.
#[test]
fn what_is_not_sound_is_not_taken() {
    let mut fixture = Fixture::with_shop();
    let key = SigningKey::from_bytes(&[7; 32]);
    let public = PublicKey::read(&BASE64.encode(key.verifying_key().as_bytes())).unwrap();
    fixture.book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&public))).unwrap();
    let before = in_use(&fixture);
    ask(&mut fixture, true);
    let signed = |key: &SigningKey, bytes: &[u8]| BASE64.encode(&key.sign(bytes).to_bytes());
    let stranger = SigningKey::from_bytes(&[8; 32]);
    let file = numbered(20);
    let older = numbered(11);
    let mut now = START;
    let with = |body: &[u8], signature: Option<String>| {
        let headers: Vec<(&str, String)> =
            signature.map(|it| ("catalogue-signature", it)).into_iter().collect();
        CallOutcome::Answer(answer(200, &headers, body.to_vec()))
    };
    for (outcome, text) in [
        (with(&file, None), "you pinned a key"),
        (with(&file, Some(signed(&stranger, &file))), "was not made by"),
        (with(&file, Some("nonsense".into())), "signature of 64 bytes"),
        (with(&file[1..], Some(signed(&key, &file[1..]))), "the shop's catalogue"),
        (with(&older, Some(signed(&key, &older))), "is older than number 12"),
        (with(&vec![b' '; (16 << 20) + 1], None), "larger than 16777216 bytes"),
    ] {
        once(&mut fixture, now, &outcome);
        let Some(Fault::Catalogue { detail }) = fetch(&fixture).fault else { panic!("{text}") };
        assert!(detail.contains(text), "{text}: {detail}");
        assert_eq!(in_use(&fixture), before, "{text}");
        assert_eq!(fixture.book.due(Timestamp(now.0 + DAY - 1)).unwrap(), [], "{text}");
        now = Timestamp(now.0 + DAY);
    }
    assert_eq!(fetch(&fixture).tries, 6);
    once(&mut fixture, now, &with(&file, Some(signed(&key, &file))));
    assert_eq!((in_use(&fixture), fetch(&fixture).tries), ((20, SignatureStatus::Verified), 0));
}

#[test]
fn without_a_network_or_an_answer_it_waits() {
    let mut fixture = Fixture::with_shop();
    ask(&mut fixture, false);
    once(&mut fixture, START, &CallOutcome::NoNetwork);
    assert_eq!((fetch(&fixture).tries, fetch(&fixture).fault), (0, Some(Fault::NoNetwork)));
    assert_eq!(fixture.book.due(after(1_000)).unwrap(), []);
    fixture.book.network_restored(after(1_000)).unwrap();
    let mut now = after(1_000);
    let busy = |status| Fault::Busy { status, detail: None };
    for (outcome, fault, wait) in [
        (CallOutcome::Timeout, Fault::Timeout, 30_000),
        (CallOutcome::ConnectionLost, Fault::ConnectionLost, 60_000),
        (CallOutcome::Tls, Fault::Tls, 120_000),
        (CallOutcome::Answer(answer(500, &[], Vec::new())), busy(500), 240_000),
        (
            CallOutcome::Answer(answer(429, &[("retry-after", "7200".into())], Vec::new())),
            busy(429),
            7_200_000,
        ),
        (CallOutcome::Answer(answer(404, &[], Vec::new())), busy(404), DAY),
        (CallOutcome::Answer(answer(302, &[], Vec::new())), Fault::NoSense { status: 302 }, DAY),
        // The request was not conditional.
        (CallOutcome::Answer(answer(304, &[], Vec::new())), Fault::NoSense { status: 304 }, DAY),
    ] {
        once(&mut fixture, now, &outcome);
        assert_eq!(fetch(&fixture).fault, Some(fault), "{outcome:?}");
        let next = fetch(&fixture).next_at.unwrap();
        assert!((now.0 + wait / 2..=now.0 + wait).contains(&next.0), "{outcome:?}: {}", next.0 - now.0);
        now = Timestamp(now.0 + wait);
    }
    let told = CallOutcome::Answer(problem(ProblemKind::Token));
    once(&mut fixture, now, &told);
    assert_eq!(fetch(&fixture).fault, Some(Fault::Busy { status: 401, detail: Some("because".into()) }));

    // Begun and without outcome: repeated after five minutes, and the old outcome is ignored.
    now = Timestamp(now.0 + DAY);
    let due = fixture.book.due(now).unwrap();
    assert!(fixture.book.begin_call(&due[0], now).unwrap());
    assert!(!fixture.book.begin_call(&due[0], now).unwrap());
    assert_eq!(fixture.book.due(Timestamp(now.0 + 4 * 60_000)).unwrap(), []);
    now = Timestamp(now.0 + 5 * 60_000);
    let again = fixture.book.due(now).unwrap();
    assert!(fixture.book.begin_call(&again[0], now).unwrap());
    let file = CallOutcome::Answer(answer(200, &[], numbered(20)));
    assert!(!fixture.book.finish_call(due[0].id, &file, now).unwrap().output);
    assert_eq!(in_use(&fixture).0, 12);
    assert!(fixture.book.finish_call(again[0].id, &file, now).unwrap().output);
    assert!(!fixture.book.finish_call(again[0].id, &file, now).unwrap().output);
    assert_eq!(in_use(&fixture).0, 20);
    // Without an agreement with the shop nothing is fetched either.
    ask(&mut fixture, true);
    fixture.book.transact(Op::ChangeSettings, |work| work.end_agreement()).unwrap();
    assert_eq!(fixture.book.due(Timestamp(now.0 + 9 * DAY)).unwrap(), []);
}

/// A catalogue fetched before requests are sent holds back those for which it changes the answer.
#[test]
fn a_newer_catalogue_comes_before_the_requests() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut dearer = demo_catalogue();
    dearer.number = 20;
    dearer.kits.iter_mut().for_each(|kit| kit.price += Decimal::ONE);
    let file = serde_json::to_vec(&dearer).unwrap();
    let mut shop = Shop { catalogue: Some((file, None)), ..Shop::default() };
    ask(&mut fixture, true);
    let due = fixture.book.due(START).unwrap();
    assert_eq!(due.iter().map(|it| it.step).collect::<Vec<_>>(), [Step::Catalogue, Step::Send]);
    assert_eq!(due[0].most_answer_bytes(), 16 << 20);
    assert!(fixture.book.begin_call(&due[0], START).unwrap());
    let outcome = shop.visited(&due[0], InjectedFault::None).unwrap();
    assert!(fixture.book.finish_call(due[0].id, &outcome, START).unwrap().output);
    assert!(!fixture.book.begin_call(&due[1], START).unwrap());
    shop.serve(&mut fixture.book, START);
    assert_eq!((fixture.state(id), shop.requests.len()), (State::Held, 0));
}
