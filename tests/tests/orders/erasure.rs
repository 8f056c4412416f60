//! Erased data leaves no trace.

use crate::fixture::{Fixture, START};
use crate::shop::{InjectedFault, Shop, answer, problem};
use std::collections::BTreeSet;
use std::fs;
use steerwright_core::book::{Op, OrderId, Timestamp};
use steerwright_core::orders::{CallOutcome, Fault, State, Step};
use steerwright_core::protocol::wire::ProblemKind;

const HOUR: i64 = 3_600_000;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

fn erase(fixture: &mut Fixture, id: OrderId) {
    fixture.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
}

/// Contents of every file in the book's folder, including photos.
fn bytes(fixture: &Fixture) -> Vec<u8> {
    let mut all = Vec::new();
    for name in fixture.temp_book.names() {
        let path = fixture.temp_book.folder().join(name);
        if path.is_file() {
            all.extend(fs::read(path).unwrap());
        }
    }
    all
}

fn holds(all: &[u8], text: &str) -> bool {
    all.windows(text.len()).any(|window| window == text.as_bytes())
}

#[test]
fn no_trace_of_a_contact_is_left_in_the_file_or_its_log() {
    let mut fixture = Fixture::with_shop();
    let draft = fixture.draft();
    let sent = fixture.queue();
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    let waiting = fixture.queue();
    let mut fixture = fixture.reopen();
    assert_eq!(fixture.temp_book.backups().len(), 1, "the backup of the day has it too");
    let traces = ["Wren Alderfoot", "wren@larch-hollow.example", "The old sawmill", "Ring twice"];
    let all = bytes(&fixture);
    for trace in traces {
        assert!(holds(&all, trace), "{trace} was never there, so this shows nothing");
    }
    let asked = fixture.book.read().order(sent).unwrap();
    for id in [sent, waiting] {
        fixture.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
    }
    assert!(fixture.book.finish_erasing().unwrap());
    assert!(!fixture.book.read().erasing().unwrap());
    let all = bytes(&fixture);
    for trace in traces {
        assert!(!holds(&all, trace), "{trace} is still there");
    }

    // Its id and the ordered items stay, and unsent requests are no longer sent.
    let left = fixture.book.read().order(sent).unwrap();
    assert_eq!((left.order.id, left.order.state), (sent, State::Delivered));
    assert!(left.order.erased_at.is_some());
    assert_eq!((&left.request.kit, &left.request.found), (&asked.request.kit, &asked.request.found));
    assert_eq!(fixture.state(waiting), State::Withdrawn);
    let calls = shop.calls;
    shop.serve(&mut fixture.book, after(24 * HOUR));
    // Except for one call: the shop is asked to erase its copy.
    assert_eq!((shop.calls, &shop.erased), (calls + 1, &BTreeSet::from([sent])));
    shop.serve(&mut fixture.book, after(48 * HOUR));
    assert_eq!(shop.calls, calls + 1);
    // The book stays usable.
    let mut fixture = fixture.reopen();
    assert_eq!(fixture.book.read().examine().unwrap(), Vec::<String>::new());
    fixture.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap();
}

/// Asked until the shop confirms it, whatever fails in between; nothing else of such a request is sent.
#[test]
fn the_shop_is_asked_until_it_says_so() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    erase(&mut fixture, id);
    let mut now = START;
    let mut tries = 0;
    for outcome in [
        CallOutcome::NoNetwork,
        CallOutcome::NotReached,
        CallOutcome::Timeout,
        // A shop without this address, one that no longer knows the token, one with an error.
        CallOutcome::Answer(problem(ProblemKind::NotFound)),
        CallOutcome::Answer(answer(405, &[], Vec::new())),
        CallOutcome::Answer(problem(ProblemKind::Token)),
        CallOutcome::Answer(answer(500, &[], Vec::new())),
        CallOutcome::Answer(answer(301, &[], Vec::new())),
    ] {
        now = Timestamp(now.0 + 12 * HOUR);
        let due = fixture.book.due(now).unwrap();
        let [call] = due.as_slice() else { panic!("{outcome:?}: {due:?}") };
        assert_eq!((call.step, call.method), (Step::Erase, "DELETE"));
        assert_eq!(call.path, format!("/v1/order-requests/{id}/contact"));
        assert!(fixture.book.begin_call(call, now).unwrap());
        // In flight once only.
        assert_eq!(fixture.book.due(now).unwrap(), []);
        assert!(fixture.book.finish_call(call.id, &outcome, now).unwrap().output);
        let order = fixture.book.read().order(id).unwrap().order;
        tries += u32::from(outcome != CallOutcome::NoNetwork);
        assert_eq!(
            (order.state, order.tries, order.erase_at_shop),
            (State::Delivered, tries, true),
            "{outcome:?}"
        );
        assert_eq!((order.reason, order.fault.is_some()), (None, true), "{outcome:?}");
    }
    // The program ends while a call is in flight: it is repeated.
    now = Timestamp(now.0 + 12 * HOUR);
    shop.sync_once(&mut fixture.book, now, || InjectedFault::Killed);
    let mut fixture = fixture.reopen();
    now = Timestamp(now.0 + 12 * HOUR);
    assert_eq!(fixture.book.due(now).unwrap(), []);
    assert_eq!(fixture.book.read().order(id).unwrap().order.fault, Some(Fault::Interrupted));
    now = Timestamp(now.0 + 12 * HOUR);
    assert_eq!(shop.sync_once(&mut fixture.book, now, || InjectedFault::None), 1);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.erase_at_shop, order.next_at, order.fault), (false, None, None));
    assert_eq!(fixture.book.due(Timestamp(now.0 + 1_000 * HOUR)).unwrap(), []);
}

/// A request that a shop may have is treated like one that it has; a call in flight at the time of the erasure is
/// awaited.
#[test]
fn what_perhaps_arrived_is_erased_there_too() {
    let mut fixture = Fixture::with_shop();
    let mut shop = Shop::default();
    let perhaps = fixture.queue();
    assert_eq!(shop.sync_once(&mut fixture.book, START, || InjectedFault::LostBack), 1);
    assert_eq!(fixture.state(perhaps), State::InDoubt);
    let underway = fixture.queue();
    let due = fixture.book.due(START).unwrap();
    assert!(
        fixture
            .book
            .begin_call(due.iter().find(|it| it.id.order() == Some(underway)).unwrap(), START)
            .unwrap()
    );
    let never = fixture.queue();
    for id in [perhaps, underway, never] {
        erase(&mut fixture, id);
        assert_eq!(fixture.state(id), State::Withdrawn);
    }
    let orders = fixture.book.read().orders(None).unwrap();
    let asked: BTreeSet<OrderId> = orders.iter().filter(|it| it.erase_at_shop).map(|it| it.id).collect();
    assert_eq!(asked, BTreeSet::from([perhaps, underway]));
    // The book's clock is at the time of the erasure, a day before START.
    shop.serve(&mut fixture.book, after(0));
    assert!(shop.erased.contains(&perhaps) && !shop.erased.contains(&never), "{:?}", shop.erased);
    shop.serve(&mut fixture.book, after(24 * HOUR));
    assert_eq!(shop.erased, BTreeSet::from([perhaps, underway]));
    assert_eq!(shop.requests.keys().copied().collect::<Vec<_>>(), [perhaps]);
}
