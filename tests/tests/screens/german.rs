//! The screens in German: golden view models, and no English sentence on any of them.

use crate::views::golden;
use crate::{Bench, reading};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;
use steerwright_core::bike::Observable;
use steerwright_core::book::BikeQuery;
use steerwright_core::quantity::Quantity;
use steerwright_core::screens::{
    Change, Event, ask, bike, bikes, book, kit, kits, level, look, measure, outbox, photos, record, steering,
    undo,
};
use steerwright_core::words::Language;
use steerwright_tests::fixture::demo_catalogue;

const KIT: &str = "TT-4180-15";

fn order(bench: &Bench, name: &str) -> Event {
    Event::Ask {
        bike: bench.id(name),
        sku: KIT.to_owned(),
        name: "Robin Fell".to_owned(),
        email: "robin@example.org".to_owned(),
        phone: String::new(),
        address: String::new(),
        note: String::new(),
        again: false,
    }
}

#[test]
fn german_view_models() {
    let mut bench = Bench::demo_in(Language::German);
    let (third, fifth) = (bench.id("Hire bike 03"), bench.id("Hire bike 05"));
    let context = bench.context();
    golden("de-bikes", &bikes(&context, &BikeQuery::default()).unwrap());
    for number in ["03", "05", "08", "12"] {
        let id = bench.id(&format!("Hire bike {number}"));
        golden(&format!("de-bike-{number}"), &bike(&context, id).unwrap());
    }
    golden("de-kits-05", &kits(&context, fifth).unwrap());
    golden("de-kit-05", &kit(&context, fifth, KIT).unwrap());
    golden("de-ask-05", &ask(&context, fifth, KIT).unwrap());
    golden("de-measure", &measure(&context, third, "upper_bearing_outer_diameter").unwrap());
    golden("de-look", &look(&context, third, "upper_seat").unwrap());
    golden("de-steering", &steering(&context, fifth, &Change::default()).unwrap());
    golden("de-record-12", &record(&context, bench.id("Hire bike 12")).unwrap());
    golden("de-book", &book(&context).unwrap());
    let asked = order(&bench, "Hire bike 05");
    bench.done(&asked);
    // The request's id and time are its own.
    let said =
        outbox(&bench.context()).unwrap().rows.into_iter().map(|row| (row.text, row.state, row.detail));
    golden("de-outbox", &said.collect::<Vec<_>>());
}

/// Every text of a view model, those of its drawings included; what a person typed or a maker named is left out.
fn texts(view: &impl Serialize, found: &mut BTreeSet<String>) {
    fn walk(value: &Value, found: &mut BTreeSet<String>) {
        match value {
            Value::String(text) => {
                found.insert(text.clone());
            }
            Value::Array(values) => values.iter().for_each(|value| walk(value, found)),
            Value::Object(fields) => {
                for (name, field) in fields {
                    if !matches!(
                        name.as_str(),
                        "name"
                            | "expected"
                            | "owner"
                            | "bike_name"
                            | "notes"
                            | "tags"
                            | "maker"
                            | "contact"
                            | "what"
                            | "target"
                    ) {
                        walk(field, found);
                    }
                }
            }
            _ => {}
        }
    }
    walk(&serde_json::to_value(view).unwrap(), found);
}

/// The texts of every screen of the demo book, each measurement, look, kit and steering change among them.
fn every_text(language: Language) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let empty = Bench::empty_in(language);
    texts(&bikes(&empty.context(), &BikeQuery::default()).unwrap(), &mut found);
    texts(&book(&empty.context()).unwrap(), &mut found);
    texts(&outbox(&empty.context()).unwrap(), &mut found);
    let mut bench = Bench::demo_in(language);
    let asked = order(&bench, "Hire bike 05");
    found.insert(bench.done(&asked).text);
    let third = bench.id("Hire bike 03");
    for value in ["41.0", "41.8"] {
        let event = reading(third, "upper_bearing_outer_diameter", value, "caliper");
        found.insert(bench.done(&event).text);
    }
    let fitted =
        Event::NoteFitted { bike: bench.id("Hire bike 01"), sku: KIT.to_owned(), despite: "test".to_owned() };
    found.insert(bench.done(&fitted).text);
    let context = bench.context();
    let list = bikes(&context, &BikeQuery::default()).unwrap();
    texts(&list, &mut found);
    texts(&book(&context).unwrap(), &mut found);
    texts(&outbox(&context).unwrap(), &mut found);
    for row in &list.rows {
        texts(&bike(&context, row.id).unwrap(), &mut found);
        texts(&record(&context, row.id).unwrap(), &mut found);
        texts(&photos(&context, row.id).unwrap(), &mut found);
        texts(&level(&context, row.id).unwrap(), &mut found);
        let change = Change { tilt: Some(1.0), ..Change::default() };
        texts(&steering(&context, row.id, &change).unwrap(), &mut found);
        let offered = kits(&context, row.id).unwrap();
        texts(&offered, &mut found);
        let folded = offered.folded.iter().flat_map(|folded| folded.kits.iter().map(|kit| &kit.sku));
        // The first kits that may go in, and one that does not.
        for sku in offered.cards.iter().map(|card| &card.sku).take(2).chain(folded.take(1)) {
            texts(&kit(&context, row.id, sku).unwrap(), &mut found);
            texts(&ask(&context, row.id, sku).unwrap(), &mut found);
        }
        if !["01", "03"].iter().any(|number| row.name.ends_with(number)) {
            continue;
        }
        for what in Quantity::ALL {
            texts(&measure(&context, row.id, what.name()).unwrap(), &mut found);
        }
        for what in Observable::ALL {
            texts(&look(&context, row.id, what.name()).unwrap(), &mut found);
        }
    }
    texts(&undo(&context, None).unwrap(), &mut found);
    found
}

/// Words, without numbers, signs and order codes.
fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphabetic()).filter(|word| word.contains(char::is_lowercase)).collect()
}

/// No English text of three words or more is part of a German one, and no German one has the small words of English.
#[test]
fn no_german_screen_has_an_english_sentence() {
    let english = every_text(Language::English);
    let german = every_text(Language::German);
    assert!(german.len() > 600, "{}", german.len());
    // The kits' names are their maker's.
    let kits = demo_catalogue().kits.iter().map(|kit| kit.name.clone()).collect::<Vec<_>>();
    let mut names: Vec<&str> = kits.iter().map(String::as_str).collect();
    names.sort_by_key(|name| std::cmp::Reverse(name.len()));
    names.extend([
        "Tarn & Tiller",
        "Larch Hollow",
        "Robin Fell",
        "Hire bike",
        "BB Drop",
        "Wheel Flop",
        "order shop",
    ]);
    let unnamed = |text: &String| names.iter().fold(text.clone(), |text, name| text.replace(name, ""));
    // What has no space is a name of a format, an id or a code.
    let is_sentence = |text: &String| text.trim().contains(' ');
    let sentences = english.iter().map(unnamed).filter(is_sentence);
    let long: Vec<String> = sentences.filter(|text| words(text).len() >= 3).collect();
    assert!(long.len() > 400, "{}", long.len());
    let small = [
        "the", "The", "of", "is", "and", "not", "Not", "with", "for", "to", "are", "from", "by", "at", "it",
        "It", "no", "measured", "your",
    ];
    let mut left = Vec::new();
    for text in german.iter().map(unnamed).filter(is_sentence) {
        let twin = long.iter().find(|english| text.contains(english.as_str()));
        let word = words(&text).into_iter().find(|word| small.contains(word));
        if twin.is_some() || word.is_some() {
            left.push(text);
        }
    }
    assert!(left.is_empty(), "{left:#?}");
}

/// What a check keeps is in English, in whichever language it was made.
#[test]
fn a_kept_check_is_in_english() {
    let mut bench = Bench::demo_in(Language::German);
    let id = bench.id("Hire bike 01");
    bench.done(&Event::NoteFitted { bike: id, sku: KIT.to_owned(), despite: "test".to_owned() });
    let kept = bench.book.read().bike_screen(id).unwrap().checks.remove(0).report_json;
    assert!(kept.contains("This is a calculation from the readings given") && !kept.contains("Steuerrohr"));
}

/// What a form refuses says so in German, with a decimal comma, and what was expected.
#[test]
fn refusals_and_questions_are_in_german() {
    let mut bench = Bench::demo_in(Language::German);
    let id = bench.id("Hire bike 03");
    let mut refused = |event: &Event| bench.apply(event).unwrap_err().in_words(&bench.words);
    let offset = |value: &str| reading(id, "fork_offset", value, "caliper");
    assert_eq!(refused(&offset("vier")), "„vier“ ist keine Zahl; erwartet werden Ziffern wie 112,5.");
    assert_eq!(refused(&offset("1,234")), "„1,234“ kann 1234 oder 1.234 heißen; schreib eines von beiden.");
    let question = refused(&offset("4,4"));
    assert_eq!(
        question,
        "Gabelvorbiegung (Offset): 4,4 mm liegt außerhalb der üblichen 30 bis 60 mm. Meinst du 44 mm?"
    );
    let range = refused(&reading(id, "head_tube_length", "11,2", "caliper"));
    assert!(
        range.starts_with("Länge des Steuerrohrs: 11,2 mm ist nicht möglich; erwartet werden 60 bis 300 mm"),
        "{range}"
    );
    let nobody = Event::Ask {
        bike: id,
        sku: KIT.to_owned(),
        name: String::new(),
        email: "robin".to_owned(),
        phone: String::new(),
        address: String::new(),
        note: String::new(),
        again: false,
    };
    assert_eq!(
        refused(&nobody),
        "Dein Name fehlt: Der Laden muss wissen, wer fragt. \"robin\" ist keine E-Mail-Adresse; erwartet wird eine wie \
         wren@example.org."
    );
    let unnamed = Event::EditBike {
        bike: id,
        name: String::new(),
        owner: String::new(),
        tags: String::new(),
        notes: String::new(),
    };
    assert_eq!(refused(&unnamed), "Der Name des Rads ist leer.");
    let nothing = Event::Undo { expected: "something else".to_owned() };
    assert!(refused(&nothing).starts_with("Seither wurde etwas anderes getan."));
    let fitted = Event::NoteFitted { bike: id, sku: KIT.to_owned(), despite: String::new() };
    assert!(refused(&fitted).contains("schreib, warum es trotzdem drin ist"), "{}", refused(&fitted));
}

/// What was done and is undone is told in German.
#[test]
fn undoing_tells_what_it_undid() {
    let mut bench = Bench::demo_in(Language::German);
    let id = bench.id("Hire bike 03");
    bench.write(id, "head_tube_length", "112,5", "caliper").unwrap();
    assert_eq!(
        bench.done(&Event::Undo { expected: String::new() }).text,
        "Rückgängig gemacht: Messwert eintragen (Hire bike 03): Länge des Steuerrohrs 112,5 mm."
    );
    let see = Event::See {
        bike: id,
        what: "upper_seat".to_owned(),
        answer: "thin_lip".to_owned(),
        fork_out: Some(true),
    };
    bench.done(&see);
    assert_eq!(
        bench.done(&Event::Undo { expected: String::new() }).text,
        "Rückgängig gemacht: Rad ändern (Hire bike 03): Gabel ausgebaut: nein zu ja, oberer Lagersitz: integriertes \
         Lager zu Schale mit dünnem Rand."
    );
    let asked = order(&bench, "Hire bike 05");
    bench.done(&asked);
    assert_eq!(
        bench.done(&Event::Undo { expected: String::new() }).text,
        "Rückgängig gemacht: ein Kit anfragen oder die Anfrage ändern (Hire bike 05): Anfrage nach 1 TT-4180-15."
    );
}
