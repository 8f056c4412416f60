//! Erasure of a contact: in the book's file, at the shop, and in the shop's database.

use super::hostile::RelayFixture;
use super::manual_clock::{ManualClock, worker};
use super::place::{Place, limits};
use super::process::free_address;
use super::relay::InjectedFault;
use std::fs;
use steerwright_core::book::{Op, OrderId};
use steerwright_core::orders::{Fault, State};
use steerwright_tests::fixture::Fixture;

const HOUR: i64 = 3_600_000;
/// Identifying texts of the fixture's request.
const TRACES: [&str; 4] =
    ["Wren Alderfoot", "wren@larch-hollow.example", "The old sawmill", "Ring twice at the blue door"];

/// Whether any file of the book contains this text.
fn book_holds(fixture: &Fixture, text: &str) -> bool {
    let paths = fixture.temp_book.names().into_iter().map(|name| fixture.temp_book.folder().join(name));
    paths
        .filter(|path| path.is_file())
        .map(|path| fs::read(path).unwrap())
        .any(|bytes| bytes.windows(text.len()).any(|window| window == text.as_bytes()))
}

#[track_caller]
fn are_there(fixture: &Fixture, place: &Place) {
    for trace in TRACES {
        assert!(
            book_holds(fixture, trace) && place.holds(trace),
            "{trace} was never there, so nothing is shown"
        );
    }
}

/// Neither the book nor the shop has any trace, and the shop erased once, at that time.
#[track_caller]
fn are_gone(fixture: &mut Fixture, place: &Place, id: OrderId, erased_at: i64) {
    assert!(fixture.book.finish_erasing().unwrap());
    for trace in TRACES {
        assert!(!book_holds(fixture, trace), "{trace} is still in the book");
        assert!(!place.holds(trace), "{trace} is still at the shop");
    }
    assert_eq!(place.erasures(), [erased_at]);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.erase_at_shop, order.fault), (State::Delivered, false, None));
    assert_eq!(order.next_at, None);
}

fn erase(fixture: &mut Fixture, id: OrderId) {
    fixture.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
}

#[test]
fn nothing_of_a_contact_is_left_on_either_side() {
    let mut way = RelayFixture::new();
    let id = way.fixture.queue();
    way.end(&mut worker());
    are_there(&way.fixture, &way.place);
    way.place.clock.forward(HOUR);
    erase(&mut way.fixture, id);
    let asked = way.place.clock.at();
    way.serve(&mut worker());
    are_gone(&mut way.fixture, &way.place, id, asked.0);
    let last = way.relay.seen().pop().unwrap();
    assert_eq!((last.what, last.status), (format!("DELETE /v1/order-requests/{id}/contact"), Some(204)));
    // No further call is made.
    let calls = way.relay.seen().len();
    way.place.clock.forward(30 * 24 * HOUR);
    way.serve(&mut worker());
    assert_eq!(way.relay.seen().len(), calls);
}

#[test]
fn a_shop_that_is_away_for_a_day_erases_when_it_is_back() {
    let place = Place::new();
    let token = place.sender("crew");
    let address = free_address();
    let server = place.serve_at(&address.to_string(), limits());
    let mut fixture = Fixture::new();
    fixture.set_shop(&server.base(), &token);
    let id = fixture.queue();
    let mut clock: ManualClock = place.clock.clone();
    worker().sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    are_there(&fixture, &place);
    // The shop stops, and its connections close.
    drop(server);
    while std::net::TcpStream::connect(address).is_ok() {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let gone_from = clock.at();
    erase(&mut fixture, id);
    for trace in TRACES {
        assert!(!book_holds(&fixture, trace), "{trace} is still in the book");
    }
    let mut calls = 0;
    while clock.at().0 < gone_from.0 + 24 * HOUR {
        let round = worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap();
        calls += round.calls;
        assert_eq!(round.answered, 0, "nobody is there to answer");
        clock.forward(10 * 60_000);
        fixture = fixture.reopen();
    }
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.erase_at_shop, order.fault), (true, Some(Fault::NotReached)));
    assert_eq!(order.tries, calls);
    assert!(calls > 5, "{calls}");
    assert_eq!(place.erasures(), [] as [i64; 0]);
    let _server = place.serve_at(&address.to_string(), limits());
    // The longest wait between two tries.
    clock.forward(6 * HOUR);
    worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap();
    are_gone(&mut fixture, &place, id, clock.at().0);
}

#[test]
fn an_answer_that_is_lost_is_asked_for_again_and_erased_once() {
    let mut way = RelayFixture::new();
    let id = way.fixture.queue();
    way.end(&mut worker());
    are_there(&way.fixture, &way.place);
    way.place.clock.forward(HOUR);
    erase(&mut way.fixture, id);
    let first = way.place.clock.at();
    // Lost on the way there, then on the way back, then truncated in transit.
    way.relay.script([InjectedFault::LostThere, InjectedFault::LostBack, InjectedFault::HalfAnswer]);
    let mut worker = worker();
    for (tries, done) in [(1, 0), (2, 1), (3, 1)] {
        way.serve(&mut worker);
        let order = way.fixture.book.read().order(id).unwrap().order;
        assert_eq!(
            (order.erase_at_shop, order.tries, order.fault),
            (true, tries, Some(Fault::ConnectionLost))
        );
        assert_eq!(way.place.erasures().len(), done);
        way.fixture = way.fixture.reopen();
        way.place.clock.forward(HOUR);
    }
    way.serve(&mut worker);
    // Done when it first arrived, and not again.
    are_gone(&mut way.fixture, &way.place, id, first.0 + HOUR);
    let asked = way.relay.seen().iter().filter(|seen| seen.what.starts_with("DELETE ")).count();
    assert_eq!(asked, 4);
}
