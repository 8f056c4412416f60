//! A contact is erased: in the book's file, at the shop, and in the shop's database.

use super::hands::{Hands, worker};
use super::hostile::Way;
use super::place::{Place, limits};
use super::process::free_address;
use super::relay::Mischief;
use std::fs;
use steerwright_core::book::{Op, OrderId};
use steerwright_core::orders::{Fault, State};
use steerwright_tests::bench::Bench;

const HOUR: i64 = 3_600_000;
/// What the bench's request says of who asked.
const TRACES: [&str; 4] =
    ["Wren Alderfoot", "wren@larch-hollow.example", "The old sawmill", "Ring twice at the blue door"];

/// Whether any file of the book has this text.
fn book_holds(bench: &Bench, text: &str) -> bool {
    let paths = bench.shelf.names().into_iter().map(|name| bench.shelf.folder().join(name));
    paths
        .filter(|path| path.is_file())
        .map(|path| fs::read(path).unwrap())
        .any(|bytes| bytes.windows(text.len()).any(|window| window == text.as_bytes()))
}

#[track_caller]
fn are_there(bench: &Bench, place: &Place) {
    for trace in TRACES {
        assert!(
            book_holds(bench, trace) && place.holds(trace),
            "{trace} was never there, so nothing is shown"
        );
    }
}

/// In the book nothing is left, at the shop nothing, and the shop erased once, at that moment.
#[track_caller]
fn are_gone(bench: &mut Bench, place: &Place, id: OrderId, erased_at: i64) {
    assert!(bench.book.finish_erasing().unwrap());
    for trace in TRACES {
        assert!(!book_holds(bench, trace), "{trace} is still in the book");
        assert!(!place.holds(trace), "{trace} is still at the shop");
    }
    assert_eq!(place.erasures(), [erased_at]);
    let order = bench.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.erase_at_shop, order.fault), (State::Delivered, false, None));
    assert_eq!(order.next_at, None);
}

fn erase(bench: &mut Bench, id: OrderId) {
    bench.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
}

#[test]
fn nothing_of_a_contact_is_left_on_either_side() {
    let mut way = Way::new();
    let id = way.bench.queue();
    way.end(&mut worker());
    are_there(&way.bench, &way.place);
    way.place.hands.forward(HOUR);
    erase(&mut way.bench, id);
    let asked = way.place.hands.at();
    way.serve(&mut worker());
    are_gone(&mut way.bench, &way.place, id, asked.0);
    let last = way.relay.seen().pop().unwrap();
    assert_eq!((last.what, last.status), (format!("DELETE /v1/order-requests/{id}/contact"), Some(204)));
    // Nothing more is asked of it.
    let calls = way.relay.seen().len();
    way.place.hands.forward(30 * 24 * HOUR);
    way.serve(&mut worker());
    assert_eq!(way.relay.seen().len(), calls);
}

#[test]
fn a_shop_that_is_away_for_a_day_erases_when_it_is_back() {
    let place = Place::new();
    let token = place.sender("crew");
    let address = free_address();
    let server = place.serve_at(&address.to_string(), limits());
    let mut bench = Bench::new();
    bench.set_shop(&server.base(), &token);
    let id = bench.queue();
    let mut hands: Hands = place.hands.clone();
    worker().sync_until_empty(&mut bench.book, &mut hands).unwrap();
    are_there(&bench, &place);
    // The shop goes; its connections with it.
    drop(server);
    while std::net::TcpStream::connect(address).is_ok() {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let gone_from = hands.at();
    erase(&mut bench, id);
    for trace in TRACES {
        assert!(!book_holds(&bench, trace), "{trace} is still in the book");
    }
    let mut calls = 0;
    while hands.at().0 < gone_from.0 + 24 * HOUR {
        let round = worker().sync_until_idle(&mut bench.book, &mut hands).unwrap();
        calls += round.calls;
        assert_eq!(round.answered, 0, "nobody is there to answer");
        hands.forward(10 * 60_000);
        bench = bench.reopen();
    }
    let order = bench.book.read().order(id).unwrap().order;
    assert_eq!((order.erase_at_shop, order.fault), (true, Some(Fault::NotReached)));
    assert_eq!(order.tries, calls);
    assert!(calls > 5, "{calls}");
    assert_eq!(place.erasures(), [] as [i64; 0]);
    let _server = place.serve_at(&address.to_string(), limits());
    // The longest wait between two tries.
    hands.forward(6 * HOUR);
    worker().sync_until_idle(&mut bench.book, &mut hands).unwrap();
    are_gone(&mut bench, &place, id, hands.at().0);
}

#[test]
fn an_answer_that_is_lost_is_asked_for_again_and_erased_once() {
    let mut way = Way::new();
    let id = way.bench.queue();
    way.end(&mut worker());
    are_there(&way.bench, &way.place);
    way.place.hands.forward(HOUR);
    erase(&mut way.bench, id);
    let first = way.place.hands.at();
    // Lost on its way there, then on its way back, then cut off while it comes.
    way.relay.script([Mischief::LostThere, Mischief::LostBack, Mischief::HalfAnswer]);
    let mut worker = worker();
    for (tries, done) in [(1, 0), (2, 1), (3, 1)] {
        way.serve(&mut worker);
        let order = way.bench.book.read().order(id).unwrap().order;
        assert_eq!(
            (order.erase_at_shop, order.tries, order.fault),
            (true, tries, Some(Fault::ConnectionLost))
        );
        assert_eq!(way.place.erasures().len(), done);
        way.bench = way.bench.reopen();
        way.place.hands.forward(HOUR);
    }
    way.serve(&mut worker);
    // Done when it first arrived, and not again.
    are_gone(&mut way.bench, &way.place, id, first.0 + HOUR);
    let asked = way.relay.seen().iter().filter(|seen| seen.what.starts_with("DELETE ")).count();
    assert_eq!(asked, 4);
}
