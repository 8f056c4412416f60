//! `steerwright book order`: asking at once, answering the shop, withdrawing, and readings that change the verdict.

use super::orders::{CONTACT, KIT, SHOP, problem, received};
use super::{BIKE, Fixture};
use serde_json::{Value, json};
use steerwright_core::book::Timestamp;
use steerwright_core::orders::{Answer, CallOutcome, OutboundCall};
use steerwright_core::protocol::wire::{
    Cancellation, CancellationOutcome, CancellationSchema, OrderMessage, ProblemKind, Receipt, ReceiptSchema,
    ShopStatus,
};

impl Fixture {
    /// A page as one line.
    fn line(&self, words: &[&str]) -> String {
        self.says(words).split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// A request that the shop has, with this word.
    fn with_a_request(word: ShopStatus, text: Option<&str>) -> Self {
        let fixture = Self::stocked();
        fixture.with_shop();
        fixture.asked();
        assert_eq!(fixture.answered(|call| received(call, word, text)), 1);
        fixture
    }
}

fn cancelled(call: &OutboundCall, outcome: CancellationOutcome) -> CallOutcome {
    let id = call.id.order().unwrap();
    assert_eq!((call.method, &call.path), ("PUT", &format!("/v1/order-requests/{id}/cancellation")));
    let at = Timestamp(1_777_708_800_000);
    let state =
        if outcome == CancellationOutcome::TooLate { ShopStatus::Accepted } else { ShopStatus::Withdrawn };
    let receipt = Receipt {
        schema: ReceiptSchema::V1,
        id,
        number: 17,
        received_at: at,
        state,
        since: at,
        message: None,
        contact: Some(CONTACT.to_owned()),
    };
    let told = Cancellation { schema: CancellationSchema::V1, outcome, receipt: Some(receipt) };
    let body = serde_json::to_vec(&told).unwrap();
    CallOutcome::Answer(Answer { status: 200, headers: Vec::new(), body })
}

#[test]
fn a_user_who_asks_is_told_how_to_ask_at_once() {
    let fixture = Fixture::stocked();
    fixture.with_shop();
    fixture.asked();
    // Days ahead, so that the next question is not due however long this takes.
    let today = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_millis();
    let at = Timestamp(i64::try_from(today).unwrap() + 6 * 86_400_000);
    assert_eq!(fixture.answered_at(at, |call| received(call, ShopStatus::Waiting, None)), 1);
    let sent = fixture.line(&["order", "send"]);
    assert!(
        sent.contains("Nothing is due just now") && sent.contains("`steerwright book order ask` asks"),
        "{sent}"
    );
    // Nobody answers at this address: the call is tried at once, and that is told.
    let asked = fixture.json(&["order", "ask", "1"]);
    assert_eq!((&asked["calls"], &asked["answered"]), (&json!(1), &json!(0)), "{asked}");
    assert!(fixture.fails(2, &["order", "ask", "7"]).contains("there is no order request `7`"));
}

#[test]
fn withdrawing_travels_and_names_a_number_to_say_aloud() {
    for (outcome, says) in [
        (CancellationOutcome::Accepted, "is withdrawn, and the shop knows"),
        (CancellationOutcome::TooLate, "your withdrawal came too late"),
    ] {
        let fixture = Fixture::with_a_request(ShopStatus::Waiting, None);
        let told = fixture.line(&["order", "withdraw", "1"]);
        assert!(told.contains("is withdrawn here, and the shop is to be told"), "{told}");
        assert!(fixture.line(&["order", "list"]).contains("your withdrawal waits to be sent"));
        assert!(fixture.fails(2, &["order", "withdraw", "1"]).contains("withdrawn already"));
        assert_eq!(fixture.answered(|call| cancelled(call, outcome)), 1);
        let shown = fixture.line(&["order", "show", "1"]);
        assert!(shown.contains(says) && shown.contains("at the shop No. 17"), "{shown}");
        let late = outcome == CancellationOutcome::TooLate;
        let speak = format!("speak to the shop, and name No. 17. The shop: {CONTACT}.");
        assert_eq!(shown.contains(&speak), late, "{shown}");
        let shown = fixture.json(&["order", "show", "1"]);
        assert_eq!(shown["messages"][0]["outcome"], json!(outcome.name()));
    }
    // Undone before the next contact, the shop hears nothing.
    let fixture = Fixture::with_a_request(ShopStatus::Waiting, None);
    fixture.says(&["order", "withdraw", "1"]);
    assert!(fixture.line(&["undo"]).contains("withdrawal to the shop about 1 TT-4180-15"));
    assert_eq!(fixture.json(&["order", "show", "1"])["order"]["messages_waiting"], 0);
}

#[test]
fn answer_the_shop_lets_you_answer() {
    let fixture = Fixture::with_a_request(ShopStatus::Question, Some("Which seat is it?"));
    let shown = fixture.line(&["order", "show", "1"]);
    for part in [
        "`steerwright book order message 1 \"…\"` answers the shop",
        "order edit 1 … --message",
        &format!("The shop: {CONTACT}."),
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    fixture.says(&["order", "message", "1", "The lower one.\nIt is 44.0 mm wide."]);
    let mut body = String::new();
    let take = |call: &OutboundCall| received(call, ShopStatus::Waiting, None);
    assert_eq!(
        fixture.answered(|call| match &call.body {
            steerwright_core::orders::Body::Text(text) => {
                let read = OrderMessage::from_json(text.as_bytes(), "message").unwrap();
                assert_eq!(read.text, "The lower one.\nIt is 44.0 mm wide.");
                take(call)
            }
            _ => panic!("{call:?}"),
        }),
        1
    );
    let shown = fixture.line(&["order", "show", "1"]);
    assert!(shown.contains("What you tell the shop") && shown.contains("It is 44.0 mm wide."), "{shown}");
    // With a changed request; then what the shop rejects is told again, or cleared.
    let edited = fixture.json(&["order", "edit", "1", "--quantity", "2", "--message", "Two, please."]);
    assert_eq!(edited["number"], 2);
    let shown = fixture.json(&["order", "show", "1"]);
    assert_eq!(shown["messages"][1]["changed"], edited["order"]);
    body.push_str(shown["messages"][1]["text"].as_str().unwrap());
    assert_eq!(body, "Two, please.");
    assert_eq!(
        fixture.answered(|call| match call.path.ends_with("/messages") {
            true => problem(ProblemKind::NotFound, "Nothing of this name."),
            false => received(call, ShopStatus::Waiting, None),
        }),
        2
    );
    let list = fixture.line(&["order", "list"]);
    for part in ["did not take what you told it", "order again 1", "--take-back", CONTACT] {
        assert!(list.contains(part), "{part}: {list}");
    }
    assert!(fixture.line(&["order", "again", "1"]).contains("is in the outbox"));
    assert!(fixture.line(&["order", "message", "1", "--take-back"]).contains("the shop is not told"));
    assert!(
        fixture.fails(2, &["order", "message", "1", "--take-back"]).contains("nothing about order request 1")
    );
    fixture.asked();
    let refused = fixture.fails(2, &["order", "message", "3", "Hello"]);
    assert!(refused.contains("waits to be sent, so no shop can be told about it"), "{refused}");
}

#[test]
fn a_shop_that_is_forgotten_is_named_what_it_still_owes() {
    let fixture = Fixture::with_a_request(ShopStatus::Waiting, None);
    fixture.says(&["order", "erase-contact", "1"]);
    let gone = fixture.line(&["order", "shop", "--forget", SHOP]);
    assert!(
        gone.contains(
            "has not erased yet who asked in order request 1 (No. 17 at the shop), as you wanted: ask it to."
        ),
        "{gone}"
    );
    let refused =
        fixture.fails(2, &["order", "shop", "https://shop.example/..", "--token-file", "token.txt"]);
    for part in ["the shop's address", "\"https://shop.example/..\"", "expected https://"] {
        assert!(refused.contains(part), "{refused}");
    }
}

/// A second reading of the lower bore that contradicts the first.
fn contradict(fixture: &Fixture) {
    for value in ["44.0mm", "47.0mm"] {
        fixture.says(&["measure", BIKE, "lower_bore_diameter", value, "--with", "caliper"]);
    }
}

#[test]
fn readings_that_change_the_verdict_stop_a_request_and_say_how_to_go_on() {
    let fixture = Fixture::stocked();
    fixture.with_shop();
    fixture.asked();
    contradict(&fixture);
    assert_eq!(fixture.answered(|_| unreachable!("it waits for the user")), 0);
    let list = fixture.line(&["order", "list"]);
    for part in [
        "waits for you",
        "By what was measured since, the kit is not decided",
        "as a question",
        "order again 1` sends it anyway",
        "order edit 1 …` changes it",
        "order withdraw 1` withdraws it",
    ] {
        assert!(list.contains(part), "{part}: {list}");
    }
    let again = fixture.json(&["order", "again", "1"]);
    assert_eq!(again["kind"], "question");
    // An order of such a kit is refused, with the way that is open.
    let words = ["order", "new", BIKE, "--kit", KIT, "--name", "Wren", "--phone", "030 12345"];
    let refused = fixture.fails(2, &words);
    assert!(refused.contains("is not decided") && refused.contains("ask it with --as-question"), "{refused}");
    assert_eq!(fixture.json(&[&words[..], &["--as-question"]].concat())["kind"], "question");
}

#[test]
fn readings_that_change_the_verdict_of_what_a_shop_has_say_tell_the_shop() {
    let fixture = Fixture::with_a_request(ShopStatus::Accepted, None);
    contradict(&fixture);
    for words in [&["order", "list"][..], &["order", "show", "1"]] {
        let page = fixture.line(words);
        for part in ["Tell the shop.", "order message 1", "order edit 1 --message", CONTACT] {
            assert!(page.contains(part), "{part}: {page}");
        }
    }
    let list: Value = fixture.json(&["order", "list"]);
    assert_eq!(list["verdict_changes"][0]["is"], "measure_first");
    assert_eq!(list["stock_clashes"], json!([]));
}
