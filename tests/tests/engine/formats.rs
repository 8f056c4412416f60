//! The file formats: accepted files, refused files and the messages.
//!
//! `data/valid` and `data/invalid` contain files of each format. The snapshot `NAME.snap` next to an invalid file has
//! its exact messages. The prefix of an invalid file's name states the kind of problem: `text-` is not JSON, or JSON
//! that repeats a field or exceeds the limits; `shape-` is refused by the JSON Schema as well; `sense-` has the right
//! shape and an invalid number or word. `INSTA_UPDATE=always` rewrites the messages and `STEERWRIGHT_WRITE=1` the
//! schemas: review them from the user's point of view.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::input::{FileErrors, Problem};
use steerwright_core::photogrammetry::measure::Marks;
use steerwright_core::protocol::wire::{
    Cancellation, OrderMessage, OrderRequest, Problem as ShopProblem, Receipt,
};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};

/// One file format with its test parameters.
struct Format {
    name: &'static str,
    /// Reads a file and writes it again.
    again: fn(&[u8], &str) -> Result<String, FileErrors>,
    schema: fn() -> serde_json::Value,
    schema_file: &'static str,
    /// Minimum number of cases, so that an empty folder does not pass.
    least: [usize; 2],
}

const FORMATS: [Format; 4] = [
    Format {
        name: "bike",
        again: |bytes, file| Bike::from_json(bytes, file).map(|bike| bike.to_json()),
        schema: || Bike::json_schema().to_value(),
        schema_file: "bike-1.schema.json",
        least: [6, 25],
    },
    Format {
        name: "catalogue",
        again: |bytes, file| Catalogue::from_json(bytes, file).map(|catalogue| catalogue.to_json()),
        schema: || Catalogue::json_schema().to_value(),
        schema_file: "catalogue-1.schema.json",
        least: [6, 20],
    },
    Format {
        name: "marks",
        again: |bytes, file| Marks::from_json(bytes, file).map(|marks| marks.to_json()),
        schema: || Marks::json_schema().to_value(),
        schema_file: "marks-1.schema.json",
        least: [2, 8],
    },
    Format {
        name: "order-request",
        again: |bytes, file| {
            OrderRequest::from_json(bytes, file).map(|request| serde_json::to_string(&request).unwrap())
        },
        schema: || OrderRequest::json_schema().to_value(),
        schema_file: "order-request-1.schema.json",
        least: [2, 8],
    },
];

fn rewriting() -> bool {
    std::env::var_os("STEERWRIGHT_WRITE").is_some()
}

/// The JSON files of a folder with their names and bytes, sorted.
fn cases(kind: &str, format: &str) -> Vec<(PathBuf, String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(kind).join(format);
    let mut paths: Vec<PathBuf> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "json"));
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            let bytes = fs::read(&path).unwrap();
            (path, name, bytes)
        })
        .collect()
}

/// Compares with a committed text, or writes it if requested; reports the first line that differs.
fn check_file(path: &Path, text: &str) {
    if rewriting() {
        fs::write(path, text).unwrap();
    }
    let kept = fs::read_to_string(path).unwrap_or_default();
    if kept != text {
        let differs = kept.lines().zip(text.lines()).find(|(kept, now)| kept != now);
        panic!("{} is out of date, kept and now: {differs:#?}", path.display());
    }
}

#[test]
fn valid_files_are_read_and_written_again() {
    for format in &FORMATS {
        let all = cases("valid", format.name);
        assert!(all.len() >= format.least[0], "{}", format.name);
        for (_, name, bytes) in all {
            let once = (format.again)(&bytes, &name).unwrap_or_else(|errors| panic!("{errors}"));
            let twice = (format.again)(once.as_bytes(), &name).unwrap();
            assert_eq!(once, twice, "{name}");
            // Nothing is lost or added: the same JSON values, except for absent fields with a default.
            let before: serde_json::Value =
                serde_json::from_slice(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes)).unwrap();
            let after: serde_json::Value = serde_json::from_str(&once).unwrap();
            assert_same(&before, &after, &name);
        }
    }
}

/// Equality in which fields that are absent, null, empty or false count as the same.
fn assert_same(before: &serde_json::Value, after: &serde_json::Value, at: &str) {
    use serde_json::Value;
    let nothing = |value: &Value| match value {
        Value::Null | Value::Bool(false) => true,
        Value::Array(list) => list.is_empty(),
        Value::Object(map) => map.is_empty(),
        _ => false,
    };
    match (before, after) {
        (Value::Object(a), Value::Object(b)) => {
            for key in a.keys().chain(b.keys()).collect::<BTreeSet<_>>() {
                let (a, b) = (a.get(key).unwrap_or(&Value::Null), b.get(key).unwrap_or(&Value::Null));
                if !(nothing(a) && nothing(b)) {
                    assert_same(a, b, &format!("{at}.{key}"));
                }
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{at}");
            a.iter().zip(b).enumerate().for_each(|(i, (a, b))| assert_same(a, b, &format!("{at}[{i}]")));
        }
        (Value::Number(a), Value::Number(b)) => assert_eq!(a.as_f64(), b.as_f64(), "{at}"),
        _ => assert_eq!(before, after, "{at}"),
    }
}

#[test]
fn invalid_files_give_the_expected_messages() {
    for format in &FORMATS {
        let all = cases("invalid", format.name);
        assert!(all.len() >= format.least[1], "{}", format.name);
        for (path, name, bytes) in all {
            let errors = match (format.again)(&bytes, &name) {
                Ok(text) => panic!("{name} was read as {text}"),
                Err(errors) => errors,
            };
            let mut settings = insta::Settings::clone_current();
            settings.set_snapshot_path(path.parent().unwrap());
            settings.set_prepend_module_to_snapshot(false);
            settings.set_omit_expression(true);
            let stem = path.file_stem().unwrap().to_str().unwrap();
            settings.bind(|| insta::assert_snapshot!(stem, errors.to_string()));
            for error in &errors {
                assert_eq!(error.file, name);
                assert!(!error.to_string().contains('\n') && error.to_string().len() < 600, "{error}");
            }
        }
    }
}

/// The formats of a shop's answers, and of messages to it.
#[test]
fn the_schemas_of_answers_are_current() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/data/schemas");
    for (schema, file) in [
        (Receipt::json_schema(), "receipt-1.schema.json"),
        (OrderMessage::json_schema(), "order-message-1.schema.json"),
        (Cancellation::json_schema(), "cancellation-1.schema.json"),
        (ShopProblem::json_schema(), "problem.schema.json"),
    ] {
        let text = format!("{}\n", serde_json::to_string_pretty(&schema.to_value()).unwrap());
        check_file(&folder.join(file), &text);
    }
}

#[test]
fn the_schemas_are_current_and_agree_with_the_reader() {
    for format in &FORMATS {
        let schema = (format.schema)();
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/data/schemas");
        let text = format!("{}\n", serde_json::to_string_pretty(&schema).unwrap());
        check_file(&folder.join(format.schema_file), &text);

        let validator = jsonschema::draft202012::new(&schema).unwrap();
        for (_, name, bytes) in cases("valid", format.name) {
            let value =
                serde_json::from_slice(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes)).unwrap();
            assert!(validator.is_valid(&value), "{name}");
        }
        for (_, name, bytes) in cases("invalid", format.name) {
            let (kind, _) = name.split_once('-').unwrap();
            match kind {
                // JSON itself allows a repeated field, and the schema cannot detect it.
                "text" => {}
                "shape" => assert!(!validator.is_valid(&serde_json::from_slice(&bytes).unwrap()), "{name}"),
                "sense" => assert!(validator.is_valid(&serde_json::from_slice(&bytes).unwrap()), "{name}"),
                _ => panic!("{name}: what kind of case is this?"),
            }
        }
    }
    let bike = jsonschema::draft202012::new(&Bike::json_schema().to_value()).unwrap();
    for (file, text) in demo_bikes_json() {
        assert!(bike.is_valid(&serde_json::from_str(text).unwrap()), "{file}");
    }
    let catalogue = jsonschema::draft202012::new(&Catalogue::json_schema().to_value()).unwrap();
    assert!(catalogue.is_valid(&serde_json::from_str(demo_catalogue_json()).unwrap()));
}

#[test]
fn a_problem_is_data_as_well_as_a_sentence() {
    let text = br#"{"schema": "steerwright.bike/1", "name": "b", "measured": [
        {"what": "head_tube_length", "value": 11.2, "unit": "mm", "with": "tape"}]}"#;
    let errors = Bike::from_json(text, "b.json").unwrap_err();
    let expected = serde_json::json!({"errors": [{
        "file": "b.json", "field": "measured[0].value", "problem": "value", "found": "11.2 mm",
        "expected": "60 to 300 mm for the head tube length", "did_you_mean": "11.2 cm"
    }], "more": false});
    assert_eq!(serde_json::to_value(&errors).unwrap(), expected);
    assert_eq!(
        errors.to_string(),
        "b.json: `measured[0].value` is 11.2 mm; expected 60 to 300 mm for the head tube length; \
         did you mean 11.2 cm?"
    );
}

/// Problems beyond the limit are not listed, and a file with a million deliberate errors is not searched for all of
/// them.
#[test]
fn problems_beyond_a_hundred_are_left_out() {
    // Each empty row lacks what, value, unit and with.
    let bike = |n| {
        let rows = vec!["{}"; n].join(",");
        format!(r#"{{"schema": "steerwright.bike/1", "name": "b", "measured": [{rows}]}}"#)
    };
    let errors = Bike::from_json(bike(25).as_bytes(), "b.json").unwrap_err();
    assert_eq!((errors.errors().len(), errors.more()), (FileErrors::MOST, false));
    let errors = Bike::from_json(bike(26).as_bytes(), "b.json").unwrap_err();
    assert_eq!((errors.errors().len(), errors.more()), (FileErrors::MOST, true));
    assert!(errors.to_string().ends_with("\nThere are more problems; the first 100 are told."));

    let fields: Vec<String> = (0..1_000_000).map(|n| format!("\"f{n}\":1")).collect();
    let text = format!(r#"{{"schema": "steerwright.catalogue/1", "kits": [{{{}}}]}}"#, fields.join(","));
    let errors = Catalogue::from_json(text.as_bytes(), "c.json").unwrap_err();
    assert_eq!((errors.errors().len(), errors.more()), (FileErrors::MOST, true));
}

#[test]
fn the_limits_hold() {
    let one = |errors: FileErrors| match errors.errors() {
        [error] => (error.problem, error.field.clone()),
        more => panic!("{more:?}"),
    };
    for (format, most) in FORMATS.iter().zip([Bike::MOST_BYTES, Catalogue::MOST_BYTES, Marks::MOST_BYTES]) {
        let whole = (Problem::TooLarge, String::new());
        let errors = (format.again)(&vec![b' '; most + 1], "f").unwrap_err();
        assert_eq!(one(errors), whole, "{}", format.name);
        // 100 000 levels would overflow the stack of a reader that recurses without a limit.
        for open in ["[", "{\"a\":"] {
            let errors = (format.again)(open.repeat(100_000).as_bytes(), "f").unwrap_err();
            assert_eq!(one(errors), whole, "{}", format.name);
        }
        // As many values as fit: memory is bounded by their number, not by the file's size.
        let errors = (format.again)(format!("[{}1]", "1,".repeat(most / 2 - 2)).as_bytes(), "f").unwrap_err();
        assert_eq!(one(errors), whole, "{}", format.name);
    }

    let row = r#"{"what": "reach", "value": 460, "unit": "mm", "with": "tape"}"#;
    let bike = |n| {
        let rows = vec![row; n].join(",");
        format!(r#"{{"schema": "steerwright.bike/1", "name": "b", "measured": [{rows}]}}"#)
    };
    let full = Bike::from_json(bike(Bike::MOST_MEASURED).as_bytes(), "f").unwrap();
    assert_eq!(full.findings().readings(Quantity::Reach).len(), Bike::MOST_MEASURED);
    let errors = Bike::from_json(bike(Bike::MOST_MEASURED + 1).as_bytes(), "f").unwrap_err();
    assert_eq!(one(errors), (Problem::TooLarge, "measured".to_owned()));
}

/// The largest allowed catalogue is read in full: the limits of size and values admit it.
#[test]
fn a_full_catalogue_fits() {
    let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    let template = demo.kits.iter().find(|kit| kit.sku == "TT-4180-10H").unwrap();
    let mut full = Catalogue { kits: Vec::new(), bearings: Vec::new(), ..demo.clone() };
    for n in 0..Catalogue::MOST_KITS {
        let mut kit = template.clone();
        kit.sku = format!("K{n}");
        full.kits.push(kit);
    }
    let text = serde_json::to_string(&full).unwrap();
    assert!(text.len() < Catalogue::MOST_BYTES, "{} bytes", text.len());
    assert_eq!(Catalogue::from_json(text.as_bytes(), "full").unwrap().kits.len(), Catalogue::MOST_KITS);

    full.kits.push(template.clone());
    let text = serde_json::to_string(&full).unwrap();
    let errors = Catalogue::from_json(text.as_bytes(), "full").unwrap_err();
    assert_eq!(errors.to_string(), "full: `kits` has 20001 rows; expected at most 20000.");
}

#[test]
fn a_users_instruments_override_the_table() {
    let text = br#"{"caliper": {"plus_minus_mm": 0.03, "source": "calibrated in May"}}"#;
    let instruments = Instruments::from_json(text, "i.json").unwrap();
    assert_eq!(instruments.plus_minus(Quantity::CapGap, Instrument::Caliper), Some(0.03));
    let usual = Instruments::default();
    assert_eq!(
        instruments.plus_minus(Quantity::CapGap, Instrument::Tape),
        usual.plus_minus(Quantity::CapGap, Instrument::Tape)
    );
    let bad =
        br#"{"calliper": {"plus_minus_mm": 1, "source": "x"}, "tape": {"plus_minus_mm": 0, "source": ""},
        "eye": {"source": "none"}, "photo": {"plus_minus_deg": 100}}"#;
    let expected = [
        "i.json: `calliper` is not a field of this format; did you mean `caliper`?",
        "i.json: `photo.source` is missing; expected 1 to 300 plain characters that say where the figure comes from.",
        "i.json: `tape.plus_minus_mm` is 0 mm; expected a half-width above 0 and at most 50 mm.",
        "i.json: `tape.source` is empty; expected 1 to 300 plain characters.",
        "i.json: `photo.plus_minus_deg` is 100 degrees; expected a half-width above 0 and at most 10 degrees.",
        "i.json: `eye` is without a half-width; expected plus_minus_mm, plus_minus_deg or both.",
    ];
    assert_eq!(Instruments::from_json(bad, "i.json").unwrap_err().to_string(), expected.join("\n"));
}
