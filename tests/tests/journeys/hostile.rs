//! Shops, and networks, that do everything wrong.

use super::hands::{hasty, worker};
use super::place::{Place, Server};
use super::relay::{ENDLESS, Mischief, Relay, answer, wait};
use std::io::ErrorKind;
use std::net::TcpListener;
use steerwright_core::book::{OrderId, Timestamp};
use steerwright_core::orders::{Fault, Reason, State};
use steerwright_core::protocol::wire::{ProblemKind, Receipt, ReceiptSchema, ShopStatus};
use steerwright_tests::bench::Bench;
use steerwright_tests::crash::mix;
use steerwright_workshop::delivery::OutboxWorker;

/// A phone, a shop, and a relay between them.
pub struct Way {
    pub place: Place,
    pub relay: Relay,
    pub bench: Bench,
    _server: Server,
}

impl Way {
    pub fn new() -> Self {
        let place = Place::new();
        let token = place.sender("crew");
        let server = place.serve();
        let relay = Relay::to(server.address);
        let mut bench = Bench::new();
        bench.set_shop(&relay.base(), &token);
        Self { place, relay, bench, _server: server }
    }

    pub fn serve(&mut self, worker: &mut OutboxWorker) {
        worker.sync_until_idle(&mut self.bench.book, &mut self.place.hands.clone()).unwrap();
    }

    /// Goes on until all is with the shop, and looks at both sides.
    pub fn end(&mut self, worker: &mut OutboxWorker) {
        worker.sync_until_empty(&mut self.bench.book, &mut self.place.hands.clone()).unwrap();
        assert!(self.relay.is_played());
        self.place.has_all_of(&self.bench.book);
    }

    fn fault(&self, id: OrderId) -> (State, bool, Option<Fault>) {
        let order = self.bench.book.read().order(id).unwrap().order;
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
        received_at: Timestamp(1),
        state: ShopStatus::Accepted,
        since: Timestamp(1),
        message: None,
    };
    answer("201 Created", &[("Content-Type", "application/json")], &serde_json::to_string(&receipt).unwrap())
}

/// What one misfortune on the way of a request leads to, and that in the end the shop has it once.
#[test]
fn whatever_becomes_of_the_call_the_shop_has_it_once() {
    let html = |status: &str| answer(status, &[("Content-Type", "text/html")], "<html>Welcome");
    let json = |status: &str, body: &str| answer(status, &[("Content-Type", "application/json")], body);
    let busy = |status| Fault::Busy { status, detail: None };
    let (lost, late) = (Some(Fault::ConnectionLost), Some(Fault::Timeout));
    let no_sense = |status| Some(Fault::NoSense { status });
    // Whether anything may have come of it, and what is said.
    let cases: Vec<(Mischief, bool, Option<Fault>)> = vec![
        (Mischief::LostThere, true, lost.clone()),
        (Mischief::LostBack, true, lost.clone()),
        (Mischief::HalfAnswer, true, lost.clone()),
        (Mischief::Instead(b"\x00\x01 not HTTP at all \xff\r\n\r\n".to_vec()), true, lost.clone()),
        (Mischief::EndlessHead, true, lost.clone()),
        (Mischief::Silence, true, late.clone()),
        (Mischief::Slow, true, late.clone()),
        (Mischief::Endless, true, no_sense(201)),
        (Mischief::Instead(html("500 Oops")), true, Some(busy(500))),
        (Mischief::After(html("500 Oops")), true, Some(busy(500))),
        (Mischief::After(html("502 Gateway")), true, Some(busy(502))),
        (Mischief::Instead(html("503 Later")), true, Some(busy(503))),
        (Mischief::Instead(wait(ProblemKind::Unavailable, "120")), false, Some(busy(503))),
        (Mischief::Instead(wait(ProblemKind::TooMany, "120")), false, Some(busy(429))),
        (Mischief::Instead(html("200 OK")), true, no_sense(200)),
        (Mischief::After(html("201 Created")), true, no_sense(201)),
        (Mischief::After(json("201 Created", "{\"schema\": 1}")), true, no_sense(201)),
        (Mischief::After(json("201 Created", "{\"schema\": ")), true, no_sense(201)),
        (Mischief::After(json("204 Nothing", "")), true, no_sense(204)),
        (Mischief::Instead(somebody_else_s_receipt()), true, no_sense(201)),
    ];
    for (mischief, perhaps, fault) in cases {
        let mut way = Way::new();
        let id = way.bench.queue();
        way.relay.script([mischief.clone()]);
        let mut worker = worker();
        if fault == late {
            way.serve(&mut hasty());
            // It may be gone before the shop is done; a second call meanwhile would be told to wait.
            way.relay.until_the_shop_answered();
        } else {
            way.serve(&mut worker);
        }
        let state = if perhaps { State::InDoubt } else { State::Queued };
        assert_eq!(way.fault(id), (state, perhaps, fault), "{mischief:?}");
        assert_eq!(way.posts(), 1, "{mischief:?}");
        way.end(&mut worker);
        assert_eq!(way.posts(), 2, "{mischief:?}");
    }
}

#[test]
fn an_answer_without_an_end_is_not_read_to_its_end() {
    let mut way = Way::new();
    way.bench.queue();
    way.relay.script([Mischief::Endless, Mischief::EndlessHead]);
    let mut worker = worker();
    way.end(&mut worker);
    // The worker reads 256 KiB of it. How much lies in the buffers of two sockets on top of that is the system's choice:
    // some megabytes as a rule.
    assert!(way.relay.endless() < ENDLESS, "{}", way.relay.endless());
}

#[test]
fn a_call_that_arrives_twice_takes_effect_once() {
    let mut way = Way::new();
    way.bench.queue();
    way.relay.script([Mischief::Twice]);
    way.end(&mut worker());
    assert_eq!(way.posts(), 1);
}

/// The second answer lies in the connection when the next call is made: it must not be taken for that call's.
#[test]
fn an_answer_that_comes_twice_answers_one_call() {
    let mut way = Way::new();
    let first = way.bench.queue();
    let second = way.bench.queue();
    way.relay.script([Mischief::AnsweredTwice]);
    let mut worker = worker();
    way.end(&mut worker);
    way.place.answer(first, ShopStatus::Accepted, None);
    way.place.answer(second, ShopStatus::Refused, Some("No."));
    way.relay.script([Mischief::AnsweredTwice, Mischief::AnsweredTwice]);
    way.place.hands.forward(3_600_000);
    way.serve(&mut worker);
    way.place.hands.forward(3_600_000);
    way.serve(&mut worker);
    let word = |id| way.bench.book.read().order(id).unwrap().order.shop.unwrap().word;
    assert_eq!((word(first), word(second)), (ShopStatus::Accepted, ShopStatus::Refused));
}

#[test]
fn a_wait_that_was_asked_for_is_kept() {
    for (kind, seconds) in [(ProblemKind::TooMany, 7_200), (ProblemKind::Unavailable, 600)] {
        let mut way = Way::new();
        let id = way.bench.queue();
        way.relay.script([Mischief::Instead(wait(kind, &seconds.to_string()))]);
        let mut worker = worker();
        way.serve(&mut worker);
        let began = way.place.hands.at();
        let next = way.bench.book.read().order(id).unwrap().order.next_at.unwrap();
        assert_eq!(next.0, began.0 + seconds * 1_000);
        way.place.hands.forward(seconds * 1_000 - 1);
        way.serve(&mut worker);
        assert_eq!(way.posts(), 1);
        way.end(&mut worker);
        assert!(way.place.hands.at().0 >= next.0);
    }
}

/// Neither the token nor the contact goes where a redirect points, whatever the call.
#[test]
fn a_redirect_leads_nowhere() {
    let elsewhere = TcpListener::bind("127.0.0.1:0").unwrap();
    elsewhere.set_nonblocking(true).unwrap();
    let address = elsewhere.local_addr().unwrap();
    for status in ["301 Moved", "302 Found", "303 See", "307 Again", "308 Moved"] {
        let code: u16 = status[..3].parse().unwrap();
        let to = |path: &str| {
            let location = format!("http://{address}{path}");
            Mischief::Instead(answer(status, &[("Location", &location)], ""))
        };
        let mut way = Way::new();
        let mut worker = worker();
        let plain = way.bench.queue();
        way.relay.script([to("/v1/order-requests")]);
        way.serve(&mut worker);
        way.bench.photo("progressive-turned.jpg");
        let with_photo = way.bench.queue();
        way.relay.script([to("/v1/photos/1")]);
        way.serve(&mut worker);
        for id in [plain, with_photo] {
            let order = way.bench.book.read().order(id).unwrap().order;
            assert_eq!(
                (order.state, order.reason),
                (State::Rejected, Some(Reason::Address { status: code }))
            );
            way.bench
                .book
                .transact(steerwright_core::book::Op::Order, |work| work.send_order_again(id))
                .unwrap();
        }
        way.end(&mut worker);
        way.relay.script([to("/v1/order-requests/1"), to("/v1/order-requests/2")]);
        way.place.hands.forward(15 * 60_000);
        way.serve(&mut worker);
        assert!(way.relay.is_played());
        way.place.answer(plain, ShopStatus::Accepted, None);
        way.place.hands.forward(3_600_000);
        way.serve(&mut worker);
        assert_eq!(
            way.bench.book.read().order(plain).unwrap().order.shop.unwrap().word,
            ShopStatus::Accepted
        );
    }
    assert_eq!(elsewhere.accept().unwrap_err().kind(), ErrorKind::WouldBlock, "nobody ever came there");
}

/// Rows of misfortunes, photos among what is sent, the book closed and opened in between.
#[test]
fn misfortunes_in_any_order() {
    let html = answer("500 Oops", &[("Content-Type", "text/html")], "<html>");
    let nonsense = answer("200 OK", &[], "<html>");
    let all = [
        Mischief::None,
        Mischief::LostThere,
        Mischief::LostBack,
        Mischief::Twice,
        Mischief::AnsweredTwice,
        Mischief::HalfAnswer,
        Mischief::After(html.clone()),
        Mischief::Instead(html),
        Mischief::After(nonsense),
        Mischief::Instead(wait(ProblemKind::TooMany, "60")),
        Mischief::Instead(wait(ProblemKind::Unavailable, "60")),
        Mischief::Instead(b"nothing of the kind\r\n\r\n".to_vec()),
        Mischief::Cut(700),
        Mischief::EndlessHead,
    ];
    for round in 0..12_u64 {
        let mut seed = 20_260_502 + round;
        let mut way = Way::new();
        way.bench.photo("progressive-turned.jpg");
        way.bench.queue();
        way.bench.photo("baseline-444-turned.jpg");
        way.bench.queue();
        let script: Vec<_> = (0..10).map(|_| all[mix(&mut seed) as usize % all.len()].clone()).collect();
        way.relay.script(script.clone());
        let mut worker = worker();
        while !way.relay.is_played() {
            worker.sync_once(&mut way.bench.book, &mut way.place.hands.clone()).unwrap();
            way.place.hands.forward(6 * 3_600_000);
            way.bench = way.bench.reopen();
            for order in way.bench.book.read().orders(None).unwrap() {
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
