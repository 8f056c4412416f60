//! Days without a network, unreachable shops, and answers from the shop.

use super::manual_clock::{Always, ManualClock, worker};
use super::place::{Place, limits};
use super::process::free_address;
use super::relay::Relay;
use steerwright_core::orders::{Fault, State};
use steerwright_core::protocol::wire::ShopStatus;
use steerwright_intake::{Limits, RateLimit};
use steerwright_tests::fixture::Fixture;
use steerwright_workshop::delivery::{OutboxWorker, Timeouts, Trust};

const MINUTE: i64 = 60_000;
const DAY: i64 = 24 * 60 * MINUTE;

#[test]
fn a_day_without_a_network_and_then_ten_at_once() {
    let place = Place::new();
    let token = place.sender("crew");
    // An address without a server, for a day.
    let address = free_address();
    let mut fixture = Fixture::new();
    fixture.set_shop(&format!("http://{address}"), &token);
    fixture.photo("progressive-turned.jpg");
    let ids: Vec<_> = (0..10).map(|_| fixture.queue()).collect();
    let mut clock = place.clock.clone();
    let mut offline =
        OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(Always(false))).unwrap();
    let mut calls = 0;
    while clock.at().0 < ManualClock::default().at().0 + DAY {
        let round = offline.sync_until_idle(&mut fixture.book, &mut clock).unwrap();
        assert!(round.offline && round.answered == 0);
        calls += round.calls;
        clock.forward(10 * MINUTE);
    }
    // One call in ten minutes suffices to detect it.
    assert_eq!(calls, 144);
    for order in fixture.book.read().orders(None).unwrap() {
        assert_eq!((order.state, order.tries, order.may_be_with_shop), (State::Queued, 0, false));
        assert!(matches!(order.fault, None | Some(Fault::NoNetwork)), "{order:?}");
    }
    let mut fixture = fixture.reopen();
    let _server = place.serve_at(&address.to_string(), limits());
    fixture.book.network_restored(clock.at()).unwrap();
    let before = clock.at();
    let round = worker().sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    // Ten requests, and the photo common to all once: queried ten times, sent in one part.
    assert_eq!((round.calls, round.answered), (21, 21));
    assert_eq!(clock.at(), before, "nothing had to wait");
    place.has_all_of(&fixture.book);
    assert_eq!(place.requests().into_keys().collect::<Vec<_>>(), ids);
}

#[test]
fn a_shop_that_is_away_is_tried_again_less_and_less_often() {
    let place = Place::new();
    let token = place.sender("crew");
    let address = free_address();
    let mut fixture = Fixture::new();
    fixture.set_shop(&format!("http://{address}"), &token);
    let id = fixture.queue();
    let mut clock = place.clock.clone();
    let mut worker = worker();
    let mut calls = 0;
    for _ in 0..24 * 60 {
        calls += worker.sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls;
        clock.forward(MINUTE);
    }
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.fault), (State::Queued, Some(Fault::NotReached)));
    assert_eq!(order.tries, calls);
    // Half a minute doubles up to six hours, and half of each wait is random: the 11th call comes after 4 h 15 min to 8
    // h 42 min, and then one in 3 to 6 hours, so that 2 to 6 more are within the day.
    assert!((13..=17).contains(&calls), "{calls}");
    let _server = place.serve_at(&address.to_string(), limits());
    worker.sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    place.has_all_of(&fixture.book);
}

#[test]
fn the_shop_s_answers_travel_back() {
    let place = Place::new();
    let token = place.sender("crew");
    let server = place.serve();
    let mut fixture = Fixture::new();
    fixture.set_shop(&server.base(), &token);
    let id = fixture.queue();
    let mut clock = place.clock.clone();
    let mut worker = worker();
    worker.sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    let mut ask = |fixture: &mut Fixture| {
        clock.forward(15 * MINUTE);
        let calls = worker.sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls;
        (calls, fixture.book.read().order(id).unwrap().order.shop.unwrap())
    };
    let (calls, said) = ask(&mut fixture);
    assert_eq!((calls, said.status), (1, ShopStatus::Waiting));
    place.answer(id, ShopStatus::Question, Some("Which colour?\nWe have two."));
    let (_, said) = ask(&mut fixture);
    assert_eq!(
        (said.status, said.message.as_deref()),
        (ShopStatus::Question, Some("Which colour?\nWe have two."))
    );
    place.answer(id, ShopStatus::Refused, Some("Sold out until June."));
    let (calls, said) = ask(&mut fixture);
    assert_eq!(
        (calls, said.status, said.message.as_deref()),
        (1, ShopStatus::Refused, Some("Sold out until June."))
    );
    assert_eq!(
        said.since,
        Some(place.clock.at()).map(|now| steerwright_core::book::Timestamp(now.0 - 15 * MINUTE))
    );
    // A decision may be corrected; the end of the delivery is final.
    place.answer(id, ShopStatus::Accepted, Some("Found one."));
    place.answer(id, ShopStatus::Collected, None);
    let (calls, said) = ask(&mut fixture);
    assert_eq!((calls, said.status), (1, ShopStatus::Collected));
    assert_eq!(ask(&mut fixture).0, 0);
    place.has_all_of(&fixture.book);
}

#[test]
fn a_shop_that_slows_senders_down_gets_all_in_time() {
    let place = Place::new();
    let token = place.sender("crew");
    let server =
        place.serve_with(Limits { sender_rate: RateLimit { burst: 2, per_second: 0.1 }, ..limits() });
    let relay = Relay::to(server.address);
    let mut fixture = Fixture::new();
    fixture.set_shop(&relay.base(), &token);
    for _ in 0..5 {
        fixture.queue();
    }
    let mut clock = place.clock.clone();
    let first = worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap();
    assert_eq!(first.answered, 5);
    let orders = fixture.book.read().orders(None).unwrap();
    let refused = orders.iter().filter(|it| matches!(it.fault, Some(Fault::Busy { status: 429, .. })));
    assert_eq!(refused.inspect(|it| assert_eq!(it.state, State::Queued)).count(), 3);
    assert_eq!(place.requests().len(), 2);
    worker().sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    place.has_all_of(&fixture.book);
}
