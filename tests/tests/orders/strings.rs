//! Every text of a request, field by field: none may contain a control character.

use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use steerwright_core::protocol::wire::OrderRequest;

/// A request with every field.
fn with_everything() -> Value {
    let text = include_str!("../../data/valid/order-request/order-with-photo.json");
    let mut request: Value = serde_json::from_str(text).unwrap();
    request["replaces"] = json!("0196b1d2-0000-7000-8000-000000000001");
    request["contact"]["phone"] = json!("030 1234567");
    request["parts"] = json!([
        {"what": "bearing", "sku": "TT-B-4180", "quantity": 1, "text": "In place of a rough one."}
    ]);
    request["found"]["work"] =
        json!([{"where": "lower_throat", "what": "open", "to_mm": 44.0, "text": "Open the lower throat."}]);
    let half = json!({"seat": "IS42", "stack_mm": 9.5, "plane_mm": 4.0, "offset_mm": -1.0});
    request["bike"]["fitted"] =
        json!({"sku": "TT-4180-10", "name": "Drop-in pair, 1 degree", "upper": half, "lower": half});
    let reading = &mut request["bike"]["measured"][0];
    reading["at"] = json!("2026-05-01T10:30:00+02:00");
    reading["note"] = json!("twice");
    request
}

/// Paths of every text in the schema, except enumerations.
fn texts_of_schema() -> BTreeSet<String> {
    fn walk(schema: &Value, all: &Value, path: &str, into: &mut BTreeSet<String>) {
        if let Some(name) = schema["$ref"].as_str() {
            walk(all.pointer(name.trim_start_matches('#')).unwrap(), all, path, into);
        }
        for several in ["anyOf", "oneOf", "allOf"] {
            schema[several].as_array().into_iter().flatten().for_each(|it| walk(it, all, path, into));
        }
        let kind = &schema["type"];
        let is_text =
            kind == "string" || kind.as_array().is_some_and(|kinds| kinds.contains(&json!("string")));
        if is_text && schema.get("enum").is_none() && schema.get("const").is_none() {
            into.insert(path.to_owned());
        }
        for (name, field) in schema["properties"].as_object().into_iter().flatten() {
            walk(field, all, &format!("{path}/{name}"), into);
        }
        for (more, step) in [("items", "0"), ("additionalProperties", "*")] {
            if schema[more].is_object() {
                walk(&schema[more], all, &format!("{path}/{step}"), into);
            }
        }
    }
    let schema = OrderRequest::json_schema().to_value();
    let mut texts = BTreeSet::new();
    walk(&schema, &schema, "", &mut texts);
    texts
}

#[test]
fn no_text_of_a_request_takes_a_control_character() {
    // Of several lines; elsewhere a line break is refused like any control character.
    const LINES: [&str; 3] = ["/contact/address", "/note", "/photos/0/note"];
    let whole = with_everything();
    OrderRequest::from_json(whole.to_string().as_bytes(), "f").unwrap();
    let texts = texts_of_schema();
    assert!(texts.len() > 20, "{texts:?}");
    let mut taken: BTreeMap<String, String> = BTreeMap::new();
    for path in &texts {
        let before = whole.pointer(path).and_then(Value::as_str);
        let before = before
            .unwrap_or_else(|| panic!("{path} is a text of the schema and not in this check's request"));
        for control in (0..0x20_u8).chain(0x7F..=0x9F).map(char::from) {
            let plain = LINES.contains(&path.as_str()) && matches!(control, '\n' | '\t');
            let middle = before.char_indices().nth(before.chars().count() / 2).unwrap().0;
            for place in [0, middle, before.len()] {
                let mut text = before.to_owned();
                text.insert(place, control);
                let mut request = whole.clone();
                *request.pointer_mut(path).unwrap() = json!(text);
                let read = OrderRequest::from_json(request.to_string().as_bytes(), "f");
                if read.is_ok() != plain {
                    taken.insert(path.clone(), format!("{text:?}"));
                }
                if let Err(errors) = read {
                    assert!(!errors.to_string().chars().any(|c| c.is_control() && c != '\n'), "{path}");
                }
            }
        }
    }
    assert_eq!(taken, BTreeMap::new());
}

/// The same for a request made in memory: `check` itself refuses.
#[test]
fn check_refuses_them_too() {
    let whole = with_everything();
    let sound: OrderRequest = serde_json::from_value(whole.clone()).unwrap();
    sound.check("f").unwrap();
    for path in texts_of_schema() {
        let mut request = whole.clone();
        let text = request.pointer(&path).unwrap().as_str().unwrap().to_owned();
        *request.pointer_mut(&path).unwrap() = json!(format!("{text}\u{7}"));
        // Fields that are not text in memory cannot contain one.
        if let Ok(request) = serde_json::from_value::<OrderRequest>(request) {
            assert!(request.check("f").is_err(), "{path}");
        }
    }
}
