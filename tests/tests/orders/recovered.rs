//! Requests in a damaged book: what a shop may have is asked for where it went, under its own key, or not at all.

use crate::bench::{Bench, START};
use crate::shop::{Mischief, Shop};
use rusqlite::Connection;
use std::fs;
use steerwright_core::book::{Opened, OrderId, Timestamp};
use steerwright_core::orders::{OrderShop, Reason, State, Step};

const HOUR: i64 = 3_600_000;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

/// Closes the book, makes its outbox illegible and opens it again, which recovers it.
fn recover(bench: Bench, with_backup: bool) -> Bench {
    let Bench { shelf, book, bike, sku, photos } = bench;
    drop(book);
    if !with_backup {
        shelf.remove_backups();
    }
    let conn = Connection::open(shelf.path()).unwrap();
    let (page, size): (usize, usize) = conn
        .query_row("SELECT rootpage, (SELECT page_size FROM pragma_page_size) FROM sqlite_schema WHERE name = 'outbox'", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    drop(conn);
    let mut bytes = fs::read(shelf.path()).unwrap();
    bytes[(page - 1) * size..page * size].fill(0xEE);
    fs::write(shelf.path(), bytes).unwrap();
    let (book, opened) = shelf.try_open().unwrap();
    let Opened::Recovered(recovery) = opened else { panic!("{opened:?}") };
    assert_eq!((recovery.backup.is_some(), recovery.in_doubt), (with_backup, 1), "{recovery:?}");
    assert!(
        recovery.description().contains("Order requests that a shop may have: 1."),
        "{}",
        recovery.description()
    );
    Bench { shelf, book, bike, sku, photos }
}

fn send_and_lose_the_answer(bench: &mut Bench, shop: &mut Shop) {
    assert_eq!(shop.sync_once(&mut bench.book, START, || Mischief::LostBack), 1);
    assert_eq!(shop.requests.len(), 1);
}

/// Queued when the backup was made, sent since. Without a backup even that it was queued is lost.
#[test]
fn a_request_that_may_have_been_sent_is_asked_for_where_it_went() {
    for with_backup in [true, false] {
        let mut bench = Bench::with_shop();
        let id = bench.queue();
        let mut bench = bench.reopen();
        let mut shop = Shop::default();
        send_and_lose_the_answer(&mut bench, &mut shop);
        let mut bench = recover(bench, with_backup);
        let order = bench.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.may_be_with_shop, order.reason), (State::InDoubt, true, None));
        // The shop was set before the request was made and not again since.
        assert_eq!(order.at, Some(OrderShop { base: "https://shop.example".to_owned(), agreed: true }));
        let due = bench.book.due(after(HOUR)).unwrap();
        assert_eq!(due.iter().map(|it| it.step).collect::<Vec<_>>(), [Step::Send]);
        shop.serve(&mut bench.book, after(HOUR));
        assert_eq!(bench.state(id), State::Delivered);
        let times: Vec<(OrderId, u32)> = shop.requests.iter().map(|(id, (_, times))| (*id, *times)).collect();
        assert_eq!(times, [(id, 1)], "taken once");
    }
}

/// The user names another shop after the request went out: nothing shows any more where it went, so nobody is asked.
#[test]
fn which_shop_has_a_request_is_never_guessed() {
    for with_backup in [true, false] {
        let mut bench = Bench::with_shop();
        let id = bench.queue();
        let mut bench = bench.reopen();
        let mut shop = Shop::default();
        send_and_lose_the_answer(&mut bench, &mut shop);
        bench.set_shop("https://other.example", "tarn-and-tiller-2");
        let mut bench = recover(bench, with_backup);
        let order = bench.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.reason, order.at), (State::InDoubt, Some(Reason::ShopGone), None));
        assert_eq!(bench.book.due(after(1_000 * HOUR)).unwrap(), []);
    }
}

/// The backup knows to which shop it went, which does not change any more.
#[test]
fn a_request_in_doubt_at_the_backup_keeps_its_shop() {
    let mut bench = Bench::with_shop();
    let id = bench.queue();
    let mut shop = Shop::default();
    send_and_lose_the_answer(&mut bench, &mut shop);
    let mut bench = bench.reopen();
    bench.set_shop("https://other.example", "tarn-and-tiller-2");
    let mut bench = recover(bench, true);
    let at = bench.book.read().order(id).unwrap().order.at;
    assert_eq!(at, Some(OrderShop { base: "https://shop.example".to_owned(), agreed: true }));
    shop.serve(&mut bench.book, after(HOUR));
    assert_eq!(bench.state(id), State::Delivered);
    assert_eq!(shop.requests[&id].1, 1);
}

/// What waits for the user is not sent because of damage.
#[test]
fn a_request_that_waits_for_the_user_still_does() {
    let mut bench = Bench::with_shop();
    let id = bench.queue();
    let mut newer = crate::bench::demo_catalogue();
    newer.number += 1;
    for kit in &mut newer.kits {
        kit.price += rust_decimal::Decimal::ONE;
    }
    bench.import(&newer);
    assert_eq!(bench.book.due(START).unwrap(), []);
    assert_eq!(bench.state(id), State::Held);
    let mut bench = recover(bench.reopen(), true);
    let order = bench.book.read().order(id).unwrap().order;
    assert_eq!((order.state, order.may_be_with_shop), (State::Held, true));
    assert_eq!(bench.book.due(after(1_000 * HOUR)).unwrap(), []);
}
