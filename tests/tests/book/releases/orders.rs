//! Order requests in every state, as a release leaves them behind.

use super::{MAKER, Shelf};
use std::fs;
use std::path::Path;
use steerwright_core::book::{BikeId, FieldBook, Incoming, NewPhoto, Op, OrderId, Timestamp};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::Direction;
use steerwright_core::orders::{
    Answer, CallOutcome, Fault, Order, OrderDraft, OutboundCall, Reason, State, Step, Token,
};
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_core::protocol::wire::{
    Contact, Kind, OrderRequest, PROBLEM_JSON, Problem, ProblemKind, Receipt, ReceiptSchema, ShopStatus,
};

/// 2026-05-02T08:00:00Z.
const NOW: Timestamp = Timestamp(1_777_708_800_000);
const DAY: i64 = 24 * 3_600_000;
const SHOP: &str = "https://orders.tarn-and-tiller.example";

fn answer(status: u16, headers: &[(&str, &str)], body: Vec<u8>) -> CallOutcome {
    let headers = headers.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    CallOutcome::Answer(Answer { status, headers, body })
}

fn receipt(id: OrderId, state: ShopStatus, message: Option<&str>) -> CallOutcome {
    let message = message.map(str::to_owned);
    let receipt = Receipt { schema: ReceiptSchema::V1, id, received_at: NOW, state, since: NOW, message };
    answer(201, &[], serde_json::to_vec(&receipt).unwrap())
}

/// Begins the call that is due for a request, and ends it if `outcome` says how.
fn next_call(book: &mut FieldBook, id: OrderId, outcome: Option<&dyn Fn(&OutboundCall) -> CallOutcome>) {
    let due = book.due(NOW).unwrap().into_iter().find(|it| it.id.order() == Some(id)).unwrap();
    assert!(book.begin_call(&due, NOW).unwrap());
    if let Some(outcome) = outcome {
        assert!(book.finish_call(due.id, &outcome(&due), NOW).unwrap().output);
    }
}

/// Eight requests for a bike, one in each state or about it. The last lines of [`found`] say which.
pub fn fill(book: &mut FieldBook, bike: BikeId) {
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/baseline-444-turned.jpg");
    let new = NewPhoto { bike: Some(bike), note: "lower seat", forget_original: true };
    let photo =
        book.add_photo(&fs::read(photo).unwrap(), &Limits::default(), &BuiltIn, &new).unwrap().output.id;
    let token = Token::new("larch-hollow-1").unwrap();
    book.transact(Op::ChangeSettings, |work| {
        work.set_shop(SHOP, &token)?;
        work.agree_to_sending("Send my order requests there.", Some("Wren"))
    })
    .unwrap();
    let draft = |note: &str| OrderDraft {
        bike,
        maker: MAKER.into(),
        sku: "TT-4180-15".into(),
        direction: Direction::Slacker,
        quantity: 1,
        kind: Kind::Order,
        with_parts: true,
        contact: Contact {
            name: "Wren Alderfoot".into(),
            email: Some("wren@larch-hollow.example".into()),
            phone: None,
            address: Some("The old sawmill\nLarch Hollow".into()),
        },
        note: note.into(),
        photos: Vec::new(),
    };
    let queue = |book: &mut FieldBook, draft: OrderDraft| {
        book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap().output
    };

    let asked = queue(book, OrderDraft { photos: vec![photo], ..draft("asked back") });
    let bytes = book.read().order(asked).unwrap().request.photos[0].bytes.to_string();
    next_call(book, asked, Some(&|_| answer(200, &[("Upload-Offset", &bytes)], Vec::new())));
    next_call(
        book,
        asked,
        Some(&|it| receipt(it.id.order().unwrap(), ShopStatus::Question, Some("Which seat is it?"))),
    );
    let erased = queue(book, draft("erased"));
    next_call(book, erased, Some(&|it| receipt(it.id.order().unwrap(), ShopStatus::Accepted, None)));
    book.transact(Op::Order, |work| work.erase_contact(erased)).unwrap();
    let perhaps = queue(book, draft("perhaps sent"));
    next_call(book, perhaps, Some(&|_| CallOutcome::Timeout));
    let turned = queue(book, draft("turned back"));
    let problem = Problem::new(ProblemKind::Token, Some("Who are you?".into()));
    let problem = serde_json::to_vec(&problem).unwrap();
    next_call(book, turned, Some(&|_| answer(401, &[("Content-Type", PROBLEM_JSON)], problem.clone())));

    queue(book, draft("held"));
    let mut dearer = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    dearer.number = 13;
    dearer.kits.iter_mut().for_each(|kit| kit.price += rust_decimal::Decimal::ONE);
    for text in [serde_json::to_string(&dearer).unwrap(), demo_catalogue_json().to_owned()] {
        let incoming = Incoming { bytes: text.as_bytes(), file: "demo", signature: None, allow_older: true };
        book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).unwrap();
        book.due(NOW).unwrap();
    }
    let replaced = queue(book, draft("replaced"));
    let changed = OrderDraft { quantity: 2, ..draft("queued") };
    book.transact(Op::Order, |work| work.edit_order(replaced, &changed)).unwrap();
    let underway = queue(book, draft("underway"));
    next_call(book, underway, None);
    book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(true)).unwrap();
}

/// Each request is there as it was left, word for word, and goes on from there.
pub fn found(shelf: Shelf) {
    let mut book = shelf.open();
    let orders = book.read().orders(None).unwrap();
    let named = |note: &str| -> Order {
        let with = |order: &&Order| book.read().order(order.id).unwrap().request.note == note;
        orders.iter().find(with).unwrap().clone()
    };
    let states: Vec<State> = orders.iter().rev().map(|order| order.state).collect();
    use State as S;
    assert_eq!(
        states,
        [S::Delivered, S::Delivered, S::InDoubt, S::Rejected, S::Held, S::Withdrawn, S::Queued, S::Underway]
    );
    for order in &orders {
        let screen = book.read().order(order.id).unwrap();
        // Who asked is in all of them but the one where it was erased, which is no request to be sent any more.
        assert_eq!(screen.request.contact == Contact::default(), order.erased_at.is_some());
        if order.erased_at.is_none() {
            let read = OrderRequest::from_json(screen.body.as_bytes(), "frozen").unwrap();
            assert_eq!(
                (&read, read.id, read.contact.name.as_str()),
                (&screen.request, order.id, "Wren Alderfoot")
            );
        }
        assert_eq!((order.maker.as_str(), order.number, order.sku.as_str()), (MAKER, 12, "TT-4180-15"));
    }
    let asked = named("asked back");
    assert_eq!((asked.photos, asked.photos_arrived), (1, 1));
    let shop = asked.shop.unwrap();
    assert_eq!((shop.word, shop.message.as_deref()), (ShopStatus::Question, Some("Which seat is it?")));
    let erased = &orders[6];
    assert!(erased.erased_at.is_some() && erased.erase_at_shop);
    assert_eq!(named("perhaps sent").fault, Some(Fault::Timeout));
    assert_eq!(named("turned back").reason, Some(Reason::Token));
    assert!(matches!(named("held").reason, Some(Reason::PriceChanged { number: 13, .. })));
    let (replaced, queued) = (named("replaced"), named("queued"));
    assert_eq!((replaced.replaced_by, queued.replaces), (Some(queued.id), Some(replaced.id)));
    assert_eq!(queued.quantity, 2);
    let shop = book.read().shop().unwrap().unwrap();
    assert_eq!(
        (shop.base.as_str(), shop.agreement.unwrap().words.as_str()),
        (SHOP, "Send my order requests there.")
    );
    assert!(book.read().catalogue_fetch().unwrap().unwrap().daily);
    // What the shop has or may have is with the one shop there was.
    for order in &orders {
        let with = order.may_be_with_shop || order.state == State::Delivered;
        assert_eq!(order.at.as_ref().map(|at| at.base.as_str()), with.then_some(SHOP), "{order:?}");
    }
    let bike = queued.bike.unwrap();
    assert_eq!(book.read().bike_screen(bike).unwrap().orders.len(), 8);

    // A day later the one under way counts as cut short; what is due goes on.
    let underway = named("underway").id;
    let later = Timestamp(NOW.0 + DAY);
    let mut steps: Vec<Step> = book.due(later).unwrap().iter().map(|it| it.step).collect();
    assert_eq!(book.read().order(underway).unwrap().order.state, State::InDoubt);
    steps.sort_by_key(|step| format!("{step:?}"));
    assert_eq!(steps, [Step::Ask, Step::Catalogue, Step::Erase, Step::Send, Step::Send]);
}

/// In a book of format 7 whose shop was changed, what is known of the earlier one is told by the agreements.
pub fn found_with_an_earlier_shop(shelf: Shelf) {
    const OTHER: &str = "https://other.example";
    let conn = rusqlite::Connection::open(shelf.path()).unwrap();
    // As that release could leave it: nothing was under way or perhaps sent when the shop was changed.
    conn.execute_batch(&format!(
        "UPDATE outbox SET state = 'withdrawn', in_doubt = 1, in_flight = NULL, began_at = NULL
         WHERE state IN ('underway', 'in_doubt');
         UPDATE shops SET base = '{OTHER}', token = 'tarn-and-tiller-2';
         INSERT INTO agreements (base, words, agreed_at) VALUES ('{OTHER}', 'There too.', {});",
        NOW.0 + DAY
    ))
    .unwrap();
    drop(conn);
    let mut book = shelf.open();
    let orders = book.read().orders(None).unwrap();
    let delivered: Vec<&Order> = orders.iter().filter(|order| order.state == State::Delivered).collect();
    assert_eq!(delivered.len(), 2);
    for order in delivered {
        assert_eq!(order.at.as_ref().unwrap().base, SHOP);
        // That shop's token was not kept.
        assert_eq!(order.reason, Some(Reason::ShopGone { base: Some(SHOP.into()) }), "{order:?}");
    }
    let perhaps = orders.iter().filter(|it| it.state == State::Withdrawn && it.may_be_with_shop);
    let perhaps: Vec<&Order> = perhaps.collect();
    assert_eq!(perhaps.len(), 2);
    assert!(perhaps.iter().all(|order| order.at.is_none()), "which of the two may have them nobody knows");
    let later = Timestamp(NOW.0 + 2 * DAY);
    let of_old = |book: &mut FieldBook| {
        let due = book.due(later).unwrap();
        due.into_iter().filter(|call| call.base == SHOP).map(|call| call.step).collect::<Vec<_>>()
    };
    assert_eq!(of_old(&mut book), []);
    // Entered again, it is asked again.
    let token = Token::new("larch-hollow-1").unwrap();
    book.transact(Op::ChangeSettings, |work| work.set_shop(SHOP, &token)).unwrap();
    let steps = of_old(&mut book);
    assert!(steps.contains(&Step::Ask) && steps.contains(&Step::Erase), "{steps:?}");
    assert!(
        book.read()
            .orders(None)
            .unwrap()
            .iter()
            .all(|it| !matches!(it.reason, Some(Reason::ShopGone { .. })))
    );
}
