//! Snapshots of the demo fleet's reports.
//!
//! Texts are compared exactly. Numbers of JSON documents are rounded first, because sines and logarithms differ between
//! machines' math libraries.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

#[path = "snapshot/mod.rs"]
mod snapshot;

use assert_cmd::Command;
use serde_json::Value;
use snapshot::assert_text;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Output of a call on a page of 80 columns, without colour.
fn printed(words: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
    let command = command.current_dir(root().join("core/fit/data/demo/bikes")).env_remove("CLICOLOR_FORCE");
    let assert = command.env("COLUMNS", "80").env("NO_COLOR", "1").args(words).assert().code(0);
    assert_eq!(assert.get_output().stderr, b"", "{words:?}");
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

/// The document with numbers rounded to nine decimals, or to ten digits above 1.
fn rounded(mut document: Value) -> Value {
    fn walk(value: &mut Value) {
        match value {
            Value::Array(all) => all.iter_mut().for_each(walk),
            Value::Object(all) => all.values_mut().for_each(walk),
            Value::Number(number) if number.is_f64() => {
                let x = number.as_f64().unwrap();
                let step = 10_f64.powi(9 - x.abs().max(1.0).log10().floor() as i32);
                // The sum gives zero one sign.
                *value = Value::from((x * step).round() / step + 0.0);
            }
            _ => {}
        }
    }
    walk(&mut document);
    document
}

#[track_caller]
fn assert_json(name: &str, text: &str) {
    let document = rounded(serde_json::from_str(text).unwrap());
    assert_text(&format!("{name}.json"), &serde_json::to_string_pretty(&document).unwrap());
}

/// The bikes with the kits they were designed for: the rows of the demo data's table.
fn table() -> Vec<(usize, Vec<String>)> {
    let text = fs::read_to_string(root().join("core/fit/data/demo/README.md")).unwrap();
    let mut bikes: Vec<(usize, Vec<String>)> = Vec::new();
    for line in text.lines().filter(|line| line.contains("| TT-")) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if let Ok(number) = cells[1].parse() {
            bikes.push((number, Vec::new()));
        }
        bikes.last_mut().unwrap().1.push(cells[3].to_owned());
    }
    bikes
}

const CATALOGUE: [&str; 2] = ["--catalogue", "../catalogue.json"];

#[test]
fn checks_in_words() {
    for number in 1..=12 {
        let name = format!("hire-bike-{number:02}");
        let bike = format!("{name}.json");
        assert_text(&format!("check/{name}"), &printed(&[&["check", &bike], &CATALOGUE[..]].concat()));
    }
}

/// In full for one bike; for the others the kits they were designed for.
#[test]
fn checks_as_json() {
    let table = table();
    assert_eq!(table.iter().map(|(number, _)| *number).collect::<Vec<_>>(), (1..=12).collect::<Vec<_>>());
    for (number, kits) in table {
        let bike = format!("hire-bike-{number:02}.json");
        for kit in kits {
            let now = printed(&[&["check", &bike, "--json", "--kit", &kit], &CATALOGUE[..]].concat());
            assert_json(&format!("check/hire-bike-{number:02}-{kit}"), &now);
        }
    }
    let now =
        printed(&[&["check", "hire-bike-05.json", "--json", "--change", "1.2"], &CATALOGUE[..]].concat());
    assert_json("check/hire-bike-05", &now);
}

#[test]
fn other_wishes_in_words() {
    let calls: [(&str, &[&str]); 4] = [
        ("steepen", &["hire-bike-05.json", "--steepen", "--change", "1"]),
        ("head-angle", &["hire-bike-01.json", "--head-angle", "64.8"]),
        ("one-kit", &["hire-bike-02.json", "--kit", "TT-4180-15"]),
        ("close", &["hire-bike-09.json", "--change", "1.2"]),
    ];
    for (name, words) in calls {
        assert_text(&format!("wanted/{name}"), &printed(&[&["check"], words, &CATALOGUE[..]].concat()));
    }
}

#[test]
fn handling_in_words_and_as_json() {
    let calls: [(&str, &[&str]); 5] = [
        ("as-it-stands", &["hire-bike-11.json"]),
        ("tilt", &["hire-bike-01.json", "--tilt", "1.5"]),
        ("kit", &["hire-bike-08.json", "--kit", "TT-3434-10", "--catalogue", "../catalogue.json"]),
        ("sag", &["hire-bike-09.json", "--tilt", "1", "--sag"]),
        ("tyres", &["hire-bike-04.json", "--front-tyre", "720", "--rear-tyre", "744"]),
    ];
    for (name, words) in calls {
        assert_text(&format!("handling/{name}"), &printed(&[&["handling"], words].concat()));
        assert_json(&format!("handling/{name}"), &printed(&[&["handling", "--json"], words].concat()));
    }
}

/// The first demo bike's head angle measured with a phone, before and after its kit.
#[test]
fn level_in_words_and_as_json() {
    let [before, after, one_way] =
        ["before", "after", "one-way"].map(|name| format!("../../../../../tests/data/level/{name}.csv"));
    let kit = ["--bike", "hire-bike-01.json", "--kit", "TT-4180-15", "--catalogue", "../catalogue.json"];
    let calls: [(&str, &[&str]); 3] = [
        ("one-way", &[&one_way]),
        ("before", &[&before]),
        ("change", &[&[&*before, &*after], &kit[..]].concat()),
    ];
    for (name, words) in calls {
        assert_text(&format!("level/{name}"), &printed(&[&["level"], words].concat()));
        assert_json(&format!("level/{name}"), &printed(&[&["level", "--json"], words].concat()));
    }
}

#[test]
fn the_demo_in_words() {
    assert_text("demo", &printed(&["demo"]));
}

/// Rounding hides differences between math libraries and nothing else.
#[test]
fn documents_are_rounded_little() {
    let document = serde_json::json!({"a": [1.0, {"b": 66.421_875_000_1, "n": 7}], "c": "x", "d": -1e-13});
    let expected = serde_json::json!({"a": [1.0, {"b": 66.421_875, "n": 7}], "c": "x", "d": 0.0});
    assert_eq!(rounded(document), expected);
    let close = serde_json::json!(66.421_875_01);
    assert_eq!(rounded(close.clone()), close);
}
