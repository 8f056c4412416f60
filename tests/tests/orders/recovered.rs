//! Requests in a damaged book: one that a shop may have is sent to its original shop, under its own key, or not at all.

use crate::fixture::{Fixture, START};
use crate::shop::{InjectedFault, Shop};
use rusqlite::Connection;
use std::fs;
use steerwright_core::book::{Opened, OrderId, Timestamp};
use steerwright_core::orders::{OrderShop, Reason, State, Step};

const HOUR: i64 = 3_600_000;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

/// Closes the book, makes its outbox illegible and reopens it, which recovers it.
fn recover(fixture: Fixture, with_backup: bool) -> Fixture {
    let Fixture { temp_book, book, bike, sku, photos } = fixture;
    drop(book);
    if !with_backup {
        temp_book.remove_backups();
    }
    let conn = Connection::open(temp_book.path()).unwrap();
    let (page, size): (usize, usize) = conn
        .query_row("SELECT rootpage, (SELECT page_size FROM pragma_page_size) FROM sqlite_schema WHERE name = 'outbox'", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    drop(conn);
    let mut bytes = fs::read(temp_book.path()).unwrap();
    bytes[(page - 1) * size..page * size].fill(0xEE);
    fs::write(temp_book.path(), bytes).unwrap();
    let (book, opened) = temp_book.try_open().unwrap();
    let Opened::Recovered(recovery) = opened else { panic!("{opened:?}") };
    assert_eq!((recovery.backup.is_some(), recovery.in_doubt), (with_backup, 1), "{recovery:?}");
    assert!(
        recovery.description().contains("Order requests that a shop may have: 1."),
        "{}",
        recovery.description()
    );
    Fixture { temp_book, book, bike, sku, photos }
}

fn send_and_lose_the_answer(fixture: &mut Fixture, shop: &mut Shop) {
    assert_eq!(shop.sync_once(&mut fixture.book, START, || InjectedFault::LostBack), 1);
    assert_eq!(shop.requests.len(), 1);
}

/// Queued when the backup was made, sent since. Without a backup the queued state is lost too.
#[test]
fn a_request_that_may_have_been_sent_is_asked_for_where_it_went() {
    for with_backup in [true, false] {
        let mut fixture = Fixture::with_shop();
        let id = fixture.queue();
        let mut fixture = fixture.reopen();
        let mut shop = Shop::default();
        send_and_lose_the_answer(&mut fixture, &mut shop);
        let mut fixture = recover(fixture, with_backup);
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.may_be_with_shop, order.reason), (State::InDoubt, true, None));
        // The shop was set before the request was made and not since.
        assert_eq!(order.at, Some(OrderShop { base: "https://shop.example".to_owned(), agreed: true }));
        let due = fixture.book.due(after(HOUR)).unwrap();
        assert_eq!(due.iter().map(|it| it.step).collect::<Vec<_>>(), [Step::Send]);
        shop.serve(&mut fixture.book, after(HOUR));
        assert_eq!(fixture.state(id), State::Delivered);
        let times: Vec<(OrderId, u32)> = shop.requests.iter().map(|(id, (_, times))| (*id, *times)).collect();
        assert_eq!(times, [(id, 1)], "taken once");
    }
}

/// The user sets another shop after the request was sent: its destination can no longer be determined, so no shop is
/// called.
#[test]
fn which_shop_has_a_request_is_never_guessed() {
    for with_backup in [true, false] {
        let mut fixture = Fixture::with_shop();
        let id = fixture.queue();
        let mut fixture = fixture.reopen();
        let mut shop = Shop::default();
        send_and_lose_the_answer(&mut fixture, &mut shop);
        fixture.set_shop("https://other.example", "tarn-and-tiller-2");
        let mut fixture = recover(fixture, with_backup);
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.reason, order.at), (State::InDoubt, Some(Reason::ShopGone), None));
        assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap(), []);
    }
}

/// The backup has the shop to which it was sent, which does not change any more.
#[test]
fn a_request_in_doubt_at_the_backup_keeps_its_shop() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut shop = Shop::default();
    send_and_lose_the_answer(&mut fixture, &mut shop);
    let mut fixture = fixture.reopen();
    fixture.set_shop("https://other.example", "tarn-and-tiller-2");
    let mut fixture = recover(fixture, true);
    let at = fixture.book.read().order(id).unwrap().order.at;
    assert_eq!(at, Some(OrderShop { base: "https://shop.example".to_owned(), agreed: true }));
    shop.serve(&mut fixture.book, after(HOUR));
    assert_eq!(fixture.state(id), State::Delivered);
    assert_eq!(shop.requests[&id].1, 1);
}

/// Requests that wait for the user are not sent because of damage.
#[test]
fn a_request_that_waits_for_the_user_still_does() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut newer = crate::fixture::demo_catalogue();
    newer.number += 1;
    for kit in &mut newer.kits {
        kit.price += rust_decimal::Decimal::ONE;
    }
    fixture.import(&newer);
    assert_eq!(fixture.book.due(START).unwrap(), []);
    assert_eq!(fixture.state(id), State::Held);
    let mut fixture = recover(fixture.reopen(), true);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.may_be_with_shop), (State::Held, true));
    assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap(), []);
}
