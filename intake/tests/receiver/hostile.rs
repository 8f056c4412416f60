//! Random and damaged input: there is always a response, never a crash, and rejected input is not stored.

use crate::support::{Place, jpeg};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use reqwest::Method;
use serde_json::Value;
use steerwright_intake::photos::{JpegError, check_jpeg};
use steerwright_intake::{Limits, RateLimit, orders};
use steerwright_protocol::wire::Problem;

/// Rate limits that are never reached in tests.
fn unlimited() -> Limits {
    let all = RateLimit { burst: u32::MAX, per_second: 1e9 };
    Limits { sender_rate: all, unauthenticated_rate: all, ..Limits::default() }
}

/// Replaces one value of a JSON tree.
fn replace_value(tree: &mut Value, steps: &[usize], with: &Value) {
    let Some((step, rest)) = steps.split_first() else {
        *tree = with.clone();
        return;
    };
    match tree {
        Value::Array(list) if !list.is_empty() => {
            let at = step % list.len();
            replace_value(&mut list[at], rest, with);
        }
        Value::Object(fields) if !fields.is_empty() => {
            let at = step % fields.len();
            replace_value(fields.values_mut().nth(at).unwrap(), rest, with);
        }
        _ => *tree = with.clone(),
    }
}

fn anything() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        ".{0,40}".prop_map(Value::from),
        Just(Value::from("\u{0}\u{202e}\u{feff}")),
        Just(Value::from("x".repeat(100_000))),
        Just(serde_json::json!([[[[[[]]]]]])),
        Just(serde_json::json!({ "a": { "b": {} } })),
    ]
}

#[test]
fn changed_requests() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let (_place, server, token) = runtime.block_on(async {
        let place = Place::new().await;
        let server = place.server_with(unlimited()).await;
        let token = server.sender("crew").await;
        (place, server, token)
    });
    let mut runner = TestRunner::new(Config { cases: 150, failure_persistence: None, ..Config::default() });
    let changes =
        (0..12usize, prop::collection::vec((prop::collection::vec(0..40usize, 0..6), anything()), 1..3));
    let result = runner.run(&changes, |(bike, changes)| {
        let request = server.request(bike);
        let mut tree = serde_json::to_value(&request).unwrap();
        for (steps, with) in &changes {
            replace_value(&mut tree, steps, with);
        }
        runtime.block_on(async {
            let before = server.rows("requests").await;
            let answer = server.post_text(&token, request.id, tree.to_string()).await;
            let status = answer.status().as_u16();
            let text = answer.bytes().await.unwrap();
            let (requests, claims) = (server.rows("requests").await, server.rows("claims").await);
            if status == 201 {
                prop_assert_eq!(requests, before + 1);
            } else {
                prop_assert!((400..500).contains(&status), "{}", status);
                prop_assert!(serde_json::from_slice::<Problem>(&text).is_ok());
                prop_assert_eq!(requests, before);
            }
            prop_assert_eq!(claims, requests, "a key is kept for what is stored, and for nothing else");
            Ok(())
        })
    });
    result.unwrap();
    let taken = runtime.block_on(server.rows("requests"));
    // A few random changes are valid, such as a changed free text.
    assert!(taken < 15, "most changes are noticed, and {taken} of 150 were not");
}

/// The paths to all text leaves of a tree.
fn texts(tree: &Value, steps: &[usize], found: &mut Vec<Vec<usize>>) {
    let children: Vec<&Value> = match tree {
        Value::Array(list) => list.iter().collect(),
        Value::Object(fields) => fields.values().collect(),
        Value::String(_) => return found.push(steps.to_vec()),
        _ => return,
    };
    for (at, child) in children.into_iter().enumerate() {
        texts(child, &[steps, &[at]].concat(), found);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn characters_that_databases_choke_on() {
    let place = Place::new().await;
    let server = place.server_with(unlimited()).await;
    let token = server.sender("crew").await;
    let mut request = server.request(0);
    request.bike.measured.truncate(2);
    for row in &mut request.bike.measured {
        row.note = Some("note".to_owned());
        row.at = Some("2026-05-01T10:30:00Z".to_owned());
    }
    let tree = serde_json::to_value(&request).unwrap();
    let mut leaves = Vec::new();
    texts(&tree, &[], &mut leaves);
    assert!(leaves.len() > 25, "{}", leaves.len());
    let mut taken = 0;
    for word in ["a\u{0}b", "\u{1F6B2}\u{10FFFF}\u{E000}", "\\'\"$1"] {
        for leaf in &leaves {
            let mut tree = tree.clone();
            replace_value(&mut tree, leaf, &Value::from(word));
            let id = server.request(0).id;
            if tree["id"] != word {
                tree["id"] = id.to_string().into();
            }
            let status = server.post_text(&token, id, tree.to_string()).await.status().as_u16();
            assert!(status == 201 || (400..500).contains(&status), "{status} for {word:?} at {leaf:?}");
            if status == 201 {
                taken += 1;
                let kept = orders::load(&server.app.database, taken).await.unwrap().unwrap();
                assert_eq!(kept.request.id, id);
                let mut whole = serde_json::to_value(&kept.request).unwrap();
                whole["contact"] = serde_json::to_value(kept.contact).unwrap();
                assert_eq!(whole, tree, "kept as it came");
            }
        }
    }
    assert!(taken > 10, "{taken}");
}

#[test]
fn any_bytes_any_header() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let (_place, server, token) = runtime.block_on(async {
        let place = Place::new().await;
        let server = place.server_with(unlimited()).await;
        let token = server.sender("crew").await;
        (place, server, token)
    });
    let mut runner = TestRunner::new(Config { cases: 200, failure_persistence: None, ..Config::default() });
    let visible = "[ -~]{0,60}";
    let calls = (
        prop_oneof![
            Just(Method::GET),
            Just(Method::HEAD),
            Just(Method::POST),
            Just(Method::PUT),
            Just(Method::DELETE)
        ],
        prop_oneof![
            Just("/v1/order-requests".to_owned()),
            "/v1/order-requests/[ -~]{0,40}",
            "/v1/photos/[0-9a-fg%]{0,66}",
            "/requests/[ -~]{0,20}",
            "/[ -~]{0,20}",
        ],
        (visible, visible, visible, visible),
        prop::collection::vec(any::<u8>(), 0..300),
    );
    let result = runner.run(&calls, |(method, path, (kind, key, range, cookie), body)| {
        runtime.block_on(async {
            let call = server
                .call(method, &path.replace(['#', ' '], "_"), &token)
                .header("Content-Type", kind)
                .header("Idempotency-Key", key)
                .header("Content-Range", range)
                .header("Cookie", cookie)
                .body(body);
            let status = call.send().await.unwrap().status().as_u16();
            prop_assert!(status < 500, "{}", status);
            Ok(())
        })
    });
    result.unwrap();
    assert_eq!(runtime.block_on(server.rows("requests")), 0);
}

proptest! {
    #![proptest_config(Config { failure_persistence: None, ..Config::default() })]

    /// A truncated JPEG is rejected. The check of a modified one terminates.
    #[test]
    fn jpegs_cut_and_changed(cut in 0usize..1_000_000, at in 0usize..1_000_000, byte: u8, seed: u8) {
        let whole = jpeg(40, 30, seed);
        prop_assert_eq!(check_jpeg(&whole), Ok(()));
        let cut = &whole[..cut % whole.len()];
        prop_assert!(matches!(check_jpeg(cut), Err(JpegError::NotJpeg | JpegError::Damaged)));
        let mut other = whole.clone();
        let at = at % other.len();
        other[at] = byte;
        let _ = check_jpeg(&other);
    }

    #[test]
    fn any_bytes_are_no_jpeg(bytes in prop::collection::vec(any::<u8>(), 0..2_000)) {
        prop_assert!(check_jpeg(&bytes).is_err());
        let begun = [&[0xFF, 0xD8, 0xFF][..], &bytes].concat();
        prop_assert!(check_jpeg(&begun).is_err());
    }
}
