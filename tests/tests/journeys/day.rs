//! Days without a network, shops that are away, and answers that travel back.

use super::hands::{Always, Hands, worker};
use super::place::{Place, limits};
use super::process::free_address;
use super::relay::Relay;
use steerwright_core::orders::{Fault, State};
use steerwright_core::protocol::wire::ShopStatus;
use steerwright_intake::{Limits, RateLimit};
use steerwright_tests::bench::Bench;
use steerwright_workshop::delivery::{OutboxWorker, Timeouts, Trust};

const MINUTE: i64 = 60_000;
const DAY: i64 = 24 * 60 * MINUTE;

#[test]
fn a_day_without_a_network_and_then_ten_at_once() {
    let place = Place::new();
    let token = place.sender("crew");
    // An address where nobody is, for a day.
    let address = free_address();
    let mut bench = Bench::new();
    bench.set_shop(&format!("http://{address}"), &token);
    bench.photo("progressive-turned.jpg");
    let ids: Vec<_> = (0..10).map(|_| bench.queue()).collect();
    let mut hands = place.hands.clone();
    let mut offline =
        OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(Always(false))).unwrap();
    let mut calls = 0;
    while hands.at().0 < Hands::default().at().0 + DAY {
        let round = offline.sync_until_idle(&mut bench.book, &mut hands).unwrap();
        assert!(round.offline && round.answered == 0);
        calls += round.calls;
        hands.forward(10 * MINUTE);
    }
    // One call in ten minutes is enough to find out.
    assert_eq!(calls, 144);
    for order in bench.book.read().orders(None).unwrap() {
        assert_eq!((order.state, order.tries, order.may_be_with_shop), (State::Queued, 0, false));
        assert!(matches!(order.fault, None | Some(Fault::NoNetwork)), "{order:?}");
    }
    let mut bench = bench.reopen();
    let _server = place.serve_at(&address.to_string(), limits());
    bench.book.network_restored(hands.at()).unwrap();
    let before = hands.at();
    let round = worker().sync_until_empty(&mut bench.book, &mut hands).unwrap();
    // Ten requests, and the photo that goes with them all once: asked for ten times, sent in one part.
    assert_eq!((round.calls, round.answered), (21, 21));
    assert_eq!(hands.at(), before, "nothing had to wait");
    place.has_all_of(&bench.book);
    assert_eq!(place.requests().into_keys().collect::<Vec<_>>(), ids);
}

#[test]
fn a_shop_that_is_away_is_tried_again_less_and_less_often() {
    let place = Place::new();
    let token = place.sender("crew");
    let address = free_address();
    let mut bench = Bench::new();
    bench.set_shop(&format!("http://{address}"), &token);
    let id = bench.queue();
    let mut hands = place.hands.clone();
    let mut worker = worker();
    let mut calls = 0;
    for _ in 0..24 * 60 {
        calls += worker.sync_until_idle(&mut bench.book, &mut hands).unwrap().calls;
        hands.forward(MINUTE);
    }
    let order = bench.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.fault), (State::Queued, Some(Fault::NotReached)));
    assert_eq!(order.tries, calls);
    // Half a minute doubles up to six hours, and half of each wait is chance: the 11th call comes after 4 h 15 min to
    // 8 h 42 min, and then one in 3 to 6 hours, so that 2 to 6 more fall into the day.
    assert!((13..=17).contains(&calls), "{calls}");
    let _server = place.serve_at(&address.to_string(), limits());
    worker.sync_until_empty(&mut bench.book, &mut hands).unwrap();
    place.has_all_of(&bench.book);
}

#[test]
fn the_shop_s_answers_travel_back() {
    let place = Place::new();
    let token = place.sender("crew");
    let server = place.serve();
    let mut bench = Bench::new();
    bench.set_shop(&server.base(), &token);
    let id = bench.queue();
    let mut hands = place.hands.clone();
    let mut worker = worker();
    worker.sync_until_empty(&mut bench.book, &mut hands).unwrap();
    let mut ask = |bench: &mut Bench| {
        hands.forward(15 * MINUTE);
        let calls = worker.sync_until_idle(&mut bench.book, &mut hands).unwrap().calls;
        (calls, bench.book.read().order(id).unwrap().order.shop.unwrap())
    };
    let (calls, said) = ask(&mut bench);
    assert_eq!((calls, said.word), (1, ShopStatus::Waiting));
    place.answer(id, ShopStatus::Question, Some("Which colour?\nWe have two."));
    let (_, said) = ask(&mut bench);
    assert_eq!(
        (said.word, said.message.as_deref()),
        (ShopStatus::Question, Some("Which colour?\nWe have two."))
    );
    place.answer(id, ShopStatus::Refused, Some("Sold out until June."));
    let (calls, said) = ask(&mut bench);
    assert_eq!(
        (calls, said.word, said.message.as_deref()),
        (1, ShopStatus::Refused, Some("Sold out until June."))
    );
    assert_eq!(
        said.since,
        Some(place.hands.at()).map(|now| steerwright_core::book::Timestamp(now.0 - 15 * MINUTE))
    );
    // The last word was heard.
    assert_eq!(ask(&mut bench).0, 0);
    place.has_all_of(&bench.book);
}

#[test]
fn a_shop_that_slows_senders_down_gets_all_in_time() {
    let place = Place::new();
    let token = place.sender("crew");
    let server =
        place.serve_with(Limits { sender_rate: RateLimit { burst: 2, per_second: 0.1 }, ..limits() });
    let relay = Relay::to(server.address);
    let mut bench = Bench::new();
    bench.set_shop(&relay.base(), &token);
    for _ in 0..5 {
        bench.queue();
    }
    let mut hands = place.hands.clone();
    let first = worker().sync_until_idle(&mut bench.book, &mut hands).unwrap();
    assert_eq!(first.answered, 5);
    let orders = bench.book.read().orders(None).unwrap();
    let refused = orders.iter().filter(|it| matches!(it.fault, Some(Fault::Busy { status: 429, .. })));
    assert_eq!(refused.inspect(|it| assert_eq!(it.state, State::Queued)).count(), 3);
    assert_eq!(place.requests().len(), 2);
    worker().sync_until_empty(&mut bench.book, &mut hands).unwrap();
    place.has_all_of(&bench.book);
}
