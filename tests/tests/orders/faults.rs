//! Any sequence of faults and restarts: every request arrives once.

use crate::fixture::{Fixture, START};
use crate::shop::{InjectedFault, Shop};
use proptest::prelude::*;
use std::collections::BTreeSet;
use steerwright_core::book::{OrderId, Timestamp};
use steerwright_core::orders::{Fault, State};

#[test]
fn after_a_day_without_a_network_ten_arrive_once_each() {
    let mut fixture = Fixture::with_shop();
    fixture.photo("progressive-turned.jpg");
    let ids: BTreeSet<OrderId> = (0..10).map(|_| fixture.queue()).collect();
    let mut shop = Shop::default();
    let mut now = START;
    let mut calls = 0;
    while now.0 < START.0 + 86_400_000 {
        calls += shop.sync_once(&mut fixture.book, now, || InjectedFault::NoNetwork);
        now = Timestamp(now.0 + 10 * 60_000);
    }
    // All ten have the same photo, which one of them queries.
    assert_eq!(calls, 144);
    for order in fixture.book.read().orders(None).unwrap() {
        assert_eq!((order.state, order.tries), (State::Queued, 0));
        assert!(matches!(order.fault, None | Some(Fault::NoNetwork)), "{order:?}");
    }
    let mut fixture = fixture.reopen();
    fixture.book.network_restored(now).unwrap();
    shop.serve(&mut fixture.book, now);
    assert_eq!(shop.requests.keys().copied().collect::<BTreeSet<_>>(), ids);
    for order in fixture.book.read().orders(None).unwrap() {
        assert_eq!(order.state, State::Delivered);
        let (body, times) = &shop.requests[&order.id];
        assert_eq!((body, *times), (&fixture.book.read().order(order.id).unwrap().body, 1));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever fails, in any order, with the book closed and reopened in between: each request is received with
    /// exactly the frozen bytes, and a receipt is accepted only for a request that the shop has. The reported time of
    /// the next call is correct: nothing is due before, and pending work is reported.
    #[test]
    fn whatever_happens_each_arrives_once(
        faults in prop::collection::vec((prop::sample::select(&InjectedFault::ALL[..]), any::<bool>()), 0..40),
        orders in 1_usize..4,
    ) {
        let mut fixture = Fixture::with_shop();
        fixture.photo("progressive-turned.jpg");
        let ids: Vec<OrderId> = (0..orders).map(|_| fixture.queue()).collect();
        let bodies: Vec<String> = ids.iter().map(|id| fixture.book.read().order(*id).unwrap().body).collect();
        let mut shop = Shop::default();
        let mut now = START;
        for (fault, restart) in faults {
            let next = fixture.book.read().next_due().unwrap();
            let next = next.expect("a request waits, or the shop's word on it is waited for");
            prop_assert_eq!(fixture.book.due(Timestamp(now.0.min(next.0 - 1))).unwrap(), []);
            prop_assert!(next <= now || fixture.book.due(now).unwrap().is_empty(), "{:?}", next);
            shop.sync_once(&mut fixture.book, now, || fault);
            if restart {
                fixture = fixture.reopen();
            }
            for order in fixture.book.read().orders(None).unwrap() {
                let has = shop.requests.contains_key(&order.id);
                prop_assert!(has || order.state != State::Delivered, "a receipt out of nothing: {:?}", order);
                prop_assert!(!has || order.may_be_with_shop || order.state == State::Delivered, "{:?}", order);
                prop_assert!(order.state != State::Rejected, "{:?}", order);
            }
            now = Timestamp(now.0 + 7 * 60_000);
        }
        // The faults end; the longest wait is six hours.
        for _ in 0..30 {
            now = Timestamp(now.0 + 6 * 3_600_000);
            shop.serve(&mut fixture.book, now);
        }
        prop_assert_eq!(shop.requests.len(), orders);
        for (id, body) in ids.iter().zip(&bodies) {
            prop_assert_eq!(fixture.state(*id), State::Delivered);
            prop_assert_eq!(&shop.requests[id].0, body);
            prop_assert_eq!(&fixture.book.read().order(*id).unwrap().body, body);
        }
    }
}
