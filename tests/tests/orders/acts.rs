//! What the user does: ask, change, take back, send again.

use crate::bench::{Bench, MAKER, START, demo_catalogue, subject};
use crate::shop::{Mischief, Shop};
use rust_decimal::Decimal;
use steerwright_core::book::{BookError, FieldBook, Op, OrderId, Screen};
use steerwright_core::fit::Verdict;
use steerwright_core::orders::wire::{Contact, Kind, OrderRequest};
use steerwright_core::orders::{OrderDraft, Reason, State};

fn queue(book: &mut FieldBook, draft: &OrderDraft) -> Result<OrderId, BookError> {
    book.transact(Op::Order, |work| work.queue_order(draft)).map(|outcome| outcome.output)
}

#[test]
fn a_request_is_frozen_as_it_will_be_sent() {
    let mut bench = Bench::with_shop();
    bench.photo("progressive-turned.jpg");
    let draft = bench.draft();
    let outcome = bench.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap();
    assert!(outcome.changes.contains(Screen::Orders) && outcome.changes.contains(Screen::Bike(bench.bike)));
    // What was asked cannot be undone by itself: it has to be withdrawn.
    assert_ne!(bench.book.read().next_undo().unwrap(), Some(Op::Order));
    let before = bench.book.read().order(outcome.output).unwrap();
    assert_eq!(OrderRequest::from_json(before.body.as_bytes(), "body").unwrap(), before.request);
    assert_eq!((before.request.id, before.request.kit.sku.as_str()), (outcome.output, bench.sku.as_str()));
    assert_eq!(before.request.id.0.get_version_num(), 7);
    assert_eq!(before.request.bike, bench.book.read().bike_screen(bench.bike).unwrap().record.bike);
    assert_eq!((before.order.state, before.order.photos, before.order.photos_arrived), (State::Queued, 1, 0));

    // Neither the bike's changes nor attempts nor closing the book change a byte of it.
    let edit = steerwright_core::book::BikeEdit { name: Some("Renamed".into()), ..Default::default() };
    let bike = bench.bike;
    bench.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)).unwrap();
    let mut shop = Shop::default();
    shop.round(&mut bench.book, START, || Mischief::ErrorAfter);
    let bench = bench.reopen();
    assert_eq!(bench.book.read().order(outcome.output).unwrap().body, before.body);
}

#[test]
fn everything_that_is_missing_is_named_at_once() {
    let mut bench = Bench::new();
    let draft = OrderDraft {
        quantity: 0,
        contact: Contact { name: " ".into(), ..Contact::default() },
        note: "x".repeat(2_001),
        sku: "TT-NONE".into(),
        photos: vec![steerwright_core::book::PhotoId(bench.bike.0)],
        ..bench.draft()
    };
    let Err(BookError::Invalid(errors)) = queue(&mut bench.book, &draft) else { panic!("it was queued") };
    let said = errors.to_string();
    for field in ["quantity", "contact.name", "contact.email", "note", "sku", "photos[0]"] {
        assert!(said.contains(field), "{field} is not in\n{said}");
    }
    assert_eq!(bench.book.read().orders(None).unwrap(), []);
}

#[test]
fn what_will_not_go_is_only_asked_about() {
    for wanted in [Verdict::WillNotGo, Verdict::MeasureFirst] {
        let mut bench = Bench::new();
        let (bike, sku) = subject(|it| it == wanted);
        bench.bike = bench.book.transact(Op::AddBike, |work| work.add_bike(&bike, None)).unwrap().output;
        bench.sku = sku;
        let order = bench.draft();
        let Err(BookError::Invalid(errors)) = queue(&mut bench.book, &order) else { panic!("{wanted:?}") };
        assert!(errors.to_string().contains("a question to the shop"), "{errors}");
        let asked = queue(&mut bench.book, &OrderDraft { kind: Kind::Question, ..order }).unwrap();
        let asked = bench.book.read().order(asked).unwrap();
        assert_eq!((asked.order.kind, asked.request.found.verdict), (Kind::Question, wanted));
    }
}

#[test]
fn unsent_it_is_withdrawn_and_perhaps_sent_only_knowingly() {
    let mut bench = Bench::with_shop();
    let (first, second) = (bench.queue(), bench.queue());
    let withdraw = |bench: &mut Bench, id, anyway| {
        bench.book.transact(Op::Order, |work| work.withdraw_order(id, anyway)).map(|_| ())
    };
    withdraw(&mut bench, first, false).unwrap();
    assert_eq!(bench.state(first), State::Withdrawn);
    let mut shop = Shop::default();
    assert_eq!(shop.round(&mut bench.book, START, || Mischief::LostBack), 1);
    assert_eq!(bench.state(second), State::PerhapsSent);
    let refused = withdraw(&mut bench, second, false).unwrap_err().to_string();
    assert!(refused.contains("the shop may have it already"), "{refused}");
    assert_eq!(bench.state(second), State::PerhapsSent);
    withdraw(&mut bench, second, true).unwrap();
    let order = bench.book.read().order(second).unwrap().order;
    assert_eq!((order.state, order.perhaps_with_shop), (State::Withdrawn, true));
    assert!(withdraw(&mut bench, second, true).is_err());
}

#[test]
fn changing_makes_a_new_one_that_names_the_old() {
    let mut bench = Bench::with_shop();
    let old = bench.queue();
    let draft = OrderDraft { quantity: 2, ..bench.draft() };
    let new = bench.book.transact(Op::Order, |work| work.edit_order(old, &draft)).unwrap().output;
    let (was, is) = (bench.book.read().order(old).unwrap(), bench.book.read().order(new).unwrap());
    assert_eq!((was.order.state, was.order.replaced_by), (State::Withdrawn, Some(new)));
    assert_eq!((is.order.replaces, is.request.replaces, is.order.quantity), (Some(old), Some(old), 2));
    let mut shop = Shop::default();
    shop.serve(&mut bench.book, START);
    assert_eq!(shop.requests.keys().copied().collect::<Vec<_>>(), [new]);
}

#[test]
fn another_answer_of_a_newer_catalogue_waits_for_the_user() {
    let mut bench = Bench::with_shop();
    let old = bench.queue();
    let newer = |number, change: &dyn Fn(&mut steerwright_core::catalogue::Kit)| {
        let mut catalogue = demo_catalogue();
        catalogue.number = number;
        catalogue.kits.iter_mut().for_each(change);
        catalogue
    };
    // The same answer under a new number: nothing waits.
    bench.import(&newer(20, &|_| {}));
    assert_eq!(bench.book.due(START).unwrap().len(), 1);
    bench.import(&newer(21, &|kit| kit.price += Decimal::ONE));
    assert_eq!(bench.book.due(START).unwrap(), []);
    let held = bench.book.read().order(old).unwrap().order;
    assert_eq!(held.state, State::Held);
    let Some(Reason::PriceChanged { was, is, number: 21 }) = held.reason else { panic!("{held:?}") };
    assert_eq!(is - was, Decimal::ONE);
    let new = bench.book.transact(Op::Order, |work| work.send_order_again(old)).unwrap().output;
    let sent = bench.book.read().order(new).unwrap();
    assert_eq!((sent.order.kind, sent.order.number, sent.request.kit.price), (Kind::Order, 21, is));
    assert_eq!((bench.state(old), sent.request.replaces), (State::Withdrawn, Some(old)));

    // A head tube that is too short for the kit by now: the order becomes a question.
    bench.import(&newer(22, &|kit| {
        kit.head_tube_length_mm = [290.0, 300.0];
        // Those given hold for the old range.
        (kit.upper.offset_mm, kit.lower.offset_mm) = (None, None);
    }));
    assert_eq!(bench.book.due(START).unwrap(), []);
    let held = bench.book.read().order(new).unwrap().order;
    assert!(
        matches!(held.reason, Some(Reason::VerdictChanged { is: Verdict::WillNotGo, number: 22, .. })),
        "{held:?}"
    );
    let asked = bench.book.transact(Op::Order, |work| work.send_order_again(new)).unwrap().output;
    assert_eq!(bench.book.read().order(asked).unwrap().order.kind, Kind::Question);

    // The kit is in the catalogue no more.
    let mut gone = demo_catalogue();
    gone.number = 23;
    let sku = bench.sku.clone();
    gone.kits.retain(|kit| kit.sku != sku);
    bench.import(&gone);
    assert_eq!(bench.book.due(START).unwrap(), []);
    let held = bench.book.read().order(asked).unwrap().order;
    assert_eq!(held.reason, Some(Reason::KitGone { number: 23 }));
    let last = bench.book.transact(Op::Order, |work| work.send_order_again(asked)).unwrap().output;
    let mut shop = Shop::default();
    shop.serve(&mut bench.book, START);
    assert_eq!(shop.requests.keys().copied().collect::<Vec<_>>(), [last]);
    assert_eq!(bench.book.read().catalogue(MAKER, None).unwrap().number, 23);
}
