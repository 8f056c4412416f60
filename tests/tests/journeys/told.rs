//! Asking at once, answering the shop and withdrawing, against the shop's own receiver.

use super::manual_clock::{Always, worker};
use super::place::{Place, limits};
use steerwright_core::book::{Op, OrderId};
use steerwright_core::orders::{Fault, MessageState, OrderDraft, State};
use steerwright_core::protocol::wire::{CancellationOutcome, ShopStatus};
use steerwright_intake::messages;
use steerwright_intake::{Limits, RateLimit};
use steerwright_tests::fixture::Fixture;
use steerwright_workshop::delivery::{OutboxWorker, Timeouts, Trust};

const MINUTE: i64 = 60_000;

fn with(place: &Place, base: &str) -> (Fixture, OrderId) {
    let mut fixture = Fixture::new();
    fixture.set_shop(base, &place.sender("crew"));
    let id = fixture.queue();
    worker().sync_until_empty(&mut fixture.book, &mut place.clock.clone()).unwrap();
    (fixture, id)
}

#[test]
fn an_answer_that_lies_ready_is_there_when_the_user_asks() {
    let place = Place::new();
    let server = place.serve();
    let (mut fixture, id) = with(&place, &server.base());
    let mut clock = place.clock.clone();
    place.answer(id, ShopStatus::Accepted, Some("On Friday."));
    assert_eq!(worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls, 0);
    fixture.book.ask_now(None, clock.at()).unwrap();
    assert_eq!(worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls, 1);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.shop.unwrap().status, order.shop_number), (ShopStatus::Accepted, Some(1)));
}

/// The shop's own limit is what holds a user back who asks again and again.
#[test]
fn asking_again_and_again_is_slowed_by_the_shop_alone() {
    let place = Place::new();
    let server =
        place.serve_with(Limits { sender_rate: RateLimit { burst: 3, per_second: 0.01 }, ..limits() });
    let (mut fixture, id) = with(&place, &server.base());
    let mut clock = place.clock.clone();
    let mut calls = 0;
    for _ in 0..10 {
        fixture.book.ask_now(Some(id), clock.at()).unwrap();
        calls += worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls;
    }
    // One call sent it, two asked, and one was told to wait.
    assert_eq!(calls, 3);
    let order = fixture.book.read().order(id).unwrap().order;
    assert!(matches!(order.fault, Some(Fault::Busy { status: 429, .. })), "{order:?}");
    assert_eq!(order.state, State::Delivered);
}

#[test]
fn the_shop_is_answered_and_the_changed_request_comes_with_it() {
    let place = Place::new();
    let server = place.serve();
    let (mut fixture, id) = with(&place, &server.base());
    let mut clock = place.clock.clone();
    clock.forward(MINUTE);
    place.answer(id, ShopStatus::Question, Some("One or two?"));
    fixture.book.ask_now(None, clock.at()).unwrap();
    worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap();
    let draft = OrderDraft { quantity: 2, ..fixture.draft() };
    let told = fixture.book.transact(Op::Order, |work| work.tell_shop(id, "Two, please.", Some(&draft)));
    let changed = told.unwrap().output.changed.unwrap();
    // Without a network it waits and costs no try.
    let mut offline =
        OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(Always(false))).unwrap();
    assert!(offline.sync_until_idle(&mut fixture.book, &mut clock).unwrap().offline);
    let mut fixture = fixture.reopen();
    clock.forward(MINUTE);
    fixture.book.network_restored(clock.at()).unwrap();
    worker().sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    let screen = fixture.book.read().order(id).unwrap();
    assert_eq!((screen.messages[0].state, screen.order.tries), (MessageState::Sent, 0));
    assert_eq!(screen.order.shop.unwrap().status, ShopStatus::Waiting);
    let here = place.requests();
    assert_eq!(here[&changed].1.replaces, Some(id));
    let said = place.runtime.block_on(messages::of_request(&place.database, here[&id].0)).unwrap();
    assert_eq!(said.len(), 1);
    assert_eq!(
        (said[0].text.as_deref(), said[0].changed_number),
        (Some("Two, please."), Some(here[&changed].0))
    );
}

#[test]
fn a_withdrawal_travels_to_the_shop_and_its_answer_back() {
    for (word, outcome, status) in [
        (None, CancellationOutcome::Accepted, ShopStatus::Withdrawn),
        (Some(ShopStatus::Accepted), CancellationOutcome::TooLate, ShopStatus::Accepted),
    ] {
        let place = Place::new();
        let server = place.serve();
        let (mut fixture, id) = with(&place, &server.base());
        let mut clock = place.clock.clone();
        if let Some(word) = word {
            place.answer(id, word, None);
        }
        fixture.book.transact(Op::Order, |work| work.withdraw_order(id)).unwrap();
        let mut fixture = fixture.reopen();
        worker().sync_until_empty(&mut fixture.book, &mut clock).unwrap();
        let screen = fixture.book.read().order(id).unwrap();
        assert_eq!(screen.messages[0].outcome, Some(outcome));
        assert_eq!(screen.order.shop.unwrap().status, status);
        let number = place.requests()[&id].0;
        let kept = steerwright_intake::orders::load(&place.database, number);
        let kept = place.runtime.block_on(kept).unwrap().unwrap();
        assert_eq!((kept.status, kept.cancelled_at.is_some()), (status, true));
    }
}
