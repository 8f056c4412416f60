//! Refusals of every kind, each a problem; and the catalogue.

use crate::support::{Place, problem, refused};
use data_encoding::BASE64;
use ed25519_dalek::{Signature, SigningKey};
use reqwest::{Method, StatusCode};
use std::sync::Arc;
use std::time::Duration;
use steerwright_fit::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_intake::shop::Shop;
use steerwright_intake::{Intake, Limits, Rate, router, senders};
use steerwright_protocol::wire::ProblemKind;
use tokio::io::{AsyncReadExt, AsyncWriteExt};

#[tokio::test(flavor = "multi_thread")]
async fn tokens() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let path = format!("{}/v1/catalogue", server.base);
    let with = |value: Option<String>| {
        let call = server.client.get(&path);
        value.into_iter().fold(call, |call, value| call.header("Authorization", value)).send()
    };
    assert_eq!(with(Some(format!("bearer {token}"))).await.unwrap().status(), StatusCode::OK);
    let none = with(None).await.unwrap();
    assert_eq!(none.headers()["www-authenticate"], "Bearer");
    refused(none, ProblemKind::Token).await;
    for wrong in [format!("Basic {token}"), format!("Bearer {token}x"), token.clone(), "Bearer".to_owned()] {
        refused(with(Some(wrong)).await.unwrap(), ProblemKind::Token).await;
    }
    let unknown = with(Some(format!("Bearer {}", "x".repeat(43)))).await.unwrap();
    assert_eq!(unknown.headers()["www-authenticate"], "Bearer error=\"invalid_token\"");
    refused(unknown, ProblemKind::Token).await;
    assert!(senders::close(&server.intake.database, "crew", server.intake.now()).await.unwrap());
    refused(with(Some(format!("Bearer {token}"))).await.unwrap(), ProblemKind::Token).await;
    assert!(
        senders::add(&server.intake.database, "crew", server.intake.now()).await.is_err(),
        "a name twice"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn rates() {
    let place = Place::new().await;
    let limits = Limits {
        sender: Rate { burst: 3, each_second: 0.5 },
        stranger: Rate { burst: 2, each_second: 0.1 },
        ..Limits::default()
    };
    let server = place.server_with(limits).await;
    let (token, other) = (server.sender("crew").await, server.sender("others").await);
    let call = async |token: &str| server.call(Method::GET, "/v1/catalogue", token).send().await.unwrap();
    for _ in 0..3 {
        assert_eq!(call(&token).await.status(), StatusCode::OK);
    }
    let many = call(&token).await;
    assert_eq!(many.headers()["retry-after"], "2");
    refused(many, ProblemKind::TooMany).await;
    assert_eq!(call(&other).await.status(), StatusCode::OK);
    place.hands.forward(2_000);
    assert_eq!(call(&token).await.status(), StatusCode::OK);
    let guess = "x".repeat(43);
    for _ in 0..2 {
        refused(call(&guess).await, ProblemKind::Token).await;
    }
    let many = call(&guess).await;
    assert_eq!(many.headers()["retry-after"], "10");
    refused(many, ProblemKind::TooMany).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn addresses_and_methods() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for path in ["/v1", "/v1/", "/v1/nothing", "/v1/order-requests/a/b", "/v1/photos", "/v1/%00"] {
        let told = server.call(Method::GET, path, &token).send().await.unwrap();
        refused(told, ProblemKind::NotFound).await;
    }
    for (method, path, allow) in [
        (Method::GET, "/v1/order-requests", "POST"),
        (Method::DELETE, "/v1/order-requests", "POST"),
        (Method::POST, "/v1/catalogue", "GET,HEAD"),
        (Method::PATCH, "/v1/photos/00", "HEAD,PUT"),
    ] {
        let answer = server.call(method, path, &token).send().await.unwrap();
        let allowed: std::collections::BTreeSet<_> = answer.headers()["allow"]
            .to_str()
            .unwrap()
            .split(',')
            .map(str::trim)
            .map(str::to_owned)
            .collect();
        assert_eq!(allowed, allow.split(',').map(str::to_owned).collect(), "{path}");
        let told = problem(answer).await;
        assert_eq!((told.status, told.kind.as_str()), (Some(405), "about:blank"));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn kinds_and_sizes_of_bodies() {
    let place = Place::new().await;
    let limits = Limits { request_bytes: 1_000, ..Limits::default() };
    let server = place.server_with(limits).await;
    let token = server.sender("crew").await;
    let request = server.request(0);
    refused(server.post(&token, &request).await, ProblemKind::TooLarge).await;
    let call = || {
        let call = server.call(Method::POST, "/v1/order-requests", &token);
        call.header("Idempotency-Key", format!("\"{}\"", request.id))
    };
    refused(call().body("{}").send().await.unwrap(), ProblemKind::MediaType).await;
    let text = call().header("Content-Type", "text/plain").body("{}");
    refused(text.send().await.unwrap(), ProblemKind::MediaType).await;
    let twice = call().header("Content-Type", "application/json").header("Content-Type", "text/plain");
    refused(twice.body("{}").send().await.unwrap(), ProblemKind::MediaType).await;
    let json = call().header("Content-Type", "Application/JSON; charset=utf-8").body("{}");
    refused(json.send().await.unwrap(), ProblemKind::Invalid).await;
}

/// A call by hand, for what no client would send.
async fn by_hand(base: &str, text: &str, broken_off: bool) -> String {
    let mut stream = tokio::net::TcpStream::connect(base.strip_prefix("http://").unwrap()).await.unwrap();
    stream.write_all(text.as_bytes()).await.unwrap();
    if broken_off {
        stream.shutdown().await.unwrap();
    }
    let mut answer = Vec::new();
    // The server may be done before it has read all.
    let _ = stream.read_to_end(&mut answer).await;
    String::from_utf8_lossy(&answer).into_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn bodies_that_lie_about_their_length() {
    let place = Place::new().await;
    let server = place.server_with(Limits { request_bytes: 1_000, ..Limits::default() }).await;
    let token = server.sender("crew").await;
    let id = server.request(0).id;
    let head = format!(
        "POST /v1/order-requests HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\
         Idempotency-Key: \"{id}\"\r\nContent-Type: application/json\r\nConnection: close\r\n"
    );
    // Chunks beyond the limit (0x7D0 = 2000 bytes), and one that breaks off.
    let long = format!("{head}Transfer-Encoding: chunked\r\n\r\n7D0\r\n{}\r\n0\r\n\r\n", " ".repeat(2_000));
    let answer = by_hand(&server.base, &long, false).await;
    assert!(answer.starts_with("HTTP/1.1 413 "), "{answer}");
    assert!(answer.contains("/problems/too-large"), "{answer}");
    by_hand(&server.base, &format!("{head}Content-Length: 500\r\n\r\n{{"), true).await;
    by_hand(&server.base, &format!("{head}Transfer-Encoding: chunked\r\n\r\n5\r\n{{"), true).await;
    let huge = by_hand(&server.base, &format!("{head}Content-Length: 99999999999\r\n\r\n"), false).await;
    assert!(huge.starts_with("HTTP/1.1 413 "), "{huge}");
    let both = format!("{head}Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n");
    by_hand(&server.base, &both, false).await;
    assert_eq!((server.rows("claims").await, server.rows("requests").await), (0, 0));
    assert_eq!(
        server.call(Method::GET, "/healthz", &token).send().await.unwrap().text().await.unwrap(),
        "ok\n"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn slow_bytes() {
    let place = Place::new().await;
    let server = place.server_with(Limits { body: Duration::from_millis(200), ..Limits::default() }).await;
    let token = server.sender("crew").await;
    let id = server.request(0).id;
    let address = server.base.strip_prefix("http://").unwrap();
    let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
    let head = format!(
        "POST /v1/order-requests HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\
         Idempotency-Key: \"{id}\"\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n{{"
    );
    stream.write_all(head.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.unwrap();
    let answer = String::from_utf8(answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 408 "), "{answer}");
    assert!(answer.contains("application/problem+json"), "{answer}");
    assert_eq!(server.rows("claims").await, 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_database_that_is_gone_is_told_as_such() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for table in
        ["request_photos", "photo_parts", "photos", "answers", "requests", "claims", "intake_version"]
    {
        let sql = match table {
            "request_photos" => "DROP TABLE request_photos",
            "photo_parts" => "DROP TABLE photo_parts",
            "photos" => "DROP TABLE photos",
            "answers" => "DROP TABLE answers",
            "requests" => "DROP TABLE requests",
            "claims" => "DROP TABLE claims",
            _ => "DROP TABLE intake_version",
        };
        let statement = steerwright_intake::database::Statement::new(sql, []);
        server.intake.database.one(statement).await.unwrap();
    }
    let answer = server.post(&token, &server.request(0)).await;
    assert!(answer.headers().contains_key("retry-after"));
    let told = refused(answer, ProblemKind::Unavailable).await;
    assert!(!told.detail.unwrap().contains("claims"), "what is amiss is for the log");
    let health = server.call(Method::GET, "/healthz", &token).send().await.unwrap();
    refused(health, ProblemKind::Unavailable).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_catalogue_is_signed_and_tagged() {
    let place = Place::new().await;
    let plain = place.server().await;
    let token = plain.sender("crew").await;
    let key = SigningKey::from_bytes(&[9; 32]);
    let intake = Intake::new(
        plain.intake.database.clone(),
        plain.intake.shelf.clone(),
        Shop::demo().unwrap().signed_by(&key),
        Arc::clone(&plain.intake.clock),
        Limits::default(),
        false,
    );
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(steerwright_intake::listen(listener, router(Arc::new(intake)), std::future::pending()));
    let get = |tag: Option<String>| {
        let call = plain.client.get(format!("{base}/v1/catalogue")).bearer_auth(&token);
        tag.into_iter().fold(call, |call, tag| call.header("If-None-Match", tag)).send()
    };
    let whole = get(None).await.unwrap();
    assert_eq!(whole.status(), StatusCode::OK);
    let tag = whole.headers()["etag"].to_str().unwrap().to_owned();
    let signature = BASE64.decode(whole.headers()["catalogue-signature"].as_bytes()).unwrap();
    let bytes = whole.bytes().await.unwrap();
    assert_eq!(bytes, demo_catalogue_json());
    let signature = Signature::from_slice(&signature).unwrap();
    assert!(key.verifying_key().verify_strict(&bytes, &signature).is_ok());
    assert!(Catalogue::from_json(&bytes, "the catalogue").is_ok());
    for same in [tag.clone(), format!("W/{tag}"), format!("\"a\", {tag}"), "*".to_owned()] {
        let same = get(Some(same)).await.unwrap();
        assert_eq!(same.status(), StatusCode::NOT_MODIFIED);
        assert_eq!(same.headers()["etag"], tag.as_str());
        assert_eq!(same.headers()["cache-control"], "private, no-cache");
        assert!(same.bytes().await.unwrap().is_empty());
    }
    assert_eq!(get(Some("\"a\"".to_owned())).await.unwrap().status(), StatusCode::OK);
    let head = plain.client.head(format!("{base}/v1/catalogue")).bearer_auth(&token).send().await.unwrap();
    assert_eq!((head.status(), head.headers()["etag"].to_str().unwrap()), (StatusCode::OK, tag.as_str()));
    let unsigned = plain.call(Method::GET, "/v1/catalogue", &token).send().await.unwrap();
    assert!(!unsigned.headers().contains_key("catalogue-signature"));
}
