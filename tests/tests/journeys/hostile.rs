//! Misbehaving shops and networks.

use super::manual_clock::{hasty, worker};
use super::place::{Place, Server};
use super::relay::{ENDLESS, InjectedFault, Relay, answer, wait};
use std::io::ErrorKind;
use std::net::TcpListener;
use steerwright_core::book::{OrderId, Timestamp};
use steerwright_core::orders::{Fault, Reason, State};
use steerwright_core::protocol::wire::{ProblemKind, Receipt, ReceiptSchema, ShopStatus};
use steerwright_tests::crash::mix;
use steerwright_tests::fixture::Fixture;
use steerwright_workshop::delivery::OutboxWorker;

/// A phone, a shop, and a relay between them.
pub struct RelayFixture {
    pub place: Place,
    pub relay: Relay,
    pub fixture: Fixture,
    _server: Server,
}

impl RelayFixture {
    pub fn new() -> Self {
        let place = Place::new();
        let token = place.sender("crew");
        let server = place.serve();
        let relay = Relay::to(server.address);
        let mut fixture = Fixture::new();
        fixture.set_shop(&relay.base(), &token);
        Self { place, relay, fixture, _server: server }
    }

    pub fn serve(&mut self, worker: &mut OutboxWorker) {
        worker.sync_until_idle(&mut self.fixture.book, &mut self.place.clock.clone()).unwrap();
    }

    /// Continues until all requests are at the shop, and checks both sides.
    pub fn end(&mut self, worker: &mut OutboxWorker) {
        worker.sync_until_empty(&mut self.fixture.book, &mut self.place.clock.clone()).unwrap();
        assert!(self.relay.is_played());
        self.place.has_all_of(&self.fixture.book);
    }

    fn fault(&self, id: OrderId) -> (State, bool, Option<Fault>) {
        let order = self.fixture.book.read().order(id).unwrap().order;
        (order.state, order.may_be_with_shop, order.fault)
    }

    fn posts(&self) -> usize {
        self.relay.seen().iter().filter(|seen| seen.what == "POST /v1/order-requests").count()
    }
}

fn somebody_else_s_receipt() -> Vec<u8> {
    let receipt = Receipt {
        schema: ReceiptSchema::V1,
        id: OrderId(uuid::Uuid::from_u128(7)),
        number: 17,
        received_at: Timestamp(1),
        state: ShopStatus::Accepted,
        since: Timestamp(1),
        message: None,
        contact: None,
    };
    answer("201 Created", &[("Content-Type", "application/json")], &serde_json::to_string(&receipt).unwrap())
}

/// The effect of one fault on a request, and that in the end the shop has it once.
#[test]
fn whatever_becomes_of_the_call_the_shop_has_it_once() {
    let html = |status: &str| answer(status, &[("Content-Type", "text/html")], "<html>Welcome");
    let json = |status: &str, body: &str| answer(status, &[("Content-Type", "application/json")], body);
    let busy = |status| Fault::Busy { status, detail: None };
    let (lost, late) = (Some(Fault::ConnectionLost), Some(Fault::Timeout));
    let no_sense = |status| Some(Fault::NoSense { status });
    // Whether the call may have had an effect, and the reported fault.
    let cases: Vec<(InjectedFault, bool, Option<Fault>)> = vec![
        (InjectedFault::LostThere, true, lost.clone()),
        (InjectedFault::LostBack, true, lost.clone()),
        (InjectedFault::HalfAnswer, true, lost.clone()),
        (InjectedFault::Instead(b"\x00\x01 not HTTP at all \xff\r\n\r\n".to_vec()), true, lost.clone()),
        (InjectedFault::EndlessHead, true, lost.clone()),
        (InjectedFault::Silence, true, late.clone()),
        (InjectedFault::Slow, true, late.clone()),
        (InjectedFault::Endless, true, no_sense(201)),
        (InjectedFault::Instead(html("500 Oops")), true, Some(busy(500))),
        (InjectedFault::After(html("500 Oops")), true, Some(busy(500))),
        (InjectedFault::After(html("502 Gateway")), true, Some(busy(502))),
        (InjectedFault::Instead(html("503 Later")), true, Some(busy(503))),
        (InjectedFault::Instead(wait(ProblemKind::Unavailable, "120")), false, Some(busy(503))),
        (InjectedFault::Instead(wait(ProblemKind::TooMany, "120")), false, Some(busy(429))),
        (InjectedFault::Instead(html("200 OK")), true, no_sense(200)),
        (InjectedFault::After(html("201 Created")), true, no_sense(201)),
        (InjectedFault::After(json("201 Created", "{\"schema\": 1}")), true, no_sense(201)),
        (InjectedFault::After(json("201 Created", "{\"schema\": ")), true, no_sense(201)),
        (InjectedFault::After(json("204 Nothing", "")), true, no_sense(204)),
        (InjectedFault::Instead(somebody_else_s_receipt()), true, no_sense(201)),
    ];
    for (injected, perhaps, fault) in cases {
        let mut way = RelayFixture::new();
        let id = way.fixture.queue();
        way.relay.script([injected.clone()]);
        let mut worker = worker();
        if fault == late {
            way.serve(&mut hasty());
            // The client may be done before the shop; a second call in the meantime would be told to wait.
            way.relay.until_the_shop_answered();
        } else {
            way.serve(&mut worker);
        }
        let state = if perhaps { State::InDoubt } else { State::Queued };
        assert_eq!(way.fault(id), (state, perhaps, fault), "{injected:?}");
        assert_eq!(way.posts(), 1, "{injected:?}");
        way.end(&mut worker);
        assert_eq!(way.posts(), 2, "{injected:?}");
    }
}

#[test]
fn an_answer_without_an_end_is_not_read_to_its_end() {
    let mut way = RelayFixture::new();
    way.fixture.queue();
    way.relay.script([InjectedFault::Endless, InjectedFault::EndlessHead]);
    let mut worker = worker();
    way.end(&mut worker);
    // The worker reads 256 KiB of it. The amount in the buffers of two sockets beyond that depends on the system:
    // usually some megabytes.
    assert!(way.relay.endless() < ENDLESS, "{}", way.relay.endless());
}

#[test]
fn a_call_that_arrives_twice_takes_effect_once() {
    let mut way = RelayFixture::new();
    way.fixture.queue();
    way.relay.script([InjectedFault::Twice]);
    way.end(&mut worker());
    assert_eq!(way.posts(), 1);
}

/// The second answer is in the connection when the next call is made: it must not be taken for that call's answer.
#[test]
fn an_answer_that_comes_twice_answers_one_call() {
    let mut way = RelayFixture::new();
    let first = way.fixture.queue();
    let second = way.fixture.queue();
    way.relay.script([InjectedFault::AnsweredTwice]);
    let mut worker = worker();
    way.end(&mut worker);
    way.place.answer(first, ShopStatus::Accepted, None);
    way.place.answer(second, ShopStatus::Refused, Some("No."));
    way.relay.script([InjectedFault::AnsweredTwice, InjectedFault::AnsweredTwice]);
    way.place.clock.forward(3_600_000);
    way.serve(&mut worker);
    way.place.clock.forward(3_600_000);
    way.serve(&mut worker);
    let word = |id| way.fixture.book.read().order(id).unwrap().order.shop.unwrap().status;
    assert_eq!((word(first), word(second)), (ShopStatus::Accepted, ShopStatus::Refused));
}

#[test]
fn a_wait_that_was_asked_for_is_kept() {
    for (kind, seconds) in [(ProblemKind::TooMany, 7_200), (ProblemKind::Unavailable, 600)] {
        let mut way = RelayFixture::new();
        let id = way.fixture.queue();
        way.relay.script([InjectedFault::Instead(wait(kind, &seconds.to_string()))]);
        let mut worker = worker();
        way.serve(&mut worker);
        let began = way.place.clock.at();
        let next = way.fixture.book.read().order(id).unwrap().order.next_at.unwrap();
        assert_eq!(next.0, began.0 + seconds * 1_000);
        way.place.clock.forward(seconds * 1_000 - 1);
        way.serve(&mut worker);
        assert_eq!(way.posts(), 1);
        way.end(&mut worker);
        assert!(way.place.clock.at().0 >= next.0);
    }
}

/// Neither the token nor the contact is sent to the target of a redirect, for any call.
#[test]
fn a_redirect_leads_nowhere() {
    let elsewhere = TcpListener::bind("127.0.0.1:0").unwrap();
    elsewhere.set_nonblocking(true).unwrap();
    let address = elsewhere.local_addr().unwrap();
    for status in ["301 Moved", "302 Found", "303 See", "307 Again", "308 Moved"] {
        let code: u16 = status[..3].parse().unwrap();
        let to = |path: &str| {
            let location = format!("http://{address}{path}");
            InjectedFault::Instead(answer(status, &[("Location", &location)], ""))
        };
        let mut way = RelayFixture::new();
        let mut worker = worker();
        let plain = way.fixture.queue();
        way.relay.script([to("/v1/order-requests")]);
        way.serve(&mut worker);
        way.fixture.photo("progressive-turned.jpg");
        let with_photo = way.fixture.queue();
        way.relay.script([to("/v1/photos/1")]);
        way.serve(&mut worker);
        for id in [plain, with_photo] {
            let order = way.fixture.book.read().order(id).unwrap().order;
            assert_eq!(
                (order.state, order.reason),
                (State::Rejected, Some(Reason::Address { status: code }))
            );
            way.fixture
                .book
                .transact(steerwright_core::book::Op::Order, |work| work.send_order_again(id))
                .unwrap();
        }
        way.end(&mut worker);
        way.relay.script([to("/v1/order-requests/1"), to("/v1/order-requests/2")]);
        way.place.clock.forward(15 * 60_000);
        way.serve(&mut worker);
        assert!(way.relay.is_played());
        way.place.answer(plain, ShopStatus::Accepted, None);
        way.place.clock.forward(3_600_000);
        way.serve(&mut worker);
        assert_eq!(
            way.fixture.book.read().order(plain).unwrap().order.shop.unwrap().status,
            ShopStatus::Accepted
        );
    }
    assert_eq!(elsewhere.accept().unwrap_err().kind(), ErrorKind::WouldBlock, "nobody ever came there");
}

/// Sequences of faults, with photos, and with the book closed and reopened in between.
#[test]
fn misfortunes_in_any_order() {
    let html = answer("500 Oops", &[("Content-Type", "text/html")], "<html>");
    let nonsense = answer("200 OK", &[], "<html>");
    let all = [
        InjectedFault::None,
        InjectedFault::LostThere,
        InjectedFault::LostBack,
        InjectedFault::Twice,
        InjectedFault::AnsweredTwice,
        InjectedFault::HalfAnswer,
        InjectedFault::After(html.clone()),
        InjectedFault::Instead(html),
        InjectedFault::After(nonsense),
        InjectedFault::Instead(wait(ProblemKind::TooMany, "60")),
        InjectedFault::Instead(wait(ProblemKind::Unavailable, "60")),
        InjectedFault::Instead(b"nothing of the kind\r\n\r\n".to_vec()),
        InjectedFault::Cut(700),
        InjectedFault::EndlessHead,
    ];
    for round in 0..12_u64 {
        let mut seed = 20_260_502 + round;
        let mut way = RelayFixture::new();
        way.fixture.photo("progressive-turned.jpg");
        way.fixture.queue();
        way.fixture.photo("baseline-444-turned.jpg");
        way.fixture.queue();
        let script: Vec<_> = (0..10).map(|_| all[mix(&mut seed) as usize % all.len()].clone()).collect();
        way.relay.script(script.clone());
        let mut worker = worker();
        while !way.relay.is_played() {
            worker.sync_once(&mut way.fixture.book, &mut way.place.clock.clone()).unwrap();
            way.place.clock.forward(6 * 3_600_000);
            way.fixture = way.fixture.reopen();
            for order in way.fixture.book.read().orders(None).unwrap() {
                let here = way.place.requests().contains_key(&order.id);
                assert!(here || order.state != State::Delivered, "a receipt out of nothing: {order:?}");
                assert!(
                    !here || order.may_be_with_shop || order.state == State::Delivered,
                    "{order:?} {script:?}"
                );
                assert_ne!(order.state, State::Rejected, "{order:?} {script:?}");
            }
        }
        way.end(&mut worker);
    }
}
