//! Errors of every kind as problem documents, and the catalogue.

use crate::support::{Place, problem, refused};
use data_encoding::BASE64;
use ed25519_dalek::{Signature, SigningKey};
use reqwest::{Method, StatusCode};
use std::io::Write;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use steerwright_fit::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::{AppState, Limits, RateLimit, router, senders};
use steerwright_protocol::wire::ProblemKind;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tracing_subscriber::fmt::MakeWriter;

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
    senders::close(&server.app.database, "crew", server.app.now()).await.unwrap();
    refused(with(Some(format!("Bearer {token}"))).await.unwrap(), ProblemKind::Token).await;
    assert!(senders::add(&server.app.database, "crew", server.app.now()).await.is_err(), "a name twice");
}

#[tokio::test(flavor = "multi_thread")]
async fn rates() {
    let place = Place::new().await;
    let limits = Limits {
        sender_rate: RateLimit { burst: 3, per_second: 0.5 },
        unauthenticated_rate: RateLimit { burst: 2, per_second: 0.1 },
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
    place.clock.forward(2_000);
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

/// Sends raw bytes that no HTTP client would send, and returns the response.
async fn send_raw(base: &str, text: &str, broken_off: bool) -> String {
    let mut stream = tokio::net::TcpStream::connect(base.strip_prefix("http://").unwrap()).await.unwrap();
    stream.write_all(text.as_bytes()).await.unwrap();
    if broken_off {
        stream.shutdown().await.unwrap();
    }
    let mut answer = Vec::new();
    // The server may respond and close before it has read everything.
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
    // Chunks beyond the limit (0x7D0 = 2000 bytes), and an incomplete chunk.
    let long = format!("{head}Transfer-Encoding: chunked\r\n\r\n7D0\r\n{}\r\n0\r\n\r\n", " ".repeat(2_000));
    let answer = send_raw(&server.base, &long, false).await;
    assert!(answer.starts_with("HTTP/1.1 413 "), "{answer}");
    assert!(answer.contains("/problems/too-large"), "{answer}");
    send_raw(&server.base, &format!("{head}Content-Length: 500\r\n\r\n{{"), true).await;
    send_raw(&server.base, &format!("{head}Transfer-Encoding: chunked\r\n\r\n5\r\n{{"), true).await;
    let huge = send_raw(&server.base, &format!("{head}Content-Length: 99999999999\r\n\r\n"), false).await;
    assert!(huge.starts_with("HTTP/1.1 413 "), "{huge}");
    let both = format!("{head}Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n");
    send_raw(&server.base, &both, false).await;
    assert_eq!((server.rows("claims").await, server.rows("requests").await), (0, 0));
    assert_eq!(
        server.call(Method::GET, "/healthz", &token).send().await.unwrap().text().await.unwrap(),
        "ok\n"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn slow_bytes() {
    let place = Place::new().await;
    let server =
        place.server_with(Limits { body_timeout: Duration::from_millis(200), ..Limits::default() }).await;
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

/// A timeout of the whole request returns a problem document, in the API and on the page.
#[tokio::test(flavor = "multi_thread")]
async fn requests_that_take_too_long() {
    let place = Place::new().await;
    let server =
        place.server_with(Limits { request_timeout: Duration::from_millis(200), ..Limits::default() }).await;
    let token = server.sender("crew").await;
    let id = server.request(0).id;
    for (path, kind) in
        [("/v1/order-requests", "application/json"), ("/login", "application/x-www-form-urlencoded")]
    {
        // The body never comes.
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\nIdempotency-Key: \"{id}\"\r\n\
             Content-Type: {kind}\r\nContent-Length: 500\r\nConnection: close\r\n\r\n{{"
        );
        let answer = send_raw(&server.base, &head, false).await;
        assert!(answer.starts_with("HTTP/1.1 503 "), "{answer}");
        for part in ["application/problem+json", "/problems/unavailable", "retry-after: 10\r\n", "nosniff"] {
            assert!(answer.contains(part), "{part} in {answer}");
        }
    }
    assert_eq!(server.rows("claims").await, 0);
}

/// A panic in a handler, and one in a task started by a handler: 500 as a problem document, a log line, and
/// the process continues to serve.
#[tokio::test]
async fn a_panic_is_a_problem_and_logged() {
    let log = Log::default();
    let lines = tracing_subscriber::fmt().with_writer(log.clone()).with_ansi(false).finish();
    let _guard = tracing::subscriber::set_default(lines);
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    // The clock is read once after the sender is identified, and again when the request is claimed.
    let (calls, fails_at) = (Arc::new(AtomicU32::new(0)), Arc::new(AtomicU32::new(0)));
    let (counted, fails, clock) = (calls.clone(), fails_at.clone(), Arc::clone(&server.app.clock));
    let failing = Arc::new(move || {
        let call = counted.fetch_add(1, Ordering::SeqCst) + 1;
        assert_ne!(call, fails.load(Ordering::SeqCst), "a made-up fault");
        clock()
    });
    let app = AppState::new(
        server.app.database.clone(),
        server.app.photo_store.clone(),
        PublishedCatalogue::demo().unwrap(),
        failing,
        Limits::default(),
        false,
    );
    let base = served(app).await;
    // Another test's thread without a subscriber may be the first to reach the log line of a response, which
    // would disable it for all threads. It is reached here first and then enabled again.
    assert_eq!(server.client.get(format!("{base}/healthz")).send().await.unwrap().status(), StatusCode::OK);
    tracing::callsite::rebuild_interest_cache();
    for fails in [1, 2] {
        calls.store(0, Ordering::SeqCst);
        fails_at.store(fails, Ordering::SeqCst);
        let request = server.request(0);
        let post = || {
            let call = server.client.post(format!("{base}/v1/order-requests")).bearer_auth(&token);
            // A name that a client chose is not taken.
            let call = call.header("X-Request-Id", "chosen");
            call.header("Idempotency-Key", format!("\"{}\"", request.id))
                .header("Content-Type", "application/json")
                .body(serde_json::to_string(&request).unwrap())
                .send()
        };
        let answer = post().await.unwrap();
        assert_eq!(answer.status(), StatusCode::INTERNAL_SERVER_ERROR);
        assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
        let id = answer.headers()["x-request-id"].to_str().unwrap().to_owned();
        let told = problem(answer).await;
        let detail = format!("A fault here; it is in the log as {id}.");
        assert_eq!(
            (told.kind.as_str(), told.detail),
            ("about:blank", Some(detail)),
            "the reason is for the log"
        );
        let line = log.line("a made-up fault");
        assert!(line.contains(&id), "{line}");
        assert_eq!(log.count("a made-up fault"), fails as usize, "{fails}");
        assert_eq!(log.count("status=500"), fails as usize, "{fails}");
        // The error left nothing behind: the same request succeeds.
        assert_eq!(post().await.unwrap().status(), StatusCode::CREATED);
    }
}

/// A log in memory.
#[derive(Clone, Default)]
struct Log(Arc<Mutex<Vec<u8>>>);

impl Log {
    /// The last line that contains a text.
    fn line(&self, text: &str) -> String {
        let log = String::from_utf8_lossy(&self.0.lock().unwrap()).into_owned();
        log.lines().rfind(|line| line.contains(text)).unwrap().to_owned()
    }

    /// The number of lines that contain a text.
    fn count(&self, text: &str) -> usize {
        String::from_utf8_lossy(&self.0.lock().unwrap()).lines().filter(|line| line.contains(text)).count()
    }
}

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl MakeWriter<'_> for Log {
    type Writer = Self;

    fn make_writer(&self) -> Self {
        self.clone()
    }
}

/// Serves on the loopback interface until the test ends.
async fn served(app: AppState) -> String {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(steerwright_intake::serve(listener, router(Arc::new(app)), std::future::pending()));
    base
}

#[tokio::test(flavor = "multi_thread")]
async fn a_database_that_is_gone_is_told_as_such() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for table in [
        "looks",
        "notes",
        "messages",
        "request_photos",
        "photo_parts",
        "photos",
        "answers",
        "requests",
        "claims",
        "schema_version",
    ] {
        let sql = match table {
            "looks" => "DROP TABLE looks",
            "notes" => "DROP TABLE notes",
            "messages" => "DROP TABLE messages",
            "request_photos" => "DROP TABLE request_photos",
            "photo_parts" => "DROP TABLE photo_parts",
            "photos" => "DROP TABLE photos",
            "answers" => "DROP TABLE answers",
            "requests" => "DROP TABLE requests",
            "claims" => "DROP TABLE claims",
            _ => "DROP TABLE schema_version",
        };
        let statement = steerwright_intake::database::Statement::new(sql, []);
        server.app.database.run_one(statement).await.unwrap();
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
    let app = AppState::new(
        plain.app.database.clone(),
        plain.app.photo_store.clone(),
        PublishedCatalogue::demo().unwrap().signed_with(&key),
        Arc::clone(&plain.app.clock),
        Limits::default(),
        false,
    );
    let base = served(app).await;
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
