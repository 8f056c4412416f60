//! Clients that stall: they hold up nobody else, and their connections end.

use crate::support::{Place, jpeg};
use reqwest::StatusCode;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;
use steerwright_intake::{Connections, Limits, demo, metrics_router, router};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// Heads that ask for a page again and again, and never read it.
const PIPELINED: &str = "GET /style.css HTTP/1.1\r\nHost: here\r\n\r\n";
/// A head that never ends.
const HEAD: &str = "GET /style.css HTTP/1.1\r\nHost: he";

/// Serves a place's app with other limits on connections.
async fn serve(app: Arc<steerwright_intake::AppState>, connections: Connections) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(connections.serve(listener, router(app), std::future::pending()));
    address
}

fn body_head(token: &str, bytes: &[u8]) -> String {
    format!(
        "PUT /v1/photos/{} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\nContent-Type: image/jpeg\r\n\
         Content-Length: {}\r\n\r\n",
        demo::sent_photo(bytes, "").sha256,
        bytes.len()
    )
}

/// Writes requests and reads no response, until nothing more fits into the connection.
#[cfg(target_os = "linux")]
async fn fill(stream: &TcpStream) {
    let many = PIPELINED.repeat(200);
    stream.writable().await.unwrap();
    while stream.try_write(many.as_bytes()).is_ok() {}
}

/// Writes requests and reads no response, until the server ends the connection.
async fn pipeline(stream: &mut TcpStream) -> std::io::Result<()> {
    let many = PIPELINED.repeat(200);
    loop {
        stream.write_all(many.as_bytes()).await?;
    }
}

/// More stalled connections than the server has in all, from one address: somebody at another address is served, and so is
/// whoever comes through a trusted proxy at the first one.
#[cfg(target_os = "linux")]
#[tokio::test(flavor = "multi_thread")]
async fn who_stalls_holds_up_nobody_else() {
    let place = Place::new().await;
    let server = place
        .server_with(Limits {
            body_timeout: Duration::from_secs(3_600),
            request_timeout: Duration::from_secs(3_600),
            ..Limits::default()
        })
        .await;
    let (token, other) = (server.sender("crew").await, server.sender("other").await);
    // No deadline ends what stalls here.
    let long = Duration::from_secs(3_600);
    let connections = Connections {
        total: 24,
        per_address: 16,
        header_timeout: long,
        write_timeout: long,
        ..Connections::default()
    };
    let address = serve(Arc::clone(&server.app), connections).await;
    let health = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let health_address = health.local_addr().unwrap();
    let healthy = metrics_router(Arc::clone(&server.app));
    tokio::spawn(steerwright_intake::serve(health, healthy, std::future::pending()));

    let photo = jpeg(64, 48, 9);
    let mut stalled = Vec::new();
    for number in 0..40 {
        let mut stream = TcpStream::connect(address).await.unwrap();
        // An error is a connection that the server has closed already: it is one too many of this address.
        match number % 3 {
            0 => fill(&stream).await,
            1 => drop(stream.write_all(HEAD.as_bytes()).await),
            _ => drop(stream.write_all(format!("{}\u{ff}", body_head(&token, &photo)).as_bytes()).await),
        }
        stalled.push(stream);
    }

    let from =
        |address: [u8; 4]| reqwest::Client::builder().local_address(IpAddr::from(address)).build().unwrap();
    let request = server.request(0);
    let post = from([127, 0, 0, 2])
        .post(format!("http://{address}/v1/order-requests"))
        .bearer_auth(&other)
        .header("Idempotency-Key", format!("\"{}\"", request.id))
        .header("Content-Type", "application/json")
        .body(serde_json::to_string(&request).unwrap());
    assert_eq!(post.send().await.unwrap().status(), StatusCode::CREATED);
    let told = from([127, 0, 0, 1]).get(format!("http://{health_address}/healthz")).send().await.unwrap();
    assert_eq!(told.status(), StatusCode::OK);
    // The address that stalls is full: a further connection of it is closed.
    assert!(from([127, 0, 0, 1]).get(format!("http://{address}/login")).send().await.is_err());
    // As soon as they go, it is served again.
    drop(stalled);
    while from([127, 0, 0, 1]).get(format!("http://{address}/login")).send().await.is_err() {
        tokio::task::yield_now().await;
    }
}

/// Each kind of stalled connection ends at its deadline.
#[tokio::test(flavor = "multi_thread")]
async fn who_stalls_is_cut_off() {
    let place = Place::new().await;
    let short = Duration::from_millis(50);
    let server = place.server_with(Limits { body_timeout: short, ..Limits::default() }).await;
    let token = server.sender("crew").await;
    let connections = Connections { header_timeout: short, write_timeout: short, ..Connections::default() };
    let address = serve(Arc::clone(&server.app), connections).await;

    let mut reads_nothing = TcpStream::connect(address).await.unwrap();
    assert!(pipeline(&mut reads_nothing).await.is_err(), "it goes on until the server ends it");

    let mut heads = TcpStream::connect(address).await.unwrap();
    heads.write_all(HEAD.as_bytes()).await.unwrap();
    let mut told = Vec::new();
    // Closed, with a refusal or without a word.
    let _ = heads.read_to_end(&mut told).await;
    assert!(!told.starts_with(b"HTTP/1.1 200"), "{told:?}");

    let mut idle = TcpStream::connect(address).await.unwrap();
    let _ = idle.read_to_end(&mut Vec::new()).await;

    let photo = jpeg(64, 48, 9);
    let mut body = TcpStream::connect(address).await.unwrap();
    body.write_all(body_head(&token, &photo).as_bytes()).await.unwrap();
    body.write_all(&photo[..9]).await.unwrap();
    let mut told = String::new();
    body.read_to_string(&mut told).await.unwrap();
    assert!(told.starts_with("HTTP/1.1 408 "), "{told}");
    assert_eq!(server.rows("photos").await, 0);
}
