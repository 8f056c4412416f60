//! TLS connections, and invalid ones.

use super::certificates::Authority;
use super::manual_clock::worker_with;
use super::place::Place;
use super::relay::Relay;
use steerwright_core::orders::{Fault, State};
use steerwright_tests::fixture::Fixture;
use steerwright_workshop::delivery::{Timeouts, Trust};

const LAST: i32 = 2999;

/// Sends one request to a relay and returns the outcome; the relay must not have received anything unless it arrived.
fn send(relay: &Relay, base: &str, trust: &Trust) -> (State, Option<Fault>) {
    let place = Place::new();
    let mut fixture = Fixture::new();
    fixture.set_shop(base, "larch-hollow-1");
    let id = fixture.queue();
    worker_with(trust, Timeouts::default()).sync_once(&mut fixture.book, &mut place.clock.clone()).unwrap();
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!(relay.seen().len(), 0, "not a word of the call got through");
    assert!(!order.may_be_with_shop);
    (order.state, order.fault)
}

#[test]
fn a_shop_with_a_certificate_of_its_own() {
    let place = Place::new();
    let token = place.sender("crew");
    let server = place.serve();
    let authority = Authority::new();
    let relay = Relay::with_tls(server.address, authority.server("localhost", LAST));
    let mut fixture = Fixture::new();
    fixture.set_shop(&relay.secure_base(), &token);
    fixture.photo("progressive-turned.jpg");
    for _ in 0..3 {
        fixture.queue();
    }
    let trust = Trust::pem(authority.pem.as_bytes()).unwrap();
    let mut worker = worker_with(&trust, Timeouts::default());
    worker.sync_until_empty(&mut fixture.book, &mut place.clock.clone()).unwrap();
    place.has_all_of(&fixture.book);
    assert_eq!(relay.connections(), 1, "one handshake for all");
}

#[test]
fn no_certificate_but_the_shop_s_will_do() {
    let place = Place::new();
    let server = place.serve();
    let (authority, stranger) = (Authority::new(), Authority::new());
    let trust = Trust::pem(authority.pem.as_bytes()).unwrap();
    let tls = (State::Queued, Some(Fault::Tls));
    for (what, config) in [
        ("another name", authority.server("elsewhere.example", LAST)),
        ("an unknown root", stranger.server("localhost", LAST)),
        ("expired", authority.server("localhost", 2021)),
    ] {
        let relay = Relay::with_tls(server.address, config);
        assert_eq!(send(&relay, &relay.secure_base(), &trust), tls, "{what}");
    }
    // The machine's trusted roots do not include the test's authority.
    let relay = Relay::with_tls(server.address, authority.server("localhost", LAST));
    assert_eq!(send(&relay, &relay.secure_base(), &Trust::Platform), tls);
    assert_eq!(place.requests().len(), 0);
}

#[test]
fn a_server_that_speaks_no_tls() {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            use std::io::{Read, Write};
            let mut stream = stream.unwrap();
            let mut hello = [0; 1];
            stream.read_exact(&mut hello).unwrap();
            assert_eq!(hello[0], 22, "a handshake and no call (RFC 8446, 5.1)");
            stream.write_all(b"HTTP/1.1 400 Bad\r\nContent-Length: 0\r\n\r\n").unwrap();
        }
    });
    let place = Place::new();
    let quiet = Relay::to(place.serve().address);
    let trust = Trust::pem(Authority::new().pem.as_bytes()).unwrap();
    let base = format!("https://localhost:{port}");
    assert_eq!(send(&quiet, &base, &trust), (State::Queued, Some(Fault::Tls)));
}
