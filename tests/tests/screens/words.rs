//! The words: every id that a screen asks for is there, none is left over, and each gets the amounts it names.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::bike::{Observable, observing};
use steerwright_core::book::{Op, SignatureStatus};
use steerwright_core::geometry::Figure;
use steerwright_core::judgement::{Place, Task};
use steerwright_core::orders::State;
use steerwright_core::protocol::wire::ShopStatus;
use steerwright_core::quantity::{Instrument, Quantity, quantity_info};
use steerwright_core::screens::answers;
use steerwright_core::voice;
use steerwright_core::words::{Language, Words};

/// The ids of a language's files with the amounts that their texts name.
fn messages(language: Language) -> BTreeMap<String, BTreeSet<String>> {
    let mut messages: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for source in language.sources() {
        let mut current = None;
        for line in source.lines().filter(|line| !line.starts_with('#')) {
            if let Some((id, _)) = line.split_once(" = ").filter(|_| !line.starts_with([' ', '*', '}'])) {
                assert!(messages.insert(id.to_owned(), BTreeSet::new()).is_none(), "{id} is there twice");
                current = Some(id.to_owned());
            }
            let Some(id) = &current else { continue };
            let names = messages.get_mut(id).unwrap();
            for part in line.split("{ ").skip(1) {
                names
                    .insert(part.chars().take_while(|c| c.is_alphanumeric() || "$_-".contains(*c)).collect());
            }
        }
    }
    messages
}

/// The same with each reference to another message replaced by the amounts that one names. Messages that others refer to
/// and no code asks for are a language's own.
fn whole(language: Language) -> BTreeMap<String, BTreeSet<String>> {
    fn amounts(of: &str, messages: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<String> {
        let names = messages.get(of).unwrap_or_else(|| panic!("no message `{of}`"));
        let of = |name: &String| match name.strip_prefix('$') {
            Some(amount) => BTreeSet::from([amount.to_owned()]),
            None => amounts(name, messages),
        };
        names.iter().flat_map(of).collect()
    }
    let messages = messages(language);
    let code = rust();
    let own: BTreeSet<&String> = messages
        .values()
        .flatten()
        .filter(|name| !name.starts_with('$') && !code.contains(&format!("\"{name}\"")))
        .collect();
    let ids = messages.keys().filter(|id| !own.contains(id));
    ids.map(|id| (id.clone(), amounts(id, &messages))).collect()
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs" || extension == "kt") {
            found.push(path);
        }
    }
}

/// The code of the crates that make sentences, and of the page.
fn rust() -> String {
    code(&[
        "core/drawing/src",
        "core/fieldbook/src",
        "core/fit/src",
        "core/metrology/src",
        "core/pictures/src",
        "core/screens/src",
        "workshop/page/src",
    ])
}

/// The code in some folders that show words.
fn code(folders: &[&str]) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut files = Vec::new();
    for folder in folders {
        sources(&root.join(folder), &mut files);
    }
    files.iter().map(|file| fs::read_to_string(file).unwrap()).collect()
}

/// Ids that are made of a name: the part before it, and the names.
fn made() -> Vec<String> {
    let with = |prefix: &str, names: Vec<String>| -> Vec<String> {
        names.iter().map(|name| format!("{prefix}-{}", name.replace('_', "-"))).collect()
    };
    let name = |word: serde_json::Value| word.as_str().unwrap().to_owned();
    let tasks = [Task::Open, Task::Deepen, Task::Widen, Task::Replace, Task::CheckBore];
    let tasks: Vec<String> = tasks.iter().map(|task| name(serde_json::to_value(task).unwrap())).collect();
    let places =
        [Place::UpperThroat, Place::LowerThroat, Place::UpperBore, Place::LowerBore, Place::Bearings];
    let mut ids = Vec::new();
    for what in Quantity::ALL {
        ids.push(voice::id("quantity", what.name()));
        let cases = quantity_info(*what).cases.keys().map(|case| format!("{what}_{}", case.name()));
        guide(&mut ids, "measuring", cases.chain([what.name().to_owned()]));
    }
    for look in Observable::ALL {
        ids.push(voice::id("observable", look.name()));
        let out = observing(look).fork_out.is_some().then(|| format!("{look}_fork_out"));
        guide(&mut ids, "looking", out.into_iter().chain([look.name().to_owned()]));
    }
    let cautions = include_str!("../../../core/fit/data/cautions.json");
    let cautions: Vec<serde_json::Value> = serde_json::from_str(cautions).unwrap();
    ids.extend(with("beware", cautions.iter().map(|row| name(row["id"].clone())).collect()));
    ids.extend(with("instrument", Instrument::ALL.iter().map(|tool| tool.name().to_owned()).collect()));
    ids.extend(with("claim", requirements()));
    ids.extend(with("drawn", vec!["front".to_owned(), "rear".to_owned()]));
    ids.extend(with("op", Op::ALL.iter().map(|op| op.name().to_owned()).collect()));
    let signatures = [
        SignatureStatus::Verified,
        SignatureStatus::Unsigned,
        SignatureStatus::UnsignedThoughPinned,
        SignatureStatus::Unchecked,
        SignatureStatus::OtherKey,
    ];
    ids.extend(with("signature", signatures.iter().map(|status| status.name().to_owned()).collect()));
    let nouns = ["bike", "check", "photo", "maker", "measurement"];
    ids.extend(with("counted", nouns.map(str::to_owned).to_vec()));
    let refused = [
        "check_no_such_kit",
        "check_kit_is_in",
        "check_kit_is_not_in",
        "check_does_not_fit",
        "measurement_struck_already",
        "measurement_not_struck",
        "log_full",
        "text_too_long",
        "text_empty",
        "bike_tags",
        "catalogue_number_taken",
        "catalogue_older",
    ];
    ids.extend(with("refused", refused.map(str::to_owned).to_vec()));
    ids.extend(with("tool", Instrument::ALL.iter().map(|tool| tool.name().to_owned()).collect()));
    ids.extend(with("order", State::ALL.iter().map(|state| state.name().to_owned()).collect()));
    ids.extend(with("shop", ShopStatus::ALL.iter().map(|status| status.name().to_owned()).collect()));
    ids.extend(with("requirement", requirements()));
    ids.extend(with("figure", Figure::ALL.iter().map(|figure| figure.name().to_owned()).collect()));
    ids.extend(with("unit", vec!["mm".to_owned(), "cm".to_owned(), "in".to_owned()]));
    ids.extend(with("job", tasks.clone()));
    ids.extend(with("job", tasks.iter().map(|task| format!("{task}_sized")).collect()));
    ids.extend(with(
        "place",
        places.iter().map(|place| name(serde_json::to_value(place).unwrap())).collect(),
    ));
    let observed = Observable::ALL.map(Observable::name).into_iter().chain(["steerer_material", "fork_out"]);
    ids.extend(with("saw", observed.map(str::to_owned).collect()));
    for look in Observable::ALL {
        ids.extend(with("saw-value", answers(look).iter().map(|name| (*name).to_owned()).collect()));
        let names: Vec<String> = answers(look).iter().map(|name| (*name).to_owned()).collect();
        ids.extend(with("seen", names.clone()));
        if matches!(look, Observable::UpperSeat | Observable::LowerSeat) {
            ids.extend(with("seen", names.iter().map(|name| format!("{name}_detail")).collect()));
        }
    }
    ids
}

/// The ids of the guide's texts, each with its trap.
fn guide(ids: &mut Vec<String>, kind: &str, names: impl Iterator<Item = String>) {
    for name in names {
        let id = voice::id(kind, &name);
        ids.extend([format!("{id}-trap"), id]);
    }
}

/// The names of all requirements, from the published schema of a report.
fn requirements() -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/data/schemas/report-1.schema.json");
    let schema: serde_json::Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let options = schema["$defs"]["Requirement"]["oneOf"].as_array().unwrap();
    let names = options.iter().flat_map(|option| match (&option["const"], &option["enum"]) {
        (serde_json::Value::String(name), _) => vec![name.clone()],
        (_, serde_json::Value::Array(names)) => {
            names.iter().map(|name| name.as_str().unwrap().to_owned()).collect()
        }
        _ => Vec::new(),
    });
    names.collect()
}

#[test]
fn every_id_made_of_a_name_is_there() {
    for language in Language::ALL {
        let known = whole(language);
        let missing: Vec<String> = made().into_iter().filter(|id| !known.contains_key(id)).collect();
        assert!(missing.is_empty(), "{language:?} lacks {missing:?}");
    }
}

#[test]
fn every_id_in_the_code_is_there_and_none_is_left_over() {
    let rust = rust();
    let kotlin = code(&["android/app/src/main/kotlin"]);
    let is_used = |id: &str| [&rust, &kotlin].iter().any(|code| code.contains(&format!("\"{id}\"")));
    let made: BTreeSet<String> = made().into_iter().collect();
    for language in Language::ALL {
        let known = whole(language);
        let unused: Vec<&String> = known.keys().filter(|id| !made.contains(*id) && !is_used(id)).collect();
        assert!(unused.is_empty(), "{language:?}: no screen shows {unused:?}");
        // The id of a call stands right behind the method's name.
        let calls =
            ["voice.text(", "words.text(", "frame.text(", "words.with(", "say!("].map(|call| (&rust, call));
        for (code, call) in calls.into_iter().chain([(&kotlin, "word(")]) {
            for after in code.split(call).skip(1) {
                // A macro's first argument is the voice.
                let after =
                    if call == "say!(" { after.split_once(',').map_or("", |(_, rest)| rest) } else { after };
                let Some(id) = after.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next())
                else {
                    continue;
                };
                assert!(known.contains_key(id), "{language:?} lacks `{id}`");
            }
        }
    }
}

/// A language names the same amounts as English: one more would stay empty, one less would be lost.
#[test]
fn every_language_names_the_same_amounts() {
    let english = whole(Language::English);
    for language in Language::ALL {
        assert_eq!(whole(language), english, "{language:?}");
    }
}

#[test]
fn counts_choose_between_singular_and_plural() {
    let words = Words::new(Language::English);
    let jobs = |count: usize| words.with("mark-jobs", &[("jobs", count.into())]);
    assert_eq!(jobs(1), "Fits after 1 job");
    assert_eq!(jobs(2), "Fits after 2 jobs");
    assert_eq!(words.text("no-such-id"), "no-such-id");
}

#[test]
fn a_language_is_found_by_header_and_by_locale() {
    for (wanted, found) in [
        ("de-AT,de;q=0.9,en;q=0.8", Some(Language::German)),
        ("fr-CH, en;q=0.9, de;q=0.8", Some(Language::English)),
        ("de_DE.UTF-8", Some(Language::German)),
        ("C", None),
        ("fr", None),
        ("", None),
    ] {
        assert_eq!(Language::first_of(wanted), found, "{wanted}");
    }
}
