//! A shell's calls and their outcomes, one by one.

use crate::fixture::{Fixture, START};
use crate::shop::{InjectedFault, Shop, answer, problem, told};
use steerwright_core::book::{Op, Timestamp};
use steerwright_core::orders::{Body, CallOutcome, Fault, Reason, State, Step, Token};
use steerwright_core::protocol::wire::{FieldProblem, Problem, ProblemKind, ShopStatus};

const HOUR: i64 = 3_600_000;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

#[test]
fn nothing_goes_without_a_shop_and_an_agreement() {
    let mut fixture = Fixture::new();
    let id = fixture.queue();
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let token = Token::new("larch-hollow-1").unwrap();
    fixture.book.transact(Op::ChangeSettings, |work| work.set_shop("https://shop.example", &token)).unwrap();
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let words = "Send my order requests to https://shop.example.";
    fixture.book.transact(Op::ChangeSettings, |work| work.agree_to_sending(words, Some("Wren"))).unwrap();
    let due = fixture.book.due(START).unwrap();
    let [call] = due.as_slice() else { panic!("{due:?}") };
    assert_eq!((call.method, call.base.as_str()), ("POST", "https://shop.example"));
    assert_eq!(call.path, "/v1/order-requests");
    assert!(call.body == Body::Text(fixture.book.read().order(id).unwrap().body));
    // draft-ietf-httpapi-idempotency-key-header-07, 2.1: the value is a string of structured fields, in quotes.
    assert!(call.headers.contains(&("Idempotency-Key", format!("\"{id}\""))));
    assert!(call.headers.contains(&("Authorization", "Bearer larch-hollow-1".into())));
    assert!(!format!("{call:?}").contains("larch-hollow-1"));
    // Revoked in the meantime: the due call must not be sent.
    fixture.book.transact(Op::ChangeSettings, |work| work.end_agreement()).unwrap();
    assert!(!fixture.book.begin_call(call, START).unwrap());
    assert_eq!(fixture.state(id), State::Queued);
}

/// The time of the next call: none for requests that may not be sent, so that a shell does not wake up repeatedly for
/// nothing.
#[test]
fn when_to_call_next_is_told() {
    let next = |fixture: &Fixture| fixture.book.read().next_due().unwrap();
    let end = |fixture: &mut Fixture| {
        fixture.book.transact(Op::ChangeSettings, |work| work.end_agreement()).unwrap();
    };
    let mut fixture = Fixture::new();
    let id = fixture.queue();
    let made = fixture.book.read().order(id).unwrap().order.made_at;
    assert_eq!(next(&fixture), None, "no shop");
    fixture.set_shop("https://shop.example", "larch-hollow-1");
    assert_eq!(next(&fixture), Some(made));
    end(&mut fixture);
    assert_eq!(next(&fixture), None, "no agreement");
    fixture.set_shop("https://shop.example", "larch-hollow-1");
    // Begun, without outcome.
    let call = fixture.book.due(made).unwrap().remove(0);
    assert!(fixture.book.begin_call(&call, made).unwrap());
    assert_eq!(next(&fixture), Some(Timestamp(made.0 + 5 * 60_000)));
    fixture.book.finish_call(call.id, &CallOutcome::NoNetwork, made).unwrap();
    assert_eq!(next(&fixture), Some(Timestamp(made.0 + 60_000)));
    // Delivered; the shop is queried for its decision after a quarter of an hour.
    let mut shop = Shop::default();
    let sent = Timestamp(made.0 + 60_000);
    shop.serve(&mut fixture.book, sent);
    assert_eq!(fixture.state(id), State::Delivered);
    assert_eq!(next(&fixture), Some(Timestamp(sent.0 + 15 * 60_000)));
    // Another shop since, and the agreement with the first is ended: it is not queried.
    fixture.set_shop("https://other.example", "larch-hollow-2");
    assert_eq!(next(&fixture), Some(Timestamp(sent.0 + 15 * 60_000)));
    end(&mut fixture);
    fixture.set_shop("https://other.example", "larch-hollow-2");
    assert_eq!(next(&fixture), None);
    // The catalogue is requested from the present one.
    fixture.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(true)).unwrap();
    assert!(next(&fixture).is_some());
    end(&mut fixture);
    assert_eq!(next(&fixture), None);
}

#[test]
fn an_errand_is_begun_once_and_its_end_heard_once() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let due = fixture.book.due(START).unwrap();
    let [call] = due.as_slice() else { panic!("{due:?}") };
    assert!(!fixture.book.finish_call(call.id, &CallOutcome::Timeout, START).unwrap().output);
    assert!(fixture.book.begin_call(call, START).unwrap());
    assert_eq!(fixture.state(id), State::Underway);
    assert!(!fixture.book.begin_call(call, START).unwrap());
    assert_eq!(fixture.book.due(START).unwrap(), []);
    // The program ends. Four minutes later it may still be under way, after five its outcome is unknown.
    let mut fixture = fixture.reopen();
    assert_eq!(fixture.book.due(after(4 * 60_000)).unwrap(), []);
    assert_eq!(fixture.state(id), State::Underway);
    assert_eq!(fixture.book.due(after(5 * 60_000)).unwrap(), []);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.fault, order.tries), (State::InDoubt, Some(Fault::Interrupted), 1));
    assert!(!fixture.book.finish_call(call.id, &CallOutcome::Timeout, after(5 * 60_000)).unwrap().output);
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, after(6 * 60_000));
    assert_eq!((fixture.state(id), shop.requests.len()), (State::Delivered, 1));
}

/// Each outcome of the call that sends the request, the resulting state, whether it counted as a try, and the message.
#[test]
fn what_each_end_means() {
    type Said = (Option<Reason>, Option<Fault>);
    let because = || Some("because".to_owned());
    let fault = |fault| -> Said { (None, Some(fault)) };
    let reason = |reason| -> Said { (Some(reason), None) };
    let busy = |status, detail| fault(Fault::Busy { status, detail });
    let plain = |status| CallOutcome::Answer(answer(status, &[], Vec::new()));
    let kind = |kind| CallOutcome::Answer(problem(kind));
    let mut invalid = Problem::new(ProblemKind::Invalid, because());
    invalid.errors = vec![FieldProblem { field: "contact.email".into(), text: "bounces".into() }];
    let errors = invalid.errors.clone();
    let cases: Vec<(CallOutcome, State, u32, Said)> = vec![
        (CallOutcome::NoNetwork, State::Queued, 0, fault(Fault::NoNetwork)),
        (CallOutcome::NotReached, State::Queued, 1, fault(Fault::NotReached)),
        (CallOutcome::Tls, State::Queued, 1, fault(Fault::Tls)),
        (CallOutcome::Timeout, State::InDoubt, 1, fault(Fault::Timeout)),
        (CallOutcome::ConnectionLost, State::InDoubt, 1, fault(Fault::ConnectionLost)),
        (kind(ProblemKind::TooMany), State::Queued, 1, busy(429, because())),
        (kind(ProblemKind::Unavailable), State::Queued, 1, busy(503, because())),
        // Any intermediary can return this, whatever the shop did.
        (plain(503), State::InDoubt, 1, busy(503, None)),
        (plain(500), State::InDoubt, 1, busy(500, None)),
        (plain(504), State::InDoubt, 1, busy(504, None)),
        (kind(ProblemKind::InProgress), State::InDoubt, 1, busy(409, because())),
        (plain(200), State::InDoubt, 1, fault(Fault::NoSense { status: 200 })),
        (plain(204), State::InDoubt, 1, fault(Fault::NoSense { status: 204 })),
        (plain(999), State::InDoubt, 1, fault(Fault::NoSense { status: 999 })),
        (plain(301), State::Rejected, 0, reason(Reason::Address { status: 301 })),
        (plain(404), State::Rejected, 0, reason(Reason::Address { status: 404 })),
        (kind(ProblemKind::Token), State::Rejected, 0, reason(Reason::Token)),
        (plain(403), State::Rejected, 0, reason(Reason::Token)),
        (plain(413), State::Rejected, 0, reason(Reason::TooLarge { photo: None })),
        (kind(ProblemKind::KeyReused), State::Rejected, 0, reason(Reason::KeyReused)),
        (kind(ProblemKind::KitUnknown), State::Rejected, 0, reason(Reason::KitUnknown)),
        (
            CallOutcome::Answer(told(&invalid, 422)),
            State::Rejected,
            0,
            reason(Reason::Invalid { detail: because(), errors }),
        ),
        (
            kind(ProblemKind::KeyMissing),
            State::Rejected,
            0,
            reason(Reason::Other { status: 400, detail: because() }),
        ),
        (plain(422), State::Rejected, 0, reason(Reason::Other { status: 422, detail: None })),
    ];
    let mut fixture = Fixture::with_shop();
    for (outcome, state, tries, (reason, fault)) in cases {
        let id = fixture.queue();
        let call = fixture.book.due(START).unwrap().into_iter().find(|it| it.id.order() == Some(id)).unwrap();
        assert!(fixture.book.begin_call(&call, START).unwrap());
        assert!(fixture.book.finish_call(call.id, &outcome, START).unwrap().output);
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.tries), (state, tries), "{outcome:?}");
        assert_eq!((order.reason, order.fault), (reason, fault), "{outcome:?}");
        fixture.book.transact(Op::Order, |work| work.withdraw_order(id)).unwrap();
    }
}

/// RFC 9110, 10.2.3: seconds and a date; the wait is never shorter than requested.
#[test]
fn a_shop_that_asks_for_time_gets_it() {
    // START is 2026-05-02T08:00:00Z, a Saturday.
    for (value, wait) in [("7200", 2 * HOUR), ("Sat, 02 May 2026 11:00:00 GMT", 3 * HOUR)] {
        let mut fixture = Fixture::with_shop();
        let id = fixture.queue();
        let call = fixture.book.due(START).unwrap().remove(0);
        fixture.book.begin_call(&call, START).unwrap();
        let mut told = problem(ProblemKind::TooMany);
        told.headers.push(("Retry-After".into(), value.into()));
        fixture.book.finish_call(call.id, &CallOutcome::Answer(told), START).unwrap();
        assert_eq!(fixture.book.read().order(id).unwrap().order.next_at, Some(after(wait)), "{value}");
        assert_eq!(fixture.book.due(after(wait - 1)).unwrap(), []);
        assert_eq!(fixture.book.due(after(wait)).unwrap().len(), 1);
    }
}

#[test]
fn what_was_turned_back_is_mended_and_sent_again() {
    let mut fixture = Fixture::with_shop();
    let token = Token::new("a-wrong-token").unwrap();
    let set = |fixture: &mut Fixture, token: &Token| {
        fixture
            .book
            .transact(Op::ChangeSettings, |work| work.set_shop("https://shop.example", token))
            .unwrap();
    };
    set(&mut fixture, &token);
    let id = fixture.queue();
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!(fixture.book.read().order(id).unwrap().order.reason, Some(Reason::Token));
    set(&mut fixture, &Token::new("larch-hollow-1").unwrap());
    assert_eq!(fixture.book.due(after(HOUR)).unwrap(), []);
    let again = fixture.book.transact(Op::Order, |work| work.send_order_again(id)).unwrap().output;
    assert_eq!(again, id);
    shop.serve(&mut fixture.book, after(HOUR));
    assert_eq!(fixture.state(id), State::Delivered);
    assert!(fixture.book.transact(Op::Order, |work| work.send_order_again(id)).is_err());
}

#[test]
fn photos_go_first_and_on_from_where_they_broke_off() {
    let mut fixture = Fixture::with_shop();
    let photo = fixture.photo("progressive-turned.jpg");
    let hash = fixture.book.read().photo(photo).unwrap().row.working;
    let id = fixture.queue();
    // Removed from the bike since, and the book reopened: it is still sent.
    fixture.book.transact(Op::RemovePhoto, |work| work.remove_photo(photo)).unwrap();
    let mut fixture = fixture.reopen();
    let bytes = std::fs::metadata(
        fixture
            .book
            .read()
            .photos_folder()
            .join(hash.iter().map(|byte| format!("{byte:02x}")).collect::<String>()),
    )
    .unwrap()
    .len();
    let mut shop = Shop::default();
    assert_eq!(shop.sync_once(&mut fixture.book, START, || InjectedFault::None), 1);
    assert_eq!(shop.sync_once(&mut fixture.book, START, || InjectedFault::Truncated), 1);
    assert_eq!(fixture.state(id), State::Queued);
    let now = after(60_000);
    let steps: Vec<Step> = std::iter::from_fn(|| {
        let call = fixture.book.due(now).unwrap().into_iter().next()?;
        assert!(fixture.book.begin_call(&call, now).unwrap());
        let outcome = CallOutcome::Answer(shop.call(&call));
        assert!(fixture.book.finish_call(call.id, &outcome, now).unwrap().output);
        Some(call.step)
    })
    .collect();
    let [Step::AskPhoto { .. }, Step::SendPhoto { from, to, .. }, Step::Send] = steps.as_slice() else {
        panic!("{steps:?}")
    };
    assert_eq!((*from, *to), (bytes / 2, bytes));
    assert_eq!(shop.received, bytes);
    assert_eq!(shop.whole.len(), 1);
    assert_eq!(fixture.state(id), State::Delivered);
    // A second request with the same photo does not send it twice.
    fixture.photos.clear();
    fixture.photo("progressive-turned.jpg");
    fixture.queue();
    shop.serve(&mut fixture.book, now);
    assert_eq!((shop.received, shop.requests.len()), (bytes, 2));
}

#[test]
fn a_lost_photo_is_told_and_a_shop_that_throws_it_away_is_not_fed_for_ever() {
    let mut fixture = Fixture::with_shop();
    fixture.photo("progressive-turned.jpg");
    let id = fixture.queue();
    let mut shop = Shop::default();
    let mut now = START;
    for _ in 0..100 {
        now = Timestamp(now.0 + HOUR);
        for call in fixture.book.due(now).unwrap() {
            assert!(fixture.book.begin_call(&call, now).unwrap());
            // All of it arrives, and the shop reports that none did.
            let outcome = CallOutcome::Answer(shop.call(&call));
            let forgets = problem(ProblemKind::PhotoMissing);
            let outcome = if call.step == Step::Send { CallOutcome::Answer(forgets) } else { outcome };
            fixture.book.finish_call(call.id, &outcome, now).unwrap();
        }
    }
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!(order.state, State::Rejected);
    assert!(matches!(order.reason, Some(Reason::PhotoRefused { .. })), "{order:?}");

    let id = fixture.queue();
    let folder = fixture.book.read().photos_folder();
    let aside = folder.with_extension("aside");
    std::fs::rename(&folder, &aside).unwrap();
    assert_eq!(fixture.book.due(now).unwrap(), []);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!(order.state, State::Rejected);
    assert!(matches!(order.reason, Some(Reason::PhotoLost { .. })), "{order:?}");
    // It waits while the files are away for days, and continues automatically when they are back.
    now = Timestamp(now.0 + 100 * HOUR);
    assert_eq!(fixture.book.due(now).unwrap(), []);
    std::fs::rename(&aside, &folder).unwrap();
    shop.serve(&mut fixture.book, now);
    assert_eq!(fixture.state(id), State::Delivered);
}

#[test]
fn the_shop_s_word_travels_back() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    let word = |fixture: &Fixture| fixture.book.read().order(id).unwrap().order.shop.unwrap();
    assert_eq!((word(&fixture).status, word(&fixture).message), (ShopStatus::Waiting, None));
    // Soon at first: a quarter of an hour, and not before.
    assert_eq!(fixture.book.due(after(15 * 60_000 - 1)).unwrap(), []);
    shop.words.insert(id, (ShopStatus::Question, Some("Which colour?".into())));
    shop.serve(&mut fixture.book, after(15 * 60_000));
    assert_eq!(
        (word(&fixture).status, word(&fixture).message.as_deref()),
        (ShopStatus::Question, Some("Which colour?"))
    );
    // A shop that temporarily lost it changes nothing.
    assert_eq!(shop.sync_once(&mut fixture.book, after(HOUR), || InjectedFault::ErrorBefore), 1);
    assert_eq!((fixture.state(id), word(&fixture).status), (State::Delivered, ShopStatus::Question));
    // A decision may be corrected, and how far the delivery is comes after it.
    for (hours, status, message) in [
        (3, ShopStatus::Refused, Some("Sold out.")),
        (9, ShopStatus::Accepted, None),
        (15, ShopStatus::Paid, None),
        (21, ShopStatus::Sent, Some("Parcel number: TT 0042")),
        (27, ShopStatus::Collected, None),
    ] {
        shop.words.insert(id, (status, message.map(str::to_owned)));
        shop.serve(&mut fixture.book, after(hours * HOUR));
        assert_eq!((word(&fixture).status, word(&fixture).message.as_deref()), (status, message));
    }
    // No further queries.
    assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap(), []);
}
