//! Output of `--json` against the schemas that the command prints.

use super::{Fixture, check};
use serde_json::Value;
use std::fs;
use std::path::Path;

fn schema_of(fixture: &Fixture, format: &str) -> Value {
    serde_json::from_str(&fixture.answer(&["schema", format])).unwrap()
}

#[track_caller]
fn assert_conforms(schema: &Value, value: &Value) {
    let validator = jsonschema::draft202012::new(schema).unwrap();
    let errors: Vec<String> =
        validator.iter_errors(value).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert!(errors.is_empty(), "{}", errors.join("\n"));
}

/// With --json, standard output is one document that conforms to the printed schema, and nothing else is printed.
#[test]
fn json_conforms_to_the_printed_schemas() {
    let fixture = Fixture::new();
    let one = |words: &[&str]| -> Value {
        let assert = fixture.call(words).code(0);
        let output = assert.get_output();
        assert_eq!(output.stderr, b"", "{words:?}");
        let text = std::str::from_utf8(&output.stdout).unwrap();
        assert!(text.starts_with(['{', '[']) && text.ends_with("\n") && !text.contains('\x1b'), "{words:?}");
        serde_json::from_str(text).unwrap()
    };
    let (report, handling) = (schema_of(&fixture, "report"), schema_of(&fixture, "handling"));
    for number in 1..=12 {
        let bike = format!("hire-bike-{number:02}.json");
        let catalogue = ["--catalogue", "catalogue.json", "--json"];
        for target in [&[][..], &["--change", "1"], &["--head-angle", "67"], &["--steepen"]] {
            let value = one(&[&["check", &bike], &catalogue[..], target].concat());
            assert_eq!(value["schema"], "steerwright.report/1");
            assert_conforms(&report, &value);
        }
        for change in [&[][..], &["--tilt", "1"], &["--front-tyre", "720", "--lower-stack", "12"]] {
            let value = one(&[&["handling", &bike, "--json"], change].concat());
            assert_eq!(value["schema"], "steerwright.handling/1");
            assert_conforms(&handling, &value);
        }
        assert_conforms(&schema_of(&fixture, "bike"), &one_file(&fixture, &bike));
    }
    assert_conforms(&schema_of(&fixture, "catalogue"), &one_file(&fixture, "catalogue.json"));
    let table = include_str!("../../../core/metrology/data/instruments.json");
    assert_conforms(&schema_of(&fixture, "instruments"), &serde_json::from_str(table).unwrap());
    for day in one(&["demo", "--json"])["reports"].as_array().unwrap() {
        assert_conforms(&report, day);
    }
    let level = schema_of(&fixture, "level");
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/level");
    let [before, after] = ["before.csv", "after.csv"].map(|name| data.join(name).display().to_string());
    let kit = ["--bike", "hire-bike-01.json", "--catalogue", "catalogue.json", "--kit", "TT-4180-15"];
    let with_kit = [&[after.as_str()][..], &kit].concat();
    for more in [&[][..], &[after.as_str()], &with_kit, &[after.as_str(), "--other-phone"]] {
        let value = one(&[&["level", before.as_str(), "--json"], more].concat());
        assert_eq!(value["schema"], "steerwright.level/1");
        assert_conforms(&level, &value);
    }
    assert!(one(&["guide", "--json"]).as_array().unwrap().len() > 50);

    // The schemas reject an unknown verdict and an unknown field.
    let mut wrong = one(&check(&["--json"]));
    wrong["kits"][0]["verdict"] = "goes_in_with_a_hammer".into();
    assert!(!jsonschema::draft202012::new(&report).unwrap().is_valid(&wrong));
    let mut wrong = one(&["handling", "hire-bike-05.json", "--json"]);
    wrong["mood"] = "good".into();
    assert!(!jsonschema::draft202012::new(&handling).unwrap().is_valid(&wrong));
}

fn one_file(fixture: &Fixture, name: &str) -> Value {
    serde_json::from_slice(&fs::read(fixture.path(name)).unwrap()).unwrap()
}

/// The committed schemas are those that the command prints. `STEERWRIGHT_WRITE=1` writes them.
#[test]
fn kept_schemas_are_current() {
    let fixture = Fixture::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/data/schemas");
    let formats = [
        ("bike", "bike-1"),
        ("catalogue", "catalogue-1"),
        ("report", "report-1"),
        ("handling", "handling-1"),
        ("level", "level-1"),
        ("photo", "photo-1"),
        ("marks", "marks-1"),
        ("instruments", "instruments"),
        ("bundle", "bundle-1"),
    ];
    for (format, file) in formats {
        let path = folder.join(format!("{file}.schema.json"));
        let printed = fixture.answer(&["schema", format]);
        if std::env::var_os("STEERWRIGHT_WRITE").is_some() {
            fs::write(&path, &printed).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == printed, "{} is out of date", path.display());
        assert_eq!(
            serde_json::from_str::<Value>(&kept).unwrap()["$schema"],
            "https://json-schema.org/draft/2020-12/schema"
        );
    }
}
