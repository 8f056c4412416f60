//! The shop's address or token is changed: a request that a shop has stays with it, any other goes to the new one.

use crate::fixture::{Fixture, START};
use crate::shop::{InjectedFault, Shop};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use steerwright_core::book::{BookError, Op, OrderId, Timestamp};
use steerwright_core::orders::{OrderShop, Reason, ShopSetting, State, Step, Token};

const HOUR: i64 = 3_600_000;
/// The fixture's own.
const OLD: &str = "https://shop.example";
const NEW: &str = "https://other.example";

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

/// Two shops, each at its address and with its own token.
fn shops() -> BTreeMap<&'static str, Shop> {
    [(OLD, Shop::default()), (NEW, Shop { token: Some("tarn-and-tiller-2"), ..Shop::default() })].into()
}

/// Executes everything due at a time, each call at its shop; returns the calls.
fn serve(
    fixture: &mut Fixture,
    shops: &mut BTreeMap<&'static str, Shop>,
    now: Timestamp,
) -> Vec<(String, Step)> {
    let mut calls = Vec::new();
    for _ in 0..100 {
        let due = fixture.book.due(now).unwrap();
        if due.is_empty() {
            return calls;
        }
        for call in due {
            assert!(fixture.book.begin_call(&call, now).unwrap());
            let shop = shops.get_mut(call.base.as_str()).unwrap();
            let outcome = shop.visited(&call, InjectedFault::None).unwrap();
            assert!(fixture.book.finish_call(call.id, &outcome, now).unwrap().output);
            calls.push((call.base, call.step));
        }
    }
    panic!("there is no end to what is due");
}

fn move_to_the_new_one(fixture: &mut Fixture) {
    fixture.set_shop(NEW, "tarn-and-tiller-2");
}

fn at(fixture: &Fixture, id: OrderId) -> Option<OrderShop> {
    fixture.book.read().order(id).unwrap().order.at
}

fn there(base: &str) -> Option<OrderShop> {
    Some(OrderShop { base: base.to_owned(), agreed: true })
}

/// A request that the old shop has, one that it may have, and one with an unsent photo.
fn three(shops: &mut BTreeMap<&'static str, Shop>) -> (Fixture, [OrderId; 3]) {
    let mut fixture = Fixture::with_shop();
    let old = shops.get_mut(OLD).unwrap();
    let has = fixture.queue();
    old.serve(&mut fixture.book, START);
    let perhaps = fixture.queue();
    assert_eq!(old.sync_once(&mut fixture.book, START, || InjectedFault::LostBack), 1);
    fixture.photo("progressive-turned.jpg");
    let waits = fixture.queue();
    // Half of its photo is at the old shop.
    assert_eq!(old.sync_once(&mut fixture.book, START, || InjectedFault::None), 1);
    assert_eq!(old.sync_once(&mut fixture.book, START, || InjectedFault::Truncated), 1);
    let states = [has, perhaps, waits].map(|id| fixture.state(id));
    assert_eq!(states, [State::Delivered, State::InDoubt, State::Queued]);
    assert_eq!([has, perhaps, waits].map(|id| at(&fixture, id)), [there(OLD), there(OLD), None]);
    (fixture, [has, perhaps, waits])
}

#[test]
fn what_a_shop_has_stays_with_it_and_the_rest_goes_to_the_new_one() {
    let mut shops = shops();
    let (mut fixture, [has, perhaps, waits]) = three(&mut shops);
    move_to_the_new_one(&mut fixture);
    let mut fixture = fixture.reopen();
    let calls = serve(&mut fixture, &mut shops, after(HOUR));
    let of = |base: &str| -> Vec<&Step> {
        calls.iter().filter(|(at, _)| at == base).map(|(_, step)| step).collect()
    };
    let mut old = of(OLD);
    old.sort_by_key(|step| format!("{step:?}"));
    assert_eq!(old, [&Step::Ask, &Step::Send]);
    // From the first byte on: the old shop's part of the photo is irrelevant to the new one.
    let [Step::AskPhoto { .. }, Step::SendPhoto { from: 0, .. }, Step::Send] = of(NEW)[..] else {
        panic!("{calls:?}")
    };
    let keys = |base| shops[base].requests.keys().copied().collect::<BTreeSet<_>>();
    assert_eq!((keys(OLD), keys(NEW)), ([has, perhaps].into(), [waits].into()));
    assert_eq!([has, perhaps, waits].map(|id| fixture.state(id)), [State::Delivered; 3]);
    assert_eq!([has, perhaps, waits].map(|id| at(&fixture, id)), [there(OLD), there(OLD), there(NEW)]);

    // The contact is erased at the shop that has it.
    for id in [has, perhaps, waits] {
        fixture.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
    }
    serve(&mut fixture, &mut shops, after(2 * HOUR));
    assert_eq!(shops[OLD].erased, [has, perhaps].into());
    assert_eq!(shops[NEW].erased, [waits].into());
    let orders = fixture.book.read().orders(None).unwrap();
    assert!(orders.iter().all(|order| !order.erase_at_shop && order.reason.is_none()), "{orders:?}");
    assert_eq!(fixture.book.read().examine().unwrap(), Vec::<String>::new());
}

/// The outcome of a call in flight during the change is applied to its original shop; a part of a photo in transfer to
/// the old shop is irrelevant to the new one.
#[test]
fn what_is_on_its_way_comes_back_from_where_it_went() {
    let mut shops = shops();
    let mut fixture = Fixture::with_shop();
    let sent = fixture.queue();
    fixture.photo("progressive-turned.jpg");
    let waits = fixture.queue();
    let due = fixture.book.due(START).unwrap();
    assert_eq!(due.len(), 2);
    for call in &due {
        assert!(fixture.book.begin_call(call, START).unwrap());
    }
    move_to_the_new_one(&mut fixture);
    for call in &due {
        let outcome = shops.get_mut(OLD).unwrap().visited(call, InjectedFault::None).unwrap();
        let heard = fixture.book.finish_call(call.id, &outcome, START).unwrap().output;
        assert_eq!(heard, call.id.order() == Some(sent), "{call:?}");
    }
    assert_eq!((fixture.state(sent), at(&fixture, sent)), (State::Delivered, there(OLD)));
    serve(&mut fixture, &mut shops, after(HOUR));
    assert_eq!((fixture.state(waits), at(&fixture, waits)), (State::Delivered, there(NEW)));
    // Calls that were due at the old shop before must not be sent there any more.
    let third = fixture.queue();
    let due = fixture.book.due(after(HOUR)).unwrap();
    fixture.set_shop(OLD, "larch-hollow-1");
    assert!(
        !fixture
            .book
            .begin_call(due.iter().find(|it| it.id.order() == Some(third)).unwrap(), after(HOUR))
            .unwrap()
    );
}

/// Another token is another sender: requests sent with the old one are queried with it, until the shop no longer knows
/// it.
#[test]
fn a_request_keeps_the_token_it_was_sent_with_as_long_as_it_is_good() {
    let mut shop = Shop::default();
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    shop.serve(&mut fixture.book, START);
    let token = Token::new("larch-hollow-2").unwrap();
    fixture.book.transact(Op::ChangeSettings, |work| work.set_shop(OLD, &token)).unwrap();
    let now = after(HOUR);
    // The shop's receiver still knows the old one: the answer arrives.
    assert_eq!(shop.sync_once(&mut fixture.book, now, || InjectedFault::None), 1);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.fault, order.tries), (None, 0));
    // It is no longer known: retried with the new one.
    shop.token = Some("larch-hollow-2");
    let now = after(3 * HOUR);
    assert_eq!(shop.sync_once(&mut fixture.book, now, || InjectedFault::None), 1);
    assert_eq!(fixture.book.read().order(id).unwrap().order.tries, 1);
    let now = after(9 * HOUR);
    assert_eq!(shop.sync_once(&mut fixture.book, now, || InjectedFault::None), 1);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.fault, order.tries), (None, 0));
    // A new request uses the new one from the start.
    let second = fixture.queue();
    shop.serve(&mut fixture.book, now);
    assert_eq!(fixture.state(second), State::Delivered);
}

/// A request that the shop may have and that it refused for its token is sent there again with the token entered since.
#[test]
fn sent_again_it_goes_where_it_may_be() {
    let mut shops = shops();
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let old = shops.get_mut(OLD).unwrap();
    assert_eq!(old.sync_once(&mut fixture.book, START, || InjectedFault::LostThere), 1);
    old.token = Some("larch-hollow-2");
    assert_eq!(old.sync_once(&mut fixture.book, after(HOUR), || InjectedFault::None), 1);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.reason), (State::Rejected, Some(Reason::Token)));
    fixture.set_shop(OLD, "larch-hollow-2");
    move_to_the_new_one(&mut fixture);
    fixture.book.transact(Op::Order, |work| work.send_order_again(id)).unwrap();
    let due = fixture.book.due(after(2 * HOUR)).unwrap();
    assert_eq!(due.iter().map(|it| it.base.as_str()).collect::<Vec<_>>(), [OLD]);
    serve(&mut fixture, &mut shops, after(2 * HOUR));
    assert_eq!(
        fixture.book.read().order(id).unwrap().order.reason,
        Some(Reason::Token),
        "with the old token"
    );
    fixture.set_shop(OLD, "larch-hollow-2");
    fixture.book.transact(Op::Order, |work| work.send_order_again(id)).unwrap();
    serve(&mut fixture, &mut shops, after(3 * HOUR));
    assert_eq!(fixture.state(id), State::Delivered);
    assert_eq!((shops[OLD].requests.len(), shops[NEW].requests.len()), (1, 0));
}

#[test]
fn a_shop_that_was_erased_leaves_a_reason_and_no_trace() {
    let mut shops = shops();
    let (fixture, [has, perhaps, waits]) = three(&mut shops);
    let mut fixture = fixture.reopen();
    assert_eq!(fixture.temp_book.backups().len(), 1, "the backup of the day has it too");
    move_to_the_new_one(&mut fixture);
    let trace = |fixture: &Fixture, text: &str| {
        let paths = fixture.temp_book.names().into_iter().map(|name| fixture.temp_book.folder().join(name));
        let files = paths.filter(|path| path.is_file()).map(|path| fs::read(path).unwrap());
        files.into_iter().any(|bytes| bytes.windows(text.len()).any(|window| window == text.as_bytes()))
    };
    assert!(trace(&fixture, OLD) && trace(&fixture, "larch-hollow-1"), "else this shows nothing");
    fixture.book.transact(Op::ChangeSettings, |work| work.forget_shop(&format!("{OLD}/"))).unwrap();
    assert!(fixture.book.finish_erasing().unwrap());
    assert!(!trace(&fixture, OLD) && !trace(&fixture, "larch-hollow-1"));

    // Nothing of it is sent to any shop; unsent requests go to the new one.
    let gone = Some(Reason::ShopGone);
    serve(&mut fixture, &mut shops, after(HOUR));
    for id in [has, perhaps] {
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((&order.reason, order.at, order.next_at), (&gone, None, None), "{id}");
        assert!(!order.reason.unwrap().same_again());
    }
    assert_eq!((fixture.state(perhaps), fixture.state(waits)), (State::InDoubt, State::Delivered));
    assert_eq!(shops[NEW].requests.keys().copied().collect::<Vec<_>>(), [waits]);
    // Erased here, and the user is informed that it was not erased at the shop.
    fixture.book.transact(Op::Order, |work| work.erase_contact(has)).unwrap();
    let order = fixture.book.read().order(has).unwrap().order;
    assert_eq!((order.reason, order.erase_at_shop, order.next_at), (gone, true, None));
    assert_eq!(serve(&mut fixture, &mut shops, after(24 * HOUR)).len(), 1);
    fixture.book.transact(Op::Order, |work| work.withdraw_order(perhaps)).unwrap();
    assert_eq!(fixture.book.read().order(perhaps).unwrap().order.reason, None);
    // There is nothing left to forget.
    let none = fixture.book.transact(Op::ChangeSettings, |work| work.forget_shop(OLD)).unwrap_err();
    assert!(matches!(none, BookError::Refused(_)), "{none}");
    assert_eq!(fixture.book.read().examine().unwrap(), Vec::<String>::new());

    // The present one too: then there is none.
    fixture.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(true)).unwrap();
    fixture.book.transact(Op::ChangeSettings, |work| work.forget_shop(NEW)).unwrap();
    assert_eq!(fixture.book.read().shop().unwrap(), None::<ShopSetting>);
    assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap(), []);
}

#[test]
fn without_an_agreement_no_shop_is_asked() {
    let mut shops = shops();
    let (mut fixture, [has, perhaps, _]) = three(&mut shops);
    move_to_the_new_one(&mut fixture);
    fixture.book.transact(Op::ChangeSettings, |work| work.end_agreement()).unwrap();
    assert_eq!(fixture.book.due(after(HOUR)).unwrap(), []);
    for id in [has, perhaps] {
        assert_eq!(at(&fixture, id), Some(OrderShop { base: OLD.to_owned(), agreed: false }));
    }
    // Agreeing to the new one does not imply any other agreement.
    move_to_the_new_one(&mut fixture);
    let due = fixture.book.due(after(HOUR)).unwrap();
    assert!(!due.is_empty() && due.iter().all(|call| call.base == NEW), "{due:?}");
}
