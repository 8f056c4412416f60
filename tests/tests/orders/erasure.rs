//! What is erased is nowhere any more.

use crate::bench::{Bench, START};
use crate::shop::Shop;
use std::fs;
use steerwright_core::book::Op;
use steerwright_core::orders::State;

/// Every file of the book's folder in one, photos too.
fn bytes(bench: &Bench) -> Vec<u8> {
    let mut all = Vec::new();
    for name in bench.shelf.names() {
        let path = bench.shelf.folder().join(name);
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
    let mut bench = Bench::with_shop();
    let draft = bench.draft();
    let sent = bench.queue();
    let mut shop = Shop::default();
    shop.serve(&mut bench.book, START);
    let waiting = bench.queue();
    let traces = ["Wren Alderfoot", "wren@larch-hollow.example", "The old sawmill", "Ring twice"];
    let all = bytes(&bench);
    for trace in traces {
        assert!(holds(&all, trace), "{trace} was never there, so this shows nothing");
    }
    let asked = bench.book.read().order(sent).unwrap();
    for id in [sent, waiting] {
        bench.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
    }
    assert!(bench.book.finish_erasing().unwrap());
    assert!(!bench.book.read().erasing().unwrap());
    let all = bytes(&bench);
    for trace in traces {
        assert!(!holds(&all, trace), "{trace} is still there");
    }

    // Its name and what was ordered stay, and what had not gone goes no more.
    let left = bench.book.read().order(sent).unwrap();
    assert_eq!((left.order.id, left.order.state), (sent, State::Delivered));
    assert!(left.order.erased_at.is_some());
    assert_eq!((&left.request.kit, &left.request.found), (&asked.request.kit, &asked.request.found));
    assert_eq!(bench.state(waiting), State::Withdrawn);
    let calls = shop.calls;
    shop.serve(&mut bench.book, steerwright_core::book::Moment(START.0 + 86_400_000));
    assert_eq!(shop.calls, calls);
    // The book goes on.
    let mut bench = bench.reopen();
    assert_eq!(bench.book.read().examine().unwrap(), Vec::<String>::new());
    bench.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap();
}
