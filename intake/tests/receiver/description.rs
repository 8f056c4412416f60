//! `openapi.json` matches the program.

use crate::support::{Place, jpeg};
use reqwest::{Method, StatusCode};
use serde_json::Value;
use std::collections::BTreeSet;
use steerwright_fit::catalogue::demo_catalogue_json;
use steerwright_intake::{demo, openapi};
use steerwright_protocol::wire::ProblemKind;

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/openapi.json");

#[test]
fn the_file_is_current() {
    let text = format!("{:#}\n", openapi());
    if std::env::var_os("STEERWRIGHT_WRITE").is_some() {
        std::fs::write(FILE, &text).unwrap();
    }
    let kept = std::fs::read_to_string(FILE).unwrap();
    assert!(kept == text, "openapi.json is not current: run the check once with STEERWRIGHT_WRITE=1");
}

/// Every `$ref` of a tree.
fn references<'v>(value: &'v Value, found: &mut BTreeSet<&'v str>) {
    match value {
        Value::Object(fields) => {
            found.extend(fields.get("$ref").and_then(Value::as_str));
            fields.values().for_each(|value| references(value, found));
        }
        Value::Array(list) => list.iter().for_each(|value| references(value, found)),
        _ => {}
    }
}

#[test]
fn every_reference_leads_somewhere_and_every_problem_is_named() {
    let description = openapi();
    assert!(description["openapi"].as_str().unwrap().starts_with("3.1."));
    let mut found = BTreeSet::new();
    references(&description, &mut found);
    assert!(found.contains("#/components/schemas/OrderRequest"));
    for reference in found {
        let pointer = reference.strip_prefix('#').unwrap();
        assert!(description.pointer(pointer).is_some(), "{reference}");
    }
    let text = description["paths"].to_string();
    for kind in ProblemKind::ALL {
        assert!(text.contains(kind.uri()), "{}", kind.uri());
    }
}

/// A validator for one of the description's schemas.
fn schema(description: &Value, name: &str) -> jsonschema::Validator {
    let mut whole = serde_json::json!({ "$ref": format!("#/components/schemas/{name}") });
    whole["components"] = description["components"].clone();
    jsonschema::draft202012::new(&whole).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_goes_over_the_wire_is_as_described() {
    let description = openapi();
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let [request, receipt, problem, catalogue] =
        ["OrderRequest", "Receipt", "Problem", "Catalogue"].map(|name| schema(&description, name));
    assert!(catalogue.is_valid(&serde_json::from_str(demo_catalogue_json()).unwrap()));
    for bike in 0..12 {
        let mut sent = server.request(bike);
        if bike == 0 {
            let photo = jpeg(40, 30, 1);
            sent.photos = vec![demo::sent_photo(&photo, "note")];
            let refused = server.post(&token, &sent).await;
            let told: Value = serde_json::from_slice(&refused.bytes().await.unwrap()).unwrap();
            assert!(problem.is_valid(&told), "{told}");
            assert!(!receipt.is_valid(&told), "a schema that takes anything shows nothing");
            let path = format!("/v1/photos/{}", sent.photos[0].sha256);
            let put =
                server.call(Method::PUT, &path, &token).header("Content-Type", "image/jpeg").body(photo);
            assert_eq!(put.send().await.unwrap().status(), StatusCode::CREATED);
        }
        let tree = serde_json::to_value(&sent).unwrap();
        assert!(request.is_valid(&tree), "{:?}", request.iter_errors(&tree).next());
        let answer = server.post(&token, &sent).await;
        assert_eq!(answer.status(), StatusCode::CREATED);
        let told: Value = serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap();
        assert!(receipt.is_valid(&told), "{told}");
    }
}
