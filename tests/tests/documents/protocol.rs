//! `docs/protocol.md` names every call of the OpenAPI description, every refusal and every state.

use super::{document, root};
use serde_json::Value;
use steerwright_core::orders::State;
use steerwright_core::protocol::wire::{ProblemKind, ShopStatus};

#[test]
fn every_call_is_named() {
    let (text, path) = (document("protocol.md"), root().join("intake/openapi.json"));
    let openapi: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let methods = ["get", "head", "post", "put", "delete"];
    let mut calls = 0;
    for (path, item) in openapi["paths"].as_object().unwrap() {
        for method in item.as_object().unwrap().keys().filter(|key| methods.contains(&key.as_str())) {
            let call = format!("| `{} {path}` |", method.to_uppercase());
            assert!(text.contains(&call), "docs/protocol.md has no row for {call}");
            calls += 1;
        }
    }
    assert!(calls > 0);
    assert_eq!(text.lines().filter(|line| line.contains("| `") && line.contains(" /v1/")).count(), calls);
}

#[test]
fn every_refusal_has_its_row() {
    let text = document("protocol.md");
    for kind in ProblemKind::ALL {
        let row = format!("| {} | `{}` |", kind.status(), kind.uri());
        assert!(text.contains(&row), "docs/protocol.md has no row {row}");
    }
    let rows = text.lines().filter(|line| line.contains("| `/problems/")).count();
    assert_eq!(rows, ProblemKind::ALL.len());
}

#[test]
fn every_state_and_answer_is_named() {
    let text = document("protocol.md");
    for state in State::ALL {
        assert!(text.contains(&format!(" {}", state.name())), "{}", state.name());
    }
    for word in ShopStatus::ALL {
        assert!(text.contains(&format!("`{}`", word.name())), "{}", word.name());
    }
}
