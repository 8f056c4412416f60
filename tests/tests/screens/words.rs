//! The words: every id that a screen asks for is there, none is left over, and each gets the amounts it names.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::bike::Observable;
use steerwright_core::geometry::Figure;
use steerwright_core::judgement::{Place, Task};
use steerwright_core::orders::State;
use steerwright_core::protocol::wire::ShopStatus;
use steerwright_core::quantity::Instrument;
use steerwright_core::screens::answers;
use steerwright_core::words::{Language, Words};

/// The ids of a language file with the amounts that their texts name.
fn messages(language: Language) -> BTreeMap<String, BTreeSet<String>> {
    let source = language.source();
    let mut messages: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut current = None;
    for line in source.lines().filter(|line| !line.starts_with('#')) {
        if let Some((id, _)) = line.split_once(" = ").filter(|_| !line.starts_with([' ', '*', '}'])) {
            assert!(messages.insert(id.to_owned(), BTreeSet::new()).is_none(), "{id} is there twice");
            current = Some(id.to_owned());
        }
        let Some(id) = &current else { continue };
        for part in line.split("{ $").skip(1) {
            let name: String = part.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            messages.get_mut(id).unwrap().insert(name);
        }
    }
    messages
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
    for look in Observable::ALL {
        let names: Vec<String> = answers(look).iter().map(|name| (*name).to_owned()).collect();
        ids.extend(with("seen", names.clone()));
        if matches!(look, Observable::UpperSeat | Observable::LowerSeat) {
            ids.extend(with("seen", names.iter().map(|name| format!("{name}_detail")).collect()));
        }
    }
    ids
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
        let known = messages(language);
        let missing: Vec<String> = made().into_iter().filter(|id| !known.contains_key(id)).collect();
        assert!(missing.is_empty(), "{language:?} lacks {missing:?}");
    }
}

#[test]
fn every_id_in_the_code_is_there_and_none_is_left_over() {
    let rust = code(&["core/screens/src", "workshop/page/src"]);
    let kotlin = code(&["android/app/src/main/kotlin"]);
    let is_used = |id: &str| [&rust, &kotlin].iter().any(|code| code.contains(&format!("\"{id}\"")));
    let made: BTreeSet<String> = made().into_iter().collect();
    for language in Language::ALL {
        let known = messages(language);
        let unused: Vec<&String> = known.keys().filter(|id| !made.contains(*id) && !is_used(id)).collect();
        assert!(unused.is_empty(), "{language:?}: no screen shows {unused:?}");
        // The id of a call stands right behind the method's name.
        for (code, method) in [(&rust, ".text("), (&rust, ".with("), (&kotlin, "word(")] {
            for after in code.split(method).skip(1) {
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
    let english = messages(Language::English);
    for language in Language::ALL {
        assert_eq!(messages(language), english, "{language:?}");
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
