//! What the user does: ask, change, take back, send again.

use crate::bench::{Bench, MAKER, START, demo_catalogue, subject};
use crate::shop::{Mischief, Shop};
use rust_decimal::Decimal;
use steerwright_core::book::{BookError, FieldBook, Op, OrderId, Screen};
use steerwright_core::judgement::Verdict;
use steerwright_core::orders::{OrderDraft, Reason, State};
use steerwright_core::protocol::wire::{Contact, Kind, OrderRequest, ShopStatus};

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
    shop.sync_once(&mut bench.book, START, || Mischief::ErrorAfter);
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
    assert_eq!(shop.sync_once(&mut bench.book, START, || Mischief::LostBack), 1);
    assert_eq!(bench.state(second), State::InDoubt);
    let refused = withdraw(&mut bench, second, false).unwrap_err().to_string();
    assert!(refused.contains("the shop may have it already"), "{refused}");
    assert_eq!(bench.state(second), State::InDoubt);
    withdraw(&mut bench, second, true).unwrap();
    let order = bench.book.read().order(second).unwrap().order;
    assert_eq!((order.state, order.may_be_with_shop), (State::Withdrawn, true));
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

#[test]
fn an_old_request_is_a_draft_again() {
    let mut bench = Bench::with_shop();
    bench.photo("progressive-turned.jpg");
    bench.photo("grey.jpg");
    let draft = OrderDraft { quantity: 3, ..bench.draft() };
    let old = queue(&mut bench.book, &draft).unwrap();
    let again = bench.book.read().draft_from(old).unwrap();
    assert_eq!((&again.draft, again.photos_gone.as_slice()), (&draft, &[][..]));
    // Parts that were not wanted are not wanted again, where there were any to want.
    let (rough, sku) = (rough_bike(), bench.sku.clone());
    let rough = bench.book.transact(Op::AddBike, |work| work.add_bike(&rough, None)).unwrap().output;
    for with_parts in [true, false] {
        let draft =
            OrderDraft { bike: rough, with_parts, sku: sku.clone(), photos: Vec::new(), ..draft.clone() };
        let old = queue(&mut bench.book, &draft).unwrap();
        let screen = bench.book.read().order(old).unwrap();
        assert_eq!(screen.request.parts.is_empty(), !with_parts, "{:?}", screen.request.parts);
        assert_eq!(bench.book.read().draft_from(old).unwrap().draft, draft);
    }
    // A photo that was removed goes no more, and that is told.
    let gone = bench.photos[0];
    let hash = bench.book.read().order(old).unwrap().request.photos[0].sha256;
    bench.book.transact(Op::RemovePhoto, |work| work.remove_photo(gone)).unwrap();
    let again = bench.book.read().draft_from(old).unwrap();
    assert_eq!((again.draft.photos.as_slice(), again.photos_gone), (&bench.photos[1..], vec![hash]));
    // Erased, it has everything but who asked.
    bench.book.transact(Op::Order, |work| work.erase_contact(old)).unwrap();
    let again = bench.book.read().draft_from(old).unwrap().draft;
    assert_eq!((again.contact, again.note.as_str(), again.quantity), (Contact::default(), "", 3));
    assert!(matches!(bench.book.read().draft_from(OrderId(bench.bike.0)), Err(BookError::NotFound { .. })));
}

/// The bench's bike with bearings that have to be replaced.
fn rough_bike() -> steerwright_core::bike::Bike {
    let (mut bike, _) = subject(|it| matches!(it, Verdict::GoesIn | Verdict::GoesInAfterWork));
    bike.name = "Rough".into();
    bike.observed.bearings = Some(steerwright_core::bike::Bearings::Rough);
    bike
}

#[test]
fn a_bike_s_screen_has_its_requests_in_short() {
    let mut bench = Bench::with_shop();
    let (first, second) = (bench.queue(), bench.queue());
    bench.book.transact(Op::Order, |work| work.withdraw_order(first, false)).unwrap();
    let mut shop = Shop::default();
    shop.words.insert(second, (ShopStatus::Accepted, None));
    shop.serve(&mut bench.book, START);
    let (other, _) = subject(|it| it == Verdict::WillNotGo);
    let other = bench.book.transact(Op::AddBike, |work| work.add_bike(&other, None)).unwrap().output;
    let draft = OrderDraft { bike: other, kind: Kind::Question, ..bench.draft() };
    queue(&mut bench.book, &draft).unwrap();
    // The very rows of the list, the latest first.
    let short = bench.book.read().bike_screen(bench.bike).unwrap().orders;
    let full = bench.book.read().orders(Some(bench.bike)).unwrap();
    assert_eq!(short.len(), 2);
    for (short, full) in short.iter().zip(&full) {
        assert_eq!((short.id, &short.sku, short.quantity), (full.id, &full.sku, full.quantity));
        assert_eq!((short.kind(), short.state(), short.made_at), (full.kind, Some(full.state), full.made_at));
        assert_eq!(short.shop(), full.shop.as_ref().map(|shop| shop.word));
        assert_eq!((short.may_be_with_shop, short.erased_at), (full.may_be_with_shop, full.erased_at));
    }
    assert_eq!((short[0].id, short[0].shop()), (second, Some(ShopStatus::Accepted)));
    let others = bench.book.read().bike_screen(other).unwrap().orders;
    assert_eq!((others.len(), others[0].kind(), others[0].state()), (1, Kind::Question, Some(State::Queued)));
}

#[test]
fn a_draft_is_tried_without_a_trace_and_told_the_same() {
    let mut bench = Bench::new();
    bench.photo("progressive-turned.jpg");
    let draft = bench.draft();
    let tried = bench.book.read().try_order(&draft, START).unwrap();
    assert!(bench.book.read().orders(None).unwrap().is_empty());
    let id = queue(&mut bench.book, &draft).unwrap();
    let queued = bench.book.read().order(id).unwrap().request;
    // Only its name and the moment are its own.
    assert_eq!(OrderRequest { id, made_at: queued.made_at, ..tried }, queued);

    let wrong = OrderDraft { quantity: 0, contact: Contact::default(), ..draft };
    let tried = bench.book.read().try_order(&wrong, START).unwrap_err();
    assert_eq!(queue(&mut bench.book, &wrong).unwrap_err(), tried);
}
