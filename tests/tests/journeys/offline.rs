//! A device without a network: nothing is tried, and nothing counted.

use super::fetching::numbered;
use super::hands::{Switch, worker};
use super::place::{Place, limits};
use super::process::free_address;
use std::io::ErrorKind;
use std::net::TcpListener;
use std::sync::atomic::Ordering;
use steerwright_core::book::Op;
use steerwright_core::orders::{Fault, State};
use steerwright_tests::bench::Bench;
use steerwright_workshop::delivery::{OutboxWorker, Timeouts, Trust};

#[test]
fn without_a_network_no_connection_is_tried() {
    let place = Place::new();
    let token = place.sender("crew");
    // Somebody listens there, so that a connection would be seen.
    let address = free_address();
    let listener = TcpListener::bind(address).unwrap();
    listener.set_nonblocking(true).unwrap();
    let mut bench = Bench::new();
    bench.set_shop(&format!("http://{address}"), &token);
    bench.queue();
    bench.photo("progressive-turned.jpg");
    bench.queue();
    bench.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(false)).unwrap();
    let network = Switch::default();
    let mut worker =
        OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(network.clone())).unwrap();
    let mut hands = place.hands.clone();
    for _ in 0..60 {
        let round = worker.sync_until_idle(&mut bench.book, &mut hands).unwrap();
        assert!(round.offline && round.answered == 0, "{round:?}");
        hands.forward(10 * 60_000);
        bench = bench.reopen();
    }
    assert_eq!(listener.accept().unwrap_err().kind(), ErrorKind::WouldBlock, "nobody ever came there");
    for order in bench.book.read().orders(None).unwrap() {
        assert_eq!((order.state, order.tries, order.may_be_with_shop), (State::Queued, 0, false));
        assert!(matches!(order.fault, None | Some(Fault::NoNetwork)), "{order:?}");
    }
    let fetch = bench.book.read().catalogue_fetch().unwrap().unwrap();
    assert_eq!((fetch.tries, fetch.fault), (0, Some(Fault::NoNetwork)));

    // It comes back, a moment after the last call that there was none for.
    drop(listener);
    let _server = place.serve_shop(&address.to_string(), limits(), numbered(13));
    worker.sync_until_idle(&mut bench.book, &mut hands).unwrap();
    network.0.store(true, Ordering::SeqCst);
    bench.book.network_restored(hands.at()).unwrap();
    let before = hands.at();
    worker.sync_until_empty(&mut bench.book, &mut hands).unwrap();
    assert_eq!(hands.at(), before, "nothing had to wait");
    place.has_all_of(&bench.book);
    assert!(bench.book.read().catalogue_fetch().unwrap().unwrap().fetched_at.is_some());
}

/// With one, the very same calls come there: so the check above could see them.
#[test]
fn with_a_network_a_connection_is_seen() {
    let address = free_address();
    let listener = TcpListener::bind(address).unwrap();
    let mut bench = Bench::new();
    bench.set_shop(&format!("http://{address}"), "larch-hollow-1");
    bench.queue();
    let outcome = std::thread::spawn(move || listener.accept().is_ok());
    worker().sync_until_idle(&mut bench.book, &mut super::hands::Hands::default()).unwrap();
    assert!(outcome.join().unwrap());
}
