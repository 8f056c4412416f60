//! `steerwright book order`: from the first request to the shop's answer, and every way in which it can fail.

use super::{BIKE, Fixture, assert_golden};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use steerwright_core::book::{Clock, FieldBook, OrderId, Timestamp};
use steerwright_core::orders::{Answer, CallOutcome, OutboundCall};
use steerwright_core::protocol::wire::{
    PROBLEM_JSON, Problem, ProblemKind, Receipt, ReceiptSchema, ShopStatus,
};

pub(super) const KIT: &str = "TT-4180-15";
pub(super) const SHOP: &str = "https://orders.tarn-and-tiller.example";
pub(super) const CONTACT: &str = "Tarn & Tiller Components, +1 202 555 0162";
const WREN: [&str; 4] = ["--name", "Wren Alderfoot", "--email", "wren@larch-hollow.example"];
/// Late enough that everything waiting in the book is due.
const LATER: Timestamp = Timestamp(4_000_000_000_000);

struct AtThatTime;

impl Clock for AtThatTime {
    fn now(&mut self) -> Timestamp {
        LATER
    }

    fn random(&mut self) -> [u8; 10] {
        [3; 10]
    }
}

impl Fixture {
    /// Queues an order for the bike and returns its id.
    pub(super) fn asked(&self) -> OrderId {
        let words = [&["order", "new", BIKE, "--kit", KIT][..], &WREN].concat();
        self.json(&words)["order"].as_str().unwrap().parse().unwrap()
    }

    /// Sets a shop and gives consent.
    pub(super) fn with_shop(&self) {
        fs::write(self.path("token.txt"), "larch-hollow-1\n").unwrap();
        self.says(&["order", "shop", SHOP, "--token-file", "token.txt"]);
        self.says(&["order", "consent", "--yes", "--who", "Wren"]);
    }

    /// Executes the due calls with this outcome for each; returns their number.
    pub(super) fn answered(&self, answer: impl Fn(&OutboundCall) -> CallOutcome) -> usize {
        self.answered_at(LATER, answer)
    }

    /// The same at this time.
    pub(super) fn answered_at(&self, at: Timestamp, answer: impl Fn(&OutboundCall) -> CallOutcome) -> usize {
        let mut book = FieldBook::open(&self.path("field.steerbook"), Box::new(AtThatTime)).unwrap().0;
        let due = book.due(at).unwrap();
        for call in &due {
            assert!(book.begin_call(call, at).unwrap());
            assert!(book.finish_call(call.id, &answer(call), at).unwrap().output);
        }
        due.len()
    }
}

pub(super) fn problem(kind: ProblemKind, detail: &str) -> CallOutcome {
    let body = serde_json::to_vec(&Problem::new(kind, Some(detail.to_owned()))).unwrap();
    let headers = vec![("Content-Type".to_owned(), PROBLEM_JSON.to_owned())];
    CallOutcome::Answer(Answer { status: kind.status(), headers, body })
}

pub(super) fn received(call: &OutboundCall, state: ShopStatus, text: Option<&str>) -> CallOutcome {
    let at = Timestamp(1_777_708_800_000);
    let receipt = Receipt {
        schema: ReceiptSchema::V1,
        id: call.id.order().unwrap(),
        number: 17,
        received_at: at,
        state,
        since: at,
        message: text.map(str::to_owned),
        contact: Some(CONTACT.to_owned()),
    };
    let body = serde_json::to_vec(&receipt).unwrap();
    CallOutcome::Answer(Answer { status: 201, headers: Vec::new(), body })
}

/// Imports a newer catalogue in which every kit has another price.
fn dearer(fixture: &Fixture, number: u32) {
    let mut catalogue: Value =
        serde_json::from_slice(&fs::read(fixture.path("catalogue.json")).unwrap()).unwrap();
    catalogue["number"] = number.into();
    for kit in catalogue["kits"].as_array_mut().unwrap() {
        kit["price"] = json!("1.00");
    }
    fs::write(fixture.path("dearer.json"), catalogue.to_string()).unwrap();
    fixture.says(&["catalogue", "import", "dearer.json"]);
}

#[test]
fn a_first_request_from_start_to_the_shop_s_word() {
    let fixture = Fixture::stocked();
    assert!(fixture.says(&["order", "list"]).contains("There are no order requests yet"));
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    fixture.says(&["photo", "add", BIKE, source.to_str().unwrap(), "--note", "upper seat"]);
    let words = ["order", "new", BIKE, "--kit", KIT, "--photo", "1", "--note", "Ring twice."];
    let words = [&words[..], &WREN, &["--address", "The old sawmill\nLarch Hollow"]].concat();
    assert_golden("order-new", &fixture.says(&words));
    assert_golden("order-list", &fixture.says(&["order", "list"]));
    assert_golden("order-show", &fixture.says(&["order", "show", "1"]));
    let shown = fixture.json(&["order", "show", "1"]);
    assert_eq!((&shown["number"], &shown["order"]["state"]), (&1.into(), &"queued".into()));
    // The tightest of what the check says.
    let checked = fixture.json(&["check", BIKE, "--kit", KIT]);
    assert_eq!(shown["holds"], checked["kits"][0]["holds"][0]);
    assert!(shown["holds"]["text"].as_str().unwrap().contains("holds"), "{shown}");
    assert_eq!(shown["request"]["contact"]["name"], "Wren Alderfoot");
    assert_eq!(shown["request"]["photos"][0]["note"], "upper seat");
    assert_eq!(fixture.json(&["show", BIKE])["orders"][0]["id"], shown["order"]["id"]);
    assert!(fixture.says(&["show", BIKE]).contains("1 x TT-4180-15  order     waits to be sent"));
    // A request is found by its id as by its number.
    let id = shown["order"]["id"].as_str().unwrap();
    assert_eq!(fixture.json(&["order", "show", id])["number"], 1);

    fs::write(fixture.path("token.txt"), "larch-hollow-1\n").unwrap();
    assert_golden("order-shop", &fixture.says(&["order", "shop", SHOP, "--token-file", "token.txt"]));
    assert_eq!(fixture.answered(|_| unreachable!("nothing is sent without consent")), 0);
    assert_golden("order-consent", &fixture.says(&["order", "consent"]));
    let words = fixture.json(&["order", "consent"])["words"].clone();
    assert_golden("order-consent-yes", &fixture.says(&["order", "consent", "--yes", "--who", "Wren"]));
    // The stored consent is the text that was shown.
    assert_eq!(fixture.json(&["order", "shop"])["shop"]["agreement"]["words"], words);
    assert!(!fixture.json(&["order", "shop"]).to_string().contains("larch-hollow-1"));
    assert_golden("order-shop-agreed", &fixture.says(&["order", "shop"]));
    assert!(fixture.says(&["order", "show", "1"]).contains("`steerwright book order send` sends it"));

    // The photo is already stored, then the request is sent and the shop asks a question.
    let bytes = shown["request"]["photos"][0]["bytes"].to_string();
    let there = |_: &OutboundCall| {
        let headers = vec![("Upload-Offset".to_owned(), bytes.clone())];
        CallOutcome::Answer(Answer { status: 200, headers, body: Vec::new() })
    };
    assert_eq!(fixture.answered(there), 1);
    assert_eq!(fixture.answered(|call| received(call, ShopStatus::Question, Some("Which seat is it?"))), 1);
    assert_golden("order-asked-back", &fixture.says(&["order", "show", "1"]));
    assert_golden("order-list-asked-back", &fixture.says(&["order", "list", BIKE]));
    assert!(
        fixture.fails(2, &["order", "again", "1"]).contains("is with the shop: there is nothing to send")
    );

    // After an edit the shop gets a new request that names the old one; the photo is included unless it is removed.
    let new = fixture.says(&["order", "edit", "1", "--quantity", "2", "--address", ""]);
    assert!(new.contains("takes the place of order request 1, which the shop has"), "{new}");
    let shown = fixture.json(&["order", "show", "2"]);
    assert_eq!((&shown["request"]["replaces"], &shown["order"]["photos"]), (&id.into(), &1.into()));
    assert_eq!(shown["request"]["contact"].get("address"), None);
    assert_eq!(shown["request"]["note"], "Ring twice.");
    assert!(fixture.says(&["order", "show", "1"]).contains("by order request 2"));

    fixture.says(&["order", "consent", "--no"]);
    assert_eq!(fixture.answered(|_| unreachable!("the consent is ended")), 0);
    assert_eq!(fixture.json(&["order", "list"])["shop"].get("agreement"), Some(&Value::Null));
}

/// Everything missing is reported in terms of the command-line options, and nothing is queued.
#[test]
fn what_is_missing_is_named() {
    let fixture = Fixture::stocked();
    let new = |more: &[&'static str]| [&["order", "new"][..], more].concat();
    let wren = |more: &[&'static str]| [&["order", "new", BIKE][..], more, &WREN].concat();
    let calls: [(i32, Vec<&str>, &[&str]); 16] = [
        (2, new(&[BIKE, "--kit", KIT]), &["--name is missing", "--email or --phone is missing"]),
        (2, wren(&["--kit", "TT-4180-51"]), &["--kit is \"TT-4180-51\"", "did you mean `TT-4180-15`?"]),
        (
            2,
            wren(&["--kit", KIT, "--quantity", "100"]),
            &["--quantity is 100; expected a whole number from 1 to 99"],
        ),
        (
            2,
            wren(&["--kit", KIT, "--phone", "call me"]),
            &["--phone is \"call me\"; expected a telephone number"],
        ),
        (2, wren(&["--kit", KIT, "--photo", "1"]), &["there is no photo `1`; there are none yet"]),
        (2, wren(&["--kit", KIT, "--maker", "Nobody"]), &["there is no catalogue `Nobody` in this book"]),
        (2, wren(&[]), &["--kit <SKU>"]),
        (
            2,
            [&["order", "new", "Hire bike 03", "--kit", KIT][..], &WREN].concat(),
            &["TT-4180-15 is not decided", "--as-question"],
        ),
        (
            2,
            [&["order", "new", "Hire bike 08", "--kit", KIT][..], &WREN].concat(),
            &["TT-4180-15 does not fit", "--as-question"],
        ),
        (2, vec!["order", "new", "Hire bike 99", "--kit", KIT], &["there is no bike `Hire bike 99`"]),
        (2, vec!["order", "show", "1"], &["there is no order request `1`; there are none yet"]),
        (2, vec!["order", "consent", "--yes"], &["there is no shop to send to yet", "order shop ADDRESS"]),
        (2, vec!["order", "catalogue"], &["there is no shop to send to yet"]),
        (2, vec!["order", "shop", SHOP], &["--token-file <FILE>"]),
        (
            2,
            vec!["order", "shop", "http://shop.example", "--token-file", "token.txt"],
            &["has to begin with https://"],
        ),
        (
            3,
            vec!["order", "shop", SHOP, "--token-file", "bad.txt"],
            &["bad.txt: expected a token", "8 to 512"],
        ),
    ];
    fs::write(fixture.path("token.txt"), "larch-hollow-1").unwrap();
    fs::write(fixture.path("bad.txt"), "secret but short of it").unwrap();
    for (status, words, parts) in calls {
        let told = fixture.fails(status, &words);
        for part in parts {
            assert!(told.contains(part), "{words:?}: {told}");
        }
        assert!(!told.contains("secret but"), "{told}");
    }
    assert_eq!(fixture.json(&["order", "list"])["orders"], json!([]));

    // As a question it is queued, and it stays a question when it is edited.
    let words = [
        "order",
        "new",
        "Hire bike 08",
        "--kit",
        KIT,
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 12345",
    ];
    assert_golden("order-question", &fixture.says(&words));
    assert!(fixture.fails(2, &["order", "edit", "1", "--as-order"]).contains("TT-4180-15 does not fit"));
    assert!(
        fixture.fails(2, &["order", "edit", "1", "--phone", ""]).contains("--email or --phone is missing")
    );
    assert_eq!(fixture.json(&["order", "edit", "1", "--note", "Really not?"])["kind"], "question");
    assert_eq!(fixture.json(&["order", "list"])["orders"][1]["state"], "withdrawn");
}

/// `--photo` adds, `--without-photo` removes, `--no-photos` clears; other photos stay.
#[test]
fn photos_are_added_and_left_out_one_by_one() {
    let fixture = Fixture::stocked();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo");
    for (file, note) in
        [("baseline-444-turned.jpg", "one"), ("grey.jpg", "two"), ("baseline-420.jpg", "three")]
    {
        fixture.says(&["photo", "add", BIKE, folder.join(file).to_str().unwrap(), "--note", note]);
    }
    fixture.says(&[&["order", "new", BIKE, "--kit", KIT, "--photo", "1"][..], &WREN].concat());
    let sent = |request: u32| {
        let shown = fixture.json(&["order", "show", &request.to_string()]);
        let photos = shown["request"].get("photos").and_then(Value::as_array).cloned().unwrap_or_default();
        photos.iter().map(|photo| photo["note"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(sent(1), ["one"]);
    let mut request = 1;
    for (words, goes) in [
        (&["--photo", "2"][..], &["one", "two"][..]),
        // A photo named twice is added once.
        (&["--photo", "2", "3"], &["one", "two", "three"]),
        (&["--without-photo", "1"], &["two", "three"]),
        (&["--without-photo", "2", "--photo", "1"], &["three", "one"]),
        (&["--quantity", "2"], &["three", "one"]),
        (&["--no-photos", "--photo", "2"], &["two"]),
        (&["--without-photo", "2"], &[]),
        (&["--photo", "1", "3"], &["one", "three"]),
        (&["--no-photos"], &[]),
    ] {
        let old = request.to_string();
        fixture.says(&[&["order", "edit", &old][..], words].concat());
        request += 1;
        assert_eq!(sent(request), goes, "{words:?}");
    }
    let old = request.to_string();
    let edit =
        |words: &[&str], status| fixture.fails(status, &[&["order", "edit", &old][..], words].concat());
    let told = edit(&["--without-photo", "1"], 2);
    assert!(
        told.contains(&format!("photo 1 does not go with order request {old}, so it cannot be left out")),
        "{told}"
    );
    assert!(edit(&["--photo", "4"], 2).contains("there is no photo `4`"));
    assert!(edit(&["--without-photo", "1", "--no-photos"], 2).contains("cannot be used with"));
    assert_eq!(fixture.json(&["order", "list"])["orders"].as_array().unwrap().len(), request as usize);
}

/// A request that an earlier shop has stays with it, as the output says; a removed shop is reported.
#[test]
fn another_shop_and_one_that_is_erased() {
    const OTHER: &str = "https://other.example";
    let fixture = Fixture::stocked();
    fixture.with_shop();
    fixture.asked();
    assert_eq!(fixture.answered(|call| received(call, ShopStatus::Waiting, None)), 1);
    fixture.says(&["order", "shop", OTHER, "--token-file", "token.txt"]);
    let shown = fixture.says(&["order", "show", "1"]).replace("\n              ", " ");
    assert!(shown.contains(SHOP) && shown.contains("order ask 1` asks the shop for its answer"), "{shown}");
    assert_eq!(fixture.json(&["order", "show", "1"])["order"]["at"], json!({"base": SHOP, "agreed": true}));
    fixture.says(&["order", "consent", "--yes"]);
    fixture.says(&["order", "consent", "--no"]);
    fixture.says(&["order", "consent", "--yes"]);
    let shown = fixture.says(&["order", "show", "1"]).replace("\n              ", " ");
    assert!(shown.contains("you no longer agree to sending there"), "{shown}");
    let gone = fixture.says(&["order", "shop", "--forget", SHOP]);
    assert!(gone.contains(&format!("The address of {SHOP}, its token")), "{gone}");
    let shown = fixture.says(&["order", "show", "1"]).replace("\n              ", " ");
    assert!(shown.contains("was erased here") && shown.contains("Tell the shop yourself"), "{shown}");
    assert_eq!(fixture.json(&["order", "show", "1"])["order"]["reason"]["why"], "shop_gone");
    let bytes = fs::read(fixture.path("field.steerbook")).unwrap();
    assert!(!bytes.windows(SHOP.len()).any(|window| window == SHOP.as_bytes()));
    assert!(
        fixture.fails(2, &["order", "shop", "--forget", SHOP]).contains("no order request goes or went to")
    );
}

/// Rejected, held or in doubt: each report says what to do, and doing it resolves the state.
#[test]
fn what_stands_in_the_way_is_mended() {
    let fixture = Fixture::stocked();
    fixture.with_shop();
    fixture.asked();
    assert_eq!(fixture.answered(|_| problem(ProblemKind::Token, "Who are you?")), 1);
    assert_golden("order-list-turned-back", &fixture.says(&["order", "list"]));
    fixture.says(&["order", "shop", SHOP, "--token-file", "token.txt"]);
    assert_eq!(fixture.json(&["order", "again", "1"])["state"], "queued");

    dearer(&fixture, 13);
    assert_eq!(fixture.answered(|_| unreachable!("it waits for the user")), 0);
    assert_golden("order-held", &fixture.says(&["order", "show", "1"]));
    let again = fixture.says(&["order", "again", "1"]);
    assert!(again.contains("Order request 2 takes the place of 1, made again under catalogue 13"), "{again}");
    assert_eq!(fixture.json(&["order", "show", "2"])["request"]["kit"]["price"], "1.00");

    assert_eq!(fixture.answered(|_| problem(ProblemKind::Invalid, "The note is not fit to print.")), 1);
    let refused = fixture.fails(2, &["order", "again", "2"]);
    assert!(
        refused.contains("The note is not fit to print.") && refused.contains("order edit 2"),
        "{refused}"
    );
    let mended = fixture.says(&["order", "edit", "2", "--note", "Please."]);
    assert!(mended.contains("takes the place of order request 2, which is withdrawn"), "{mended}");

    assert_eq!(fixture.answered(|_| CallOutcome::Timeout), 1);
    assert_golden("order-in-doubt", &fixture.says(&["order", "show", "3"]));
    let taken_back = fixture.says(&["order", "withdraw", "3"]).replace('\n', " ");
    assert!(taken_back.contains("is withdrawn here, and the shop is to be told"), "{taken_back}");
    assert!(fixture.fails(2, &["order", "withdraw", "3"]).contains("is withdrawn already"));
    // A request that was not sent is withdrawn without conditions.
    fixture.asked();
    assert_eq!(fixture.json(&["order", "withdraw", "4"])["may_be_with_shop"], false);
}

#[test]
fn who_asked_is_erased_here_and_at_the_shop() {
    let fixture = Fixture::stocked();
    fixture.with_shop();
    fixture.asked();
    assert_eq!(
        fixture.answered(|call| received(call, ShopStatus::Accepted, Some("Gladly, Wren Alderfoot."))),
        1
    );
    fixture.asked();
    let holds = |text: &str| {
        fs::read(fixture.path("field.steerbook")).unwrap().windows(text.len()).any(|at| at == text.as_bytes())
    };
    assert!(holds("Wren Alderfoot"), "else this shows nothing");
    assert_golden("order-erased", &fixture.says(&["order", "erase-contact", "--all"]));
    assert!(!holds("Wren Alderfoot") && !holds("wren@larch-hollow.example"));
    assert_golden("order-list-erased", &fixture.says(&["order", "list"]));
    let shown = fixture.says(&["order", "show", "1"]);
    assert!(shown.contains("still to be asked to erase the same"), "{shown}");
    assert!(fixture.fails(2, &["order", "edit", "1"]).contains("--name is missing"));
    assert_eq!(fixture.json(&["order", "erase-contact", "--all"])["erased"], json!([]));

    // The shop is asked to erase, and asked again if that fails; the other request was never sent.
    assert_eq!(fixture.answered(|_| CallOutcome::Timeout), 1);
    let mut path = String::new();
    let id = fixture.json(&["order", "show", "1"])["order"]["id"].as_str().unwrap().to_owned();
    let mut book = FieldBook::open(&fixture.path("field.steerbook"), Box::new(AtThatTime)).unwrap().0;
    let much_later = Timestamp(LATER.0 + 86_400_000);
    for call in book.due(much_later).unwrap() {
        path = format!("{} {}", call.method, call.path);
        assert!(book.begin_call(&call, much_later).unwrap());
        let gone = CallOutcome::Answer(Answer { status: 204, headers: Vec::new(), body: Vec::new() });
        book.finish_call(call.id, &gone, much_later).unwrap();
    }
    drop(book);
    assert_eq!(path, format!("DELETE /v1/order-requests/{id}/contact"));
    assert_eq!(fixture.json(&["order", "show", "1"])["order"]["erase_at_shop"], false);
    let shown = fixture.says(&["order", "show", "1"]).replace("\n              ", " ");
    assert!(shown.contains("contact erased, at the shop too") && !shown.contains("  next"), "{shown}");
}

#[test]
fn the_shop_s_catalogue_comes_into_the_book() {
    let fixture = Fixture::stocked();
    fixture.with_shop();
    assert!(fixture.says(&["order", "shop"]).contains("not fetched from there"));
    assert_golden("order-catalogue", &fixture.says(&["order", "catalogue", "--daily"]));
    let mut catalogue: Value =
        serde_json::from_slice(&fs::read(fixture.path("catalogue.json")).unwrap()).unwrap();
    catalogue["number"] = 14.into();
    let file = |call: &OutboundCall| {
        assert_eq!((call.method, call.path.as_str()), ("GET", "/v1/catalogue"));
        let headers = vec![("ETag".to_owned(), "\"14\"".to_owned())];
        CallOutcome::Answer(Answer { status: 200, headers, body: catalogue.to_string().into_bytes() })
    };
    assert_eq!(fixture.answered(file), 1);
    assert_eq!(fixture.json(&["catalogues"])["makers"][0]["catalogues"][0]["number"], 14);
    assert_eq!(fixture.answered(|_| unreachable!("once a day")), 0);
    let shop = fixture.json(&["order", "shop"]);
    assert_eq!((&shop["catalogue"]["daily"], &shop["catalogue"]["asked"]), (&true.into(), &false.into()));
    assert_eq!(fixture.json(&["order", "catalogue", "--stop"])["catalogue"]["daily"], false);
}
