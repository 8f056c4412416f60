//! The user's actions: ask, change, withdraw, send again.

use crate::fixture::{Fixture, MAKER, START, demo_catalogue, subject};
use crate::shop::{InjectedFault, Shop};
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
    let mut fixture = Fixture::with_shop();
    fixture.photo("progressive-turned.jpg");
    let draft = fixture.draft();
    let outcome = fixture.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap();
    assert!(outcome.changes.contains(Screen::Orders) && outcome.changes.contains(Screen::Bike(fixture.bike)));
    // No shop has it yet, so it is the next thing to undo.
    assert_eq!(fixture.book.read().next_undo().unwrap().map(|it| it.op), Some(Op::Order));
    let before = fixture.book.read().order(outcome.output).unwrap();
    assert_eq!(OrderRequest::from_json(before.body.as_bytes(), "body").unwrap(), before.request);
    assert_eq!((before.request.id, before.request.kit.sku.as_str()), (outcome.output, fixture.sku.as_str()));
    assert_eq!(before.request.id.0.get_version_num(), 7);
    assert_eq!(before.request.bike, fixture.book.read().bike_screen(fixture.bike).unwrap().record.bike);
    assert_eq!((before.order.state, before.order.photos, before.order.photos_arrived), (State::Queued, 1, 0));

    // Changes of the bike, attempts and closing the book do not change a byte of it.
    let edit = steerwright_core::book::BikeEdit { name: Some("Renamed".into()), ..Default::default() };
    let bike = fixture.bike;
    fixture.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)).unwrap();
    let mut shop = Shop::default();
    shop.sync_once(&mut fixture.book, START, || InjectedFault::ErrorAfter);
    let fixture = fixture.reopen();
    assert_eq!(fixture.book.read().order(outcome.output).unwrap().body, before.body);
}

/// Undoing withdraws what no shop has, and redoing queues it again. Once a shop may have it, undoing says so once and then
/// goes on with what was done before.
#[test]
fn a_request_is_undone_until_a_shop_may_have_it() {
    let mut fixture = Fixture::with_shop();
    let draft = fixture.draft();
    let order = fixture.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap().output;
    let state = |fixture: &Fixture| fixture.book.read().order(order).unwrap().order.state;
    let undone = fixture.book.undo().unwrap().unwrap();
    assert!(undone.changes.contains(Screen::Orders) && undone.changes.contains(Screen::Bike(fixture.bike)));
    assert_eq!((undone.output.op, undone.output.bikes[0].0), (Op::Order, fixture.bike));
    assert!(undone.output.description().contains(&fixture.sku), "{}", undone.output.description());
    assert_eq!(state(&fixture), State::Withdrawn);
    assert_eq!(fixture.book.due(START).unwrap(), []);
    fixture.book.redo().unwrap().unwrap();
    assert_eq!(state(&fixture), State::Queued);

    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!(state(&fixture), State::Delivered);
    let Err(BookError::Refused(why)) = fixture.book.undo() else { panic!("it was undone") };
    assert!(why.to_string().contains("can no longer be undone: it is with the shop"), "{why}");
    assert_eq!(state(&fixture), State::Delivered);
    assert_ne!(fixture.book.read().next_undo().unwrap().map(|it| it.op), Some(Op::Order));
}

#[test]
fn everything_that_is_missing_is_named_at_once() {
    let mut fixture = Fixture::new();
    let draft = OrderDraft {
        quantity: 0,
        contact: Contact { name: " ".into(), ..Contact::default() },
        note: "x".repeat(2_001),
        sku: "TT-NONE".into(),
        photos: vec![steerwright_core::book::PhotoId(fixture.bike.0)],
        ..fixture.draft()
    };
    let Err(BookError::Invalid(errors)) = queue(&mut fixture.book, &draft) else { panic!("it was queued") };
    let said = errors.to_string();
    for field in ["quantity", "contact.name", "contact.email", "note", "sku", "photos[0]"] {
        assert!(said.contains(field), "{field} is not in\n{said}");
    }
    assert_eq!(fixture.book.read().orders(None).unwrap(), []);
}

#[test]
fn what_will_not_go_is_only_asked_about() {
    for wanted in [Verdict::WillNotGo, Verdict::MeasureFirst] {
        let mut fixture = Fixture::new();
        let (bike, sku) = subject(|it| it == wanted);
        fixture.bike = fixture.book.transact(Op::AddBike, |work| work.add_bike(&bike, None)).unwrap().output;
        fixture.sku = sku;
        let order = fixture.draft();
        let Err(BookError::Invalid(errors)) = queue(&mut fixture.book, &order) else { panic!("{wanted:?}") };
        assert!(errors.to_string().contains("a question to the shop"), "{errors}");
        let asked = queue(&mut fixture.book, &OrderDraft { kind: Kind::Question, ..order }).unwrap();
        let asked = fixture.book.read().order(asked).unwrap();
        assert_eq!((asked.order.kind, asked.request.found.verdict), (Kind::Question, wanted));
    }
}

#[test]
fn changing_makes_a_new_one_that_names_the_old() {
    let mut fixture = Fixture::with_shop();
    let old = fixture.queue();
    let draft = OrderDraft { quantity: 2, ..fixture.draft() };
    let new = fixture.book.transact(Op::Order, |work| work.edit_order(old, &draft)).unwrap().output;
    let (was, is) = (fixture.book.read().order(old).unwrap(), fixture.book.read().order(new).unwrap());
    assert_eq!((was.order.state, was.order.replaced_by), (State::Withdrawn, Some(new)));
    assert_eq!((is.order.replaces, is.request.replaces, is.order.quantity), (Some(old), Some(old), 2));
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!(shop.requests.keys().copied().collect::<Vec<_>>(), [new]);
}

#[test]
fn another_answer_of_a_newer_catalogue_waits_for_the_user() {
    let mut fixture = Fixture::with_shop();
    let old = fixture.queue();
    let newer = |number, change: &dyn Fn(&mut steerwright_core::catalogue::Kit)| {
        let mut catalogue = demo_catalogue();
        catalogue.number = number;
        catalogue.kits.iter_mut().for_each(change);
        catalogue
    };
    // The same answer under a new number: nothing waits.
    fixture.import(&newer(20, &|_| {}));
    assert_eq!(fixture.book.due(START).unwrap().len(), 1);
    fixture.import(&newer(21, &|kit| kit.price += Decimal::ONE));
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let held = fixture.book.read().order(old).unwrap().order;
    assert_eq!(held.state, State::Held);
    let Some(Reason::PriceChanged { was, is, number: 21 }) = held.reason else { panic!("{held:?}") };
    assert_eq!(is - was, Decimal::ONE);
    let new = fixture.book.transact(Op::Order, |work| work.send_order_again(old)).unwrap().output;
    let sent = fixture.book.read().order(new).unwrap();
    assert_eq!((sent.order.kind, sent.order.number, sent.request.kit.price), (Kind::Order, 21, is));
    assert_eq!((fixture.state(old), sent.request.replaces), (State::Withdrawn, Some(old)));

    // A head tube that is now too short for the kit: the order becomes a question.
    fixture.import(&newer(22, &|kit| {
        kit.head_tube_length_mm = [290.0, 300.0];
        // The stated offsets are for the old range.
        (kit.upper.offset_mm, kit.lower.offset_mm) = (None, None);
    }));
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let held = fixture.book.read().order(new).unwrap().order;
    assert!(
        matches!(held.reason, Some(Reason::VerdictChanged { is: Verdict::WillNotGo, number: 22, .. })),
        "{held:?}"
    );
    let asked = fixture.book.transact(Op::Order, |work| work.send_order_again(new)).unwrap().output;
    assert_eq!(fixture.book.read().order(asked).unwrap().order.kind, Kind::Question);

    // The kit is no longer in the catalogue.
    let mut gone = demo_catalogue();
    gone.number = 23;
    let sku = fixture.sku.clone();
    gone.kits.retain(|kit| kit.sku != sku);
    fixture.import(&gone);
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let held = fixture.book.read().order(asked).unwrap().order;
    assert_eq!(held.reason, Some(Reason::KitGone { number: 23 }));
    let last = fixture.book.transact(Op::Order, |work| work.send_order_again(asked)).unwrap().output;
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!(shop.requests.keys().copied().collect::<Vec<_>>(), [last]);
    assert_eq!(fixture.book.read().catalogue(MAKER, None).unwrap().number, 23);
}

#[test]
fn an_old_request_is_a_draft_again() {
    let mut fixture = Fixture::with_shop();
    fixture.photo("progressive-turned.jpg");
    fixture.photo("grey.jpg");
    let draft = OrderDraft { quantity: 3, ..fixture.draft() };
    let old = queue(&mut fixture.book, &draft).unwrap();
    let again = fixture.book.read().draft_from(old).unwrap();
    assert_eq!((&again.draft, again.photos_gone.as_slice()), (&draft, &[][..]));
    // Parts that were not wanted are not wanted again, if there were any to want.
    let (rough, sku) = (rough_bike(), fixture.sku.clone());
    let rough = fixture.book.transact(Op::AddBike, |work| work.add_bike(&rough, None)).unwrap().output;
    for with_parts in [true, false] {
        let draft =
            OrderDraft { bike: rough, with_parts, sku: sku.clone(), photos: Vec::new(), ..draft.clone() };
        let old = queue(&mut fixture.book, &draft).unwrap();
        let screen = fixture.book.read().order(old).unwrap();
        assert_eq!(screen.request.parts.is_empty(), !with_parts, "{:?}", screen.request.parts);
        assert_eq!(fixture.book.read().draft_from(old).unwrap().draft, draft);
    }
    // A photo that was removed is no longer sent, and that is reported.
    let gone = fixture.photos[0];
    let hash = fixture.book.read().order(old).unwrap().request.photos[0].sha256;
    fixture.book.transact(Op::RemovePhoto, |work| work.remove_photo(gone)).unwrap();
    let again = fixture.book.read().draft_from(old).unwrap();
    assert_eq!((again.draft.photos.as_slice(), again.photos_gone), (&fixture.photos[1..], vec![hash]));
    // Erased, it keeps everything except the sender.
    fixture.book.transact(Op::Order, |work| work.erase_contact(old)).unwrap();
    let again = fixture.book.read().draft_from(old).unwrap().draft;
    assert_eq!((again.contact, again.note.as_str(), again.quantity), (Contact::default(), "", 3));
    assert!(matches!(
        fixture.book.read().draft_from(OrderId(fixture.bike.0)),
        Err(BookError::NotFound { .. })
    ));
}

/// The fixture's bike with bearings that have to be replaced.
fn rough_bike() -> steerwright_core::bike::Bike {
    let (mut bike, _) = subject(|it| matches!(it, Verdict::GoesIn | Verdict::GoesInAfterWork));
    bike.name = "Rough".into();
    bike.observed.bearings = Some(steerwright_core::bike::Bearings::Rough);
    bike
}

#[test]
fn a_bike_s_screen_has_its_requests_in_short() {
    let mut fixture = Fixture::with_shop();
    let (first, second) = (fixture.queue(), fixture.queue());
    fixture.book.transact(Op::Order, |work| work.withdraw_order(first)).unwrap();
    let mut shop = Shop::default();
    shop.words.insert(second, (ShopStatus::Accepted, None));
    shop.serve(&mut fixture.book, START);
    let (other, _) = subject(|it| it == Verdict::WillNotGo);
    let other = fixture.book.transact(Op::AddBike, |work| work.add_bike(&other, None)).unwrap().output;
    let draft = OrderDraft { bike: other, kind: Kind::Question, ..fixture.draft() };
    queue(&mut fixture.book, &draft).unwrap();
    // The same rows as the list, the latest first.
    let short = fixture.book.read().bike_screen(fixture.bike).unwrap().orders;
    let full = fixture.book.read().orders(Some(fixture.bike)).unwrap();
    assert_eq!(short.len(), 2);
    for (short, full) in short.iter().zip(&full) {
        assert_eq!((short.id, &short.sku, short.quantity), (full.id, &full.sku, full.quantity));
        assert_eq!((short.kind(), short.state(), short.made_at), (full.kind, Some(full.state), full.made_at));
        assert_eq!(short.shop(), full.shop.as_ref().map(|shop| shop.status));
        assert_eq!((short.may_be_with_shop, short.erased_at), (full.may_be_with_shop, full.erased_at));
    }
    assert_eq!((short[0].id, short[0].shop()), (second, Some(ShopStatus::Accepted)));
    let others = fixture.book.read().bike_screen(other).unwrap().orders;
    assert_eq!((others.len(), others[0].kind(), others[0].state()), (1, Kind::Question, Some(State::Queued)));
}

#[test]
fn a_draft_is_tried_without_a_trace_and_told_the_same() {
    let mut fixture = Fixture::new();
    fixture.photo("progressive-turned.jpg");
    let draft = fixture.draft();
    let tried = fixture.book.read().try_order(&draft, START).unwrap();
    assert!(fixture.book.read().orders(None).unwrap().is_empty());
    let id = queue(&mut fixture.book, &draft).unwrap();
    let queued = fixture.book.read().order(id).unwrap().request;
    // Only its id and timestamp differ.
    assert_eq!(OrderRequest { id, made_at: queued.made_at, ..tried }, queued);

    let wrong = OrderDraft { quantity: 0, contact: Contact::default(), ..draft };
    let tried = fixture.book.read().try_order(&wrong, START).unwrap_err();
    assert_eq!(queue(&mut fixture.book, &wrong).unwrap_err(), tried);
}
