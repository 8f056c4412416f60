//! What the user tells a shop about a request that it has, and asking it at once.

use crate::fixture::{Fixture, START, subject};
use crate::shop::{InjectedFault, Shop, answer, problem};
use steerwright_core::book::{BookError, Op, OrderId, Timestamp};
use steerwright_core::judgement::Verdict;
use steerwright_core::orders::{
    CallOutcome, Fault, MessageKind, MessageState, OrderDraft, Reason, ShopMessage, State, Step, Token,
};
use steerwright_core::protocol::wire::{CancellationOutcome, Kind, OrderMessage, ProblemKind, ShopStatus};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::reading;

const MINUTE: i64 = 60_000;
const HOUR: i64 = 60 * MINUTE;

fn after(ms: i64) -> Timestamp {
    Timestamp(START.0 + ms)
}

/// A request that a shop has.
fn delivered() -> (Fixture, Shop, OrderId) {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!(fixture.state(id), State::Delivered);
    (fixture, shop, id)
}

fn withdraw(fixture: &mut Fixture, id: OrderId) -> Result<(), BookError> {
    fixture.book.transact(Op::Order, |work| work.withdraw_order(id)).map(|_| ())
}

fn tell(fixture: &mut Fixture, id: OrderId, text: &str) -> Result<(), BookError> {
    fixture.book.transact(Op::Order, |work| work.tell_shop(id, text, None)).map(|_| ())
}

fn messages(fixture: &Fixture, id: OrderId) -> Vec<ShopMessage> {
    fixture.book.read().order(id).unwrap().messages
}

/// The only message of a request.
fn message(fixture: &Fixture, id: OrderId) -> ShopMessage {
    let mut all = messages(fixture, id);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

#[test]
fn asking_now_waits_for_nothing_but_the_shop_s_retry_after() {
    let (mut fixture, mut shop, id) = delivered();
    assert_eq!(fixture.book.due(START).unwrap(), []);
    shop.words.insert(id, (ShopStatus::Question, Some("Which colour?".into())));
    fixture.book.ask_now(Some(id), START).unwrap();
    let due = fixture.book.due(START).unwrap();
    assert_eq!(due.iter().map(|call| call.step).collect::<Vec<_>>(), [Step::Ask]);
    shop.serve(&mut fixture.book, START);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!(order.shop.unwrap().status, ShopStatus::Question);

    // Our own wait after a failure is cut short, and the shop's is not, for any of its requests.
    let other = fixture.queue();
    shop.serve(&mut fixture.book, START);
    fixture.book.ask_now(None, after(1)).unwrap();
    assert_eq!(shop.sync_once(&mut fixture.book, after(1), || InjectedFault::ErrorBefore), 2);
    assert_eq!(fixture.book.due(after(2)).unwrap(), []);
    fixture.book.ask_now(None, after(2)).unwrap();
    let due = fixture.book.due(after(2)).unwrap();
    assert_eq!(due.len(), 2);
    for (call, fault) in due.iter().zip([InjectedFault::TooMany, InjectedFault::None]) {
        assert!(fixture.book.begin_call(call, after(2)).unwrap());
        let outcome = shop.visited(call, fault).unwrap();
        fixture.book.finish_call(call.id, &outcome, after(2)).unwrap();
    }
    // The injected 429 asks for two minutes.
    for asked in [None, Some(id), Some(other)] {
        fixture.book.ask_now(asked, after(3)).unwrap();
        assert_eq!(fixture.book.due(after(2 + 2 * MINUTE - 1)).unwrap(), [], "{asked:?}");
    }
    assert_eq!(fixture.book.due(after(2 + 2 * MINUTE)).unwrap().len(), 2);

    // A final decision is not asked about; neither is one about which nobody agreed.
    shop.words.insert(id, (ShopStatus::Collected, None));
    shop.words.insert(other, (ShopStatus::Cancelled, None));
    shop.serve(&mut fixture.book, after(HOUR));
    fixture.book.ask_now(None, after(HOUR)).unwrap();
    assert_eq!(fixture.book.due(after(HOUR)).unwrap(), []);
    let nobody = OrderId(uuid::Uuid::from_u128(7));
    assert!(matches!(fixture.book.ask_now(Some(nobody), START), Err(BookError::NotFound { .. })));
}

#[test]
fn a_request_that_is_asked_about_no_more_is_asked_about_when_the_user_asks() {
    let (mut fixture, mut shop, id) = delivered();
    let late = after(200 * 24 * HOUR);
    shop.serve(&mut fixture.book, late);
    let later = after(300 * 24 * HOUR);
    assert_eq!(fixture.book.due(later).unwrap(), []);
    shop.words.insert(id, (ShopStatus::Accepted, None));
    fixture.book.ask_now(Some(id), later).unwrap();
    shop.serve(&mut fixture.book, later);
    assert_eq!(fixture.book.read().order(id).unwrap().order.shop.unwrap().status, ShopStatus::Accepted);
}

#[test]
fn a_withdrawal_travels_and_the_shop_says_what_came_of_it() {
    for (word, outcome) in [
        (None, CancellationOutcome::Accepted),
        (Some(ShopStatus::Question), CancellationOutcome::Accepted),
        (Some(ShopStatus::Accepted), CancellationOutcome::TooLate),
    ] {
        let (mut fixture, mut shop, id) = delivered();
        if let Some(word) = word {
            shop.words.insert(id, (word, Some("Well.".into())));
        }
        withdraw(&mut fixture, id).unwrap();
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.withdrawal, order.messages_waiting), (State::Delivered, true, 1));
        assert!(order.next_at.is_some());
        assert!(withdraw(&mut fixture, id).unwrap_err().to_string().contains("withdrawn already"));
        // Offline it waits, and costs no try.
        assert_eq!(shop.sync_once(&mut fixture.book, after(1), || InjectedFault::NoNetwork), 1);
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.tries, order.fault), (0, Some(Fault::NoNetwork)));
        // The answer is lost, and the program is closed: it is told again under the same address.
        let mut fixture = fixture.reopen();
        let at = after(HOUR);
        assert_eq!(shop.sync_once(&mut fixture.book, at, || InjectedFault::LostBack), 1);
        shop.serve(&mut fixture.book, after(2 * HOUR));
        let told = message(&fixture, id);
        assert_eq!((told.kind, told.state), (MessageKind::Withdrawal, MessageState::Sent));
        assert_eq!((told.outcome, told.ended_at), (Some(outcome), Some(after(2 * HOUR))));
        let order = fixture.book.read().order(id).unwrap().order;
        let late = outcome == CancellationOutcome::TooLate;
        let status = if late { ShopStatus::Accepted } else { ShopStatus::Withdrawn };
        assert_eq!(order.shop.unwrap().status, status);
        assert_eq!((order.shop_number, order.messages_waiting), (Some(1), 0));
        assert_eq!(order.shop_contact.as_deref(), Some("Tarn & Tiller Components\n+1 202 555 0162"));
        // A shop that delivers all the same may still be asked what becomes of it; else nothing is left to ask.
        assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap().len(), usize::from(late));
        assert_eq!(fixture.book.read().examine().unwrap(), Vec::<String>::new());
    }
}

/// A request that the shop may have: the shop's answer to the withdrawal says whether it has.
#[test]
fn withdrawing_what_may_be_with_the_shop_resolves_the_doubt() {
    for (arrived, outcome) in [(true, CancellationOutcome::Accepted), (false, CancellationOutcome::Unknown)] {
        let mut fixture = Fixture::with_shop();
        let id = fixture.queue();
        let mut shop = Shop::default();
        let fault = if arrived { InjectedFault::LostBack } else { InjectedFault::LostThere };
        assert_eq!(shop.sync_once(&mut fixture.book, START, || fault), 1);
        assert_eq!(fixture.state(id), State::InDoubt);
        withdraw(&mut fixture, id).unwrap();
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.may_be_with_shop), (State::Withdrawn, true));
        assert!(fixture.book.read().next_due().unwrap().is_some());
        let due = fixture.book.due(START).unwrap();
        assert!(matches!(due[0].step, Step::Withdraw { .. }) && due.len() == 1, "{due:?}");
        shop.serve(&mut fixture.book, START);
        assert_eq!(message(&fixture, id).outcome, Some(outcome));
        let order = fixture.book.read().order(id).unwrap().order;
        let state = if arrived { State::Delivered } else { State::Withdrawn };
        assert_eq!((order.state, order.may_be_with_shop), (state, false));
        assert_eq!(order.shop.map(|shop| shop.status), arrived.then_some(ShopStatus::Withdrawn));
        // A copy that was still on its way is refused by the shop.
        assert_eq!(shop.requests.contains_key(&id), arrived);
        assert_eq!(fixture.book.due(after(1_000 * HOUR)).unwrap(), []);
    }
}

#[test]
fn a_withdrawal_is_undone_until_the_shop_may_know_it() {
    let (mut fixture, mut shop, id) = delivered();
    withdraw(&mut fixture, id).unwrap();
    let undone = fixture.book.undo().unwrap().unwrap();
    assert!(
        undone.output.description().contains("withdrawal to the shop"),
        "{}",
        undone.output.description()
    );
    assert_eq!(undone.output.bikes[0].0, fixture.bike);
    assert_eq!(message(&fixture, id).state, MessageState::TakenBack);
    shop.serve(&mut fixture.book, after(HOUR));
    assert!(shop.cancelled.is_empty());
    fixture.book.redo().unwrap().unwrap();
    assert_eq!(message(&fixture, id).state, MessageState::Queued);
    // Nothing was sent without a network, so it can still be undone; with a lost answer it cannot.
    assert_eq!(shop.sync_once(&mut fixture.book, after(2 * HOUR), || InjectedFault::NoNetwork), 1);
    fixture.book.undo().unwrap().unwrap();
    fixture.book.redo().unwrap().unwrap();
    assert_eq!(shop.sync_once(&mut fixture.book, after(3 * HOUR), || InjectedFault::LostThere), 1);
    let Err(BookError::Refused(why)) = fixture.book.undo() else { panic!("it was undone") };
    assert!(why.to_string().contains("can no longer be undone"), "{why}");
    assert_eq!(message(&fixture, id).state, MessageState::Queued);
    shop.serve(&mut fixture.book, after(5 * HOUR));
    assert_eq!(message(&fixture, id).outcome, Some(CancellationOutcome::Accepted));
}

#[test]
fn an_answer_to_the_shop_goes_with_a_changed_request() {
    let (mut fixture, mut shop, id) = delivered();
    shop.words.insert(id, (ShopStatus::Question, Some("One or two?".into())));
    fixture.book.ask_now(None, START).unwrap();
    shop.serve(&mut fixture.book, START);
    let draft = OrderDraft { quantity: 2, ..fixture.draft() };
    let told = fixture
        .book
        .transact(Op::Order, |work| work.tell_shop(id, " Two, please.\nBoth today. ", Some(&draft)))
        .unwrap()
        .output;
    let changed = told.changed.unwrap();
    let mut fixture = fixture.reopen();
    shop.serve(&mut fixture.book, after(1));
    let sent = message(&fixture, id);
    assert_eq!((sent.id, sent.state, sent.changed), (told.message, MessageState::Sent, Some(changed)));
    assert_eq!(sent.text.as_deref(), Some("Two, please.\nBoth today."));
    let (body, times) = &shop.messages[&told.message];
    let read = OrderMessage::from_json(body.as_bytes(), "the message").unwrap();
    assert_eq!((read.request, read.changed, *times), (id, Some(changed), 1));
    let new = fixture.book.read().order(changed).unwrap();
    assert_eq!((new.order.state, new.request.replaces, new.order.quantity), (State::Delivered, Some(id), 2));

    // What a shop does not have is changed, not written about; an empty text is named.
    let waits = fixture.queue();
    let refused = tell(&mut fixture, waits, "Hello").unwrap_err().to_string();
    assert!(refused.contains("a message is only for a request that the shop has"), "{refused}");
    let Err(BookError::Invalid(errors)) = tell(&mut fixture, id, " \n ") else { panic!("it was queued") };
    assert!(errors.to_string().contains("text"), "{errors}");
    let Err(BookError::Invalid(errors)) = tell(&mut fixture, id, &"x".repeat(2_001)) else {
        panic!("it was queued")
    };
    assert!(errors.to_string().contains("at most 2000 characters"), "{errors}");
}

/// Whatever becomes of a call, the shop has each message once and the withdrawal after it, word for word.
#[test]
fn each_message_arrives_once_whatever_becomes_of_the_calls() {
    for fault in InjectedFault::ALL {
        let (mut fixture, mut shop, id) = delivered();
        tell(&mut fixture, id, "One moment.").unwrap();
        tell(&mut fixture, id, "Never mind.").unwrap();
        withdraw(&mut fixture, id).unwrap();
        let mut now = after(1);
        for round in 0..12 {
            let how = if round % 3 == 0 { fault } else { InjectedFault::None };
            shop.sync_once(&mut fixture.book, now, || how);
            now = Timestamp(now.0 + HOUR);
            if round == 3 {
                fixture = fixture.reopen();
            }
        }
        let told = messages(&fixture, id);
        assert!(told.iter().all(|it| it.state == MessageState::Sent), "{fault:?}: {told:?}");
        let texts: Vec<String> = told[..2]
            .iter()
            .map(|it| OrderMessage::from_json(shop.messages[&it.id].0.as_bytes(), "m").unwrap().text)
            .collect();
        assert_eq!((texts, shop.messages.len()), (vec!["One moment.".into(), "Never mind.".into()], 2));
        assert_eq!(shop.words[&id].0, ShopStatus::Withdrawn);
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.fault, order.tries, order.messages_waiting), (None, 0, 0), "{fault:?}");
    }
}

#[test]
fn what_the_shop_rejects_for_good_says_why_and_is_sent_again_or_cleared() {
    for (told, reason) in [
        (problem(ProblemKind::NotFound), Reason::NotAtShop),
        (problem(ProblemKind::KeyReused), Reason::KeyReused),
        (problem(ProblemKind::Token), Reason::Token),
        (answer(404, &[], Vec::new()), Reason::Address { status: 404 }),
        (
            problem(ProblemKind::Invalid),
            Reason::Invalid { detail: Some("because".into()), errors: Vec::new() },
        ),
    ] {
        let (mut fixture, mut shop, id) = delivered();
        tell(&mut fixture, id, "Hello.").unwrap();
        let call = fixture.book.due(after(1)).unwrap().remove(0);
        assert!(fixture.book.begin_call(&call, after(1)).unwrap());
        let taken = fixture.book.transact(Op::Order, |work| work.take_message_back(message_id(&call.step)));
        assert!(taken.unwrap_err().to_string().contains("cannot be taken back"));
        fixture.book.finish_call(call.id, &CallOutcome::Answer(told), after(1)).unwrap();
        let rejected = message(&fixture, id);
        assert_eq!((rejected.state, rejected.reason.as_ref()), (MessageState::Rejected, Some(&reason)));
        let order = fixture.book.read().order(id).unwrap().order;
        assert_eq!((order.state, order.messages_rejected, order.messages_waiting), (State::Delivered, 1, 0));
        assert!(!rejected.reason.unwrap().description().is_empty());

        fixture.book.transact(Op::Order, |work| work.send_message_again(rejected.id)).unwrap();
        shop.serve(&mut fixture.book, after(2));
        assert_eq!(message(&fixture, id).state, MessageState::Sent, "{reason:?}");
        let again = fixture.book.transact(Op::Order, |work| work.send_message_again(rejected.id));
        assert!(again.unwrap_err().to_string().contains("nothing to send again"));

        tell(&mut fixture, id, "Or not.").unwrap();
        let second = messages(&fixture, id)[1].id;
        fixture.book.transact(Op::Order, |work| work.take_message_back(second)).unwrap();
        assert_eq!(messages(&fixture, id)[1].state, MessageState::TakenBack);
        shop.serve(&mut fixture.book, after(HOUR));
        assert_eq!(shop.messages.len(), 1);
    }
}

fn message_id(step: &Step) -> steerwright_core::book::MessageId {
    let Step::Tell { message } = step else { panic!("{step:?}") };
    *message
}

#[test]
fn erasing_takes_the_messages_and_keeps_the_withdrawal() {
    let (mut fixture, mut shop, id) = delivered();
    tell(&mut fixture, id, "Call me at the Larch Hollow sawmill.").unwrap();
    shop.serve(&mut fixture.book, START);
    tell(&mut fixture, id, "Ask for Wren at the sawmill.").unwrap();
    withdraw(&mut fixture, id).unwrap();
    fixture.book.transact(Op::Order, |work| work.erase_contact(id)).unwrap();
    assert!(fixture.book.finish_erasing().unwrap());
    let states: Vec<_> = messages(&fixture, id).iter().map(|it| (it.state, it.text.clone())).collect();
    let expected = [MessageState::Sent, MessageState::TakenBack, MessageState::Queued];
    assert_eq!(states, expected.map(|state| (state, None)));
    let refused = tell(&mut fixture, id, "Hello").unwrap_err().to_string();
    assert!(refused.contains("who asked is erased"), "{refused}");
    let mut steps = Vec::new();
    for _ in 0..3 {
        for call in fixture.book.due(after(HOUR)).unwrap() {
            assert!(fixture.book.begin_call(&call, after(HOUR)).unwrap());
            let outcome = CallOutcome::Answer(shop.call(&call));
            fixture.book.finish_call(call.id, &outcome, after(HOUR)).unwrap();
            steps.push(call.step);
        }
    }
    assert!(matches!(steps[..], [Step::Withdraw { .. }, Step::Erase]), "{steps:?}");
    assert!(shop.erased.contains(&id) && shop.cancelled.contains(&id));
    let files = fixture.temp_book.names().into_iter().map(|name| fixture.temp_book.folder().join(name));
    for path in files.filter(|path| path.is_file()) {
        let bytes = std::fs::read(&path).unwrap();
        assert!(!bytes.windows(7).any(|window| window == b"sawmill"), "{}", path.display());
    }
}

#[test]
fn forgetting_a_shop_says_what_it_was_still_to_be_asked() {
    let (mut fixture, mut shop, erased) = delivered();
    let told = fixture.queue();
    let done = fixture.queue();
    shop.serve(&mut fixture.book, START);
    fixture.book.transact(Op::Order, |work| work.erase_contact(done)).unwrap();
    shop.serve(&mut fixture.book, after(1));
    fixture.book.transact(Op::Order, |work| work.erase_contact(erased)).unwrap();
    withdraw(&mut fixture, told).unwrap();
    let base = "https://shop.example";
    let left = fixture.book.transact(Op::ChangeSettings, |work| work.forget_shop(base)).unwrap().output;
    assert_eq!((left.not_erased, left.not_told), (vec![erased], vec![told]));
    for id in [erased, told] {
        assert_eq!(fixture.book.read().order(id).unwrap().order.reason, Some(Reason::ShopGone));
    }
    let refused = tell(&mut fixture, told, "Hello").unwrap_err().to_string();
    assert!(refused.contains("Tell the shop yourself"), "{refused}");
    // A shop that owes nothing is forgotten without a word.
    let token = Token::new("larch-hollow-1").unwrap();
    fixture.book.transact(Op::ChangeSettings, |work| work.set_shop(base, &token)).unwrap();
    let left = fixture.book.transact(Op::ChangeSettings, |work| work.forget_shop(base)).unwrap().output;
    assert_eq!((left.not_erased, left.not_told), (Vec::new(), Vec::new()));
}

/// A reading of the lower bearing seat that contradicts the others, so that nobody knows how wide it is.
fn contradict(fixture: &mut Fixture) {
    let bike = fixture.bike;
    let screen = fixture.book.read().bike_screen(bike).unwrap();
    let what = Quantity::LowerBoreDiameter;
    let known = screen.findings.get(what).map_or(44.0, |estimate| estimate.value);
    for value in [known, known + 3.0] {
        let row = reading(what, value, Instrument::Caliper);
        fixture
            .book
            .transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, None))
            .unwrap();
    }
}

#[test]
fn readings_that_change_the_verdict_stop_what_was_not_sent() {
    let mut fixture = Fixture::with_shop();
    let id = fixture.queue();
    // A reading that changes nothing stops nothing.
    let bike = fixture.bike;
    let row = reading(Quantity::FrontTyreDiameter, 740.0, Instrument::Tape);
    fixture.book.transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, None)).unwrap();
    assert_eq!(fixture.book.due(START).unwrap().len(), 1);
    contradict(&mut fixture);
    assert_eq!(fixture.book.due(START).unwrap(), []);
    let order = fixture.book.read().order(id).unwrap().order;
    assert_eq!(order.state, State::Held);
    let Some(Reason::ReadingsChanged { was, is: Verdict::MeasureFirst }) = order.reason else {
        panic!("{order:?}")
    };
    assert!(OrderDraft::clone(&fixture.draft()).kind == Kind::Order && was != Verdict::MeasureFirst);
    let said = order.reason.unwrap().description();
    for part in ["By what was measured since", "is not decided", "as a question", "change it", "withdraw it"]
    {
        assert!(said.contains(part), "{said}");
    }

    // Confirmed, it goes with the readings of now, and only as a question.
    let again = fixture.book.transact(Op::Order, |work| work.send_order_again(id)).unwrap().output;
    let sent = fixture.book.read().order(again).unwrap();
    assert_eq!((sent.order.kind, sent.request.found.verdict), (Kind::Question, Verdict::MeasureFirst));
    assert_eq!(sent.request.bike.measured.len(), fixture.book.read().bike_screen(bike).unwrap().log.len());
    assert_eq!(fixture.book.due(START).unwrap().len(), 1, "it waits for nothing more");
    let mut shop = Shop::default();
    shop.serve(&mut fixture.book, START);
    assert_eq!((fixture.state(id), fixture.state(again)), (State::Withdrawn, State::Delivered));
    assert_eq!(shop.requests.len(), 1);
}

#[test]
fn readings_that_change_the_verdict_are_told_to_the_shop_that_has_the_request() {
    let (mut fixture, mut shop, id) = delivered();
    assert_eq!(fixture.book.read().verdict_changes(None).unwrap(), []);
    assert_eq!(fixture.book.read().order(id).unwrap().changed, None);
    contradict(&mut fixture);
    let screen = fixture.book.read().order(id).unwrap();
    let change = screen.changed.unwrap();
    assert_eq!((change.order, change.is), (id, Verdict::MeasureFirst));
    assert_eq!(screen.order.state, State::Delivered, "the shop keeps what it has");
    assert!(change.description().contains("Tell the shop"), "{}", change.description());
    let bike = Some(fixture.bike);
    assert_eq!(fixture.book.read().verdict_changes(bike).unwrap(), [change]);
    // With a changed request in its place there is nothing left to tell.
    let draft = OrderDraft { kind: Kind::Question, ..fixture.draft() };
    fixture.book.transact(Op::Order, |work| work.tell_shop(id, "It is not 44 mm.", Some(&draft))).unwrap();
    assert_eq!(fixture.book.read().verdict_changes(None).unwrap(), []);
    shop.serve(&mut fixture.book, after(1));
    assert_eq!(shop.requests.len(), 2);
}

#[test]
fn with_a_contradicted_seat_only_a_question_goes() {
    let mut fixture = Fixture::with_shop();
    contradict(&mut fixture);
    let draft = fixture.draft();
    let Err(BookError::Invalid(errors)) = fixture.book.transact(Op::Order, |work| work.queue_order(&draft))
    else {
        panic!("it was queued")
    };
    let said = errors.to_string();
    assert!(said.contains("kind") && said.contains("a question to the shop"), "{said}");
    assert!(said.contains("is not decided: something has to be measured first"), "{said}");
    let question = OrderDraft { kind: Kind::Question, ..draft };
    let asked = fixture.book.transact(Op::Order, |work| work.queue_order(&question)).unwrap().output;
    assert_eq!(fixture.book.read().order(asked).unwrap().order.kind, Kind::Question);
    // The demo has a bike whose seat is not decided: the same holds.
    let (bike, sku) = subject(|verdict| verdict == Verdict::MeasureFirst);
    fixture.bike = fixture.book.transact(Op::AddBike, |work| work.add_bike(&bike, None)).unwrap().output;
    fixture.sku = sku;
    let draft = fixture.draft();
    assert!(fixture.book.transact(Op::Order, |work| work.queue_order(&draft)).is_err());
}
