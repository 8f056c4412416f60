//! Golden reports of the demo fleet, stored under `tests/data/golden`.
//!
//! `STEERWRIGHT_WRITE=1` rewrites them; every change then has to be reviewed. Texts are compared exactly. In
//! JSON documents numbers may differ in the tenth digit, because sines and logarithms differ between
//! machines' math libraries.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use assert_cmd::Command;
use serde_json::Value;
use std::collections::BTreeSet;
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

/// The golden file `name`; written first if requested.
fn kept(name: &str, now: &str) -> String {
    let path = root().join("tests/data/golden").join(name);
    if std::env::var_os("STEERWRIGHT_WRITE").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, now).unwrap();
    }
    fs::read_to_string(&path).unwrap_or_default()
}

/// The first difference between two documents, with its path.
fn difference(kept: &Value, now: &Value, at: &str) -> Option<String> {
    let told = || Some(format!("{at}: {kept} is now {now}"));
    match (kept, now) {
        (Value::Object(a), Value::Object(b)) => {
            let keys: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
            let of =
                |map: &serde_json::Map<String, Value>, key: &str| map.get(key).cloned().unwrap_or_default();
            keys.into_iter().find_map(|key| difference(&of(a, key), &of(b, key), &format!("{at}.{key}")))
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => a
            .iter()
            .zip(b)
            .enumerate()
            .find_map(|(place, (a, b))| difference(a, b, &format!("{at}[{place}]"))),
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            // Relative; for a margin that nearly cancels, relative to the lengths it is computed from.
            if (a - b).abs() <= 1e-10 * a.abs().max(b.abs()).max(1.0) { None } else { told() }
        }
        _ => {
            if kept == now {
                None
            } else {
                told()
            }
        }
    }
}

#[track_caller]
fn assert_text(name: &str, now: &str) {
    let kept = kept(name, now);
    if kept != now {
        let differs = kept.lines().zip(now.lines()).find(|(kept, now)| kept != now);
        panic!("{name} differs, kept and now: {differs:#?}");
    }
}

#[track_caller]
fn assert_json(name: &str, now: &str) {
    let kept: Value = serde_json::from_str(&kept(name, now)).unwrap_or_default();
    if let Some(difference) = difference(&kept, &serde_json::from_str(now).unwrap(), "") {
        panic!("{name} differs at {difference}");
    }
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
        assert_text(&format!("check/{name}.txt"), &printed(&[&["check", &bike], &CATALOGUE[..]].concat()));
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
            assert_json(&format!("check/hire-bike-{number:02}-{kit}.json"), &now);
        }
    }
    let now =
        printed(&[&["check", "hire-bike-05.json", "--json", "--change", "1.2"], &CATALOGUE[..]].concat());
    assert_json("check/hire-bike-05.json", &now);
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
        assert_text(&format!("target/{name}.txt"), &printed(&[&["check"], words, &CATALOGUE[..]].concat()));
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
        assert_text(&format!("handling/{name}.txt"), &printed(&[&["handling"], words].concat()));
        assert_json(&format!("handling/{name}.json"), &printed(&[&["handling", "--json"], words].concat()));
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
        assert_text(&format!("level/{name}.txt"), &printed(&[&["level"], words].concat()));
        assert_json(&format!("level/{name}.json"), &printed(&[&["level", "--json"], words].concat()));
    }
}

#[test]
fn the_demo_in_words() {
    assert_text("demo.txt", &printed(&["demo"]));
}

/// The comparison tolerates differences between math libraries and nothing else.
#[test]
fn documents_are_compared_closely() {
    let kept = serde_json::json!({"a": [1.0, {"b": 2.5}], "c": "x"});
    let differs = |now: Value| difference(&kept, &now, "");
    assert_eq!(differs(serde_json::json!({"a": [1.0, {"b": 2.500_000_000_1}], "c": "x"})), None);
    let expected = Some(".a[1].b: 2.5 is now 2.50001".to_owned());
    assert_eq!(differs(serde_json::json!({"a": [1.0, {"b": 2.50001}], "c": "x"})), expected);
    for other in [
        serde_json::json!({"a": [1.0, {"b": 2.5}], "c": "y"}),
        serde_json::json!({"a": [1.0, {"b": 2.5}]}),
        serde_json::json!({"a": [1.0], "c": "x"}),
        serde_json::json!({"a": [1.0, {"b": "2.5"}], "c": "x"}),
        serde_json::json!({"a": [1.0, {"b": 2.5, "d": 1}], "c": "x"}),
    ] {
        assert!(differs(other.clone()).is_some(), "{other}");
    }
}
