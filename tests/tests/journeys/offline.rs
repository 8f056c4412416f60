//! A device without a network: nothing is tried, and nothing counted.

use super::fetching::numbered;
use super::manual_clock::{Switch, worker};
use super::place::{Place, limits};
use super::process::free_address;
use std::io::ErrorKind;
use std::net::TcpListener;
use std::sync::atomic::Ordering;
use steerwright_core::book::Op;
use steerwright_core::orders::{Fault, State};
use steerwright_tests::fixture::Fixture;
use steerwright_workshop::delivery::{OutboxWorker, Timeouts, Trust};

#[test]
fn without_a_network_no_connection_is_tried() {
    let place = Place::new();
    let token = place.sender("crew");
    // A listener, so that a connection would be detected.
    let address = free_address();
    let listener = TcpListener::bind(address).unwrap();
    listener.set_nonblocking(true).unwrap();
    let mut fixture = Fixture::new();
    fixture.set_shop(&format!("http://{address}"), &token);
    fixture.queue();
    fixture.photo("progressive-turned.jpg");
    fixture.queue();
    fixture.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(false)).unwrap();
    let network = Switch::default();
    let mut worker =
        OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(network.clone())).unwrap();
    let mut clock = place.clock.clone();
    for _ in 0..60 {
        let round = worker.sync_until_idle(&mut fixture.book, &mut clock).unwrap();
        assert!(round.offline && round.answered == 0, "{round:?}");
        clock.forward(10 * 60_000);
        fixture = fixture.reopen();
    }
    assert_eq!(listener.accept().unwrap_err().kind(), ErrorKind::WouldBlock, "nobody ever came there");
    for order in fixture.book.read().orders(None).unwrap() {
        assert_eq!((order.state, order.tries, order.may_be_with_shop), (State::Queued, 0, false));
        assert!(matches!(order.fault, None | Some(Fault::NoNetwork)), "{order:?}");
    }
    let fetch = fixture.book.read().catalogue_fetch().unwrap().unwrap();
    assert_eq!((fetch.tries, fetch.fault), (0, Some(Fault::NoNetwork)));

    // The network is back, a moment after the last call that had none.
    drop(listener);
    let _server = place.serve_shop(&address.to_string(), limits(), numbered(13));
    worker.sync_until_idle(&mut fixture.book, &mut clock).unwrap();
    network.0.store(true, Ordering::SeqCst);
    fixture.book.network_restored(clock.at()).unwrap();
    let before = clock.at();
    worker.sync_until_empty(&mut fixture.book, &mut clock).unwrap();
    assert_eq!(clock.at(), before, "nothing had to wait");
    place.has_all_of(&fixture.book);
    assert!(fixture.book.read().catalogue_fetch().unwrap().unwrap().fetched_at.is_some());
}

/// With a network, the same calls reach the listener: so the test above could detect them.
#[test]
fn with_a_network_a_connection_is_seen() {
    let address = free_address();
    let listener = TcpListener::bind(address).unwrap();
    let mut fixture = Fixture::new();
    fixture.set_shop(&format!("http://{address}"), "larch-hollow-1");
    fixture.queue();
    let outcome = std::thread::spawn(move || listener.accept().is_ok());
    worker().sync_until_idle(&mut fixture.book, &mut super::manual_clock::ManualClock::default()).unwrap();
    assert!(outcome.join().unwrap());
}
