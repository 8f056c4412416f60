//! Uploads that break off, crowd, or are no pictures; objects that nothing names.

use crate::support::{Place, Server, files, jpeg, problem, refused};
use reqwest::{Method, StatusCode};
use std::sync::Arc;
use steerwright_intake::photos::{self, Photo};
use steerwright_intake::{Connections, Limits, RateLimit, demo, router, senders};
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ProblemKind;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;

/// A time after all files of the test.
const LATER: Timestamp = Timestamp(i64::MAX);

fn head(token: &str, bytes: &[u8], from: usize, end: usize) -> String {
    format!(
        "PUT /v1/photos/{} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\nContent-Type: image/jpeg\r\n\
         Content-Range: bytes {from}-{}/{}\r\nContent-Length: {}\r\n",
        demo::sent_photo(bytes, "").sha256,
        end - 1,
        bytes.len(),
        end - from
    )
}

async fn put(server: &Server, token: &str, bytes: &[u8]) -> reqwest::Response {
    let path = format!("/v1/photos/{}", demo::sent_photo(bytes, "").sha256);
    let call = server.call(Method::PUT, &path, token).header("Content-Type", "image/jpeg");
    call.body(bytes.to_vec()).send().await.unwrap()
}

/// Senders that hang up as soon as they have sent: every object that was stored has its row.
#[tokio::test(flavor = "multi_thread")]
async fn an_upload_outlives_its_connection() {
    let place = Place::new().await;
    let rate = RateLimit { burst: 10_000, per_second: 1e4 };
    let server = place.server_with(Limits { sender_rate: rate, ..Limits::default() }).await;
    let token = server.sender("crew").await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, stopped) = oneshot::channel::<()>();
    let serving =
        tokio::spawn(Connections::default().serve(listener, router(Arc::clone(&server.app)), async {
            let _ = stopped.await;
        }));
    for round in 0..60_usize {
        let bytes = jpeg(40, 30, round as u8);
        let end = if round % 2 == 0 { bytes.len() } else { bytes.len() / 2 };
        let mut stream = TcpStream::connect(address).await.unwrap();
        stream.write_all(format!("{}\r\n", head(&token, &bytes, 0, end)).as_bytes()).await.unwrap();
        stream.write_all(&bytes[..end]).await.unwrap();
        // At once, or after one to nine turns of this thread: wherever the server is then.
        for _ in 0..round % 10 {
            tokio::task::yield_now().await;
        }
        drop(stream);
    }
    drop(stop);
    serving.await.unwrap();
    server.app.finish().await;
    let named = usize::try_from(server.rows("photo_parts").await + server.rows("complete").await).unwrap();
    assert_eq!(files(&place.photos()), named, "an object for each row, and no other");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_nothing_names_is_swept_away_and_named() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let [whole, begun] = [jpeg(60, 40, 1), jpeg(60, 40, 2)];
    assert_eq!(put(&server, &token, &whole).await.status(), StatusCode::CREATED);
    let path = format!("/v1/photos/{}", demo::sent_photo(&begun, "").sha256);
    let part = server.call(Method::PUT, &path, &token).header("Content-Type", "image/jpeg");
    let part =
        part.header("Content-Range", format!("bytes 0-99/{}", begun.len())).body(begun[..100].to_vec());
    assert_eq!(part.send().await.unwrap().status(), StatusCode::ACCEPTED);
    let left = ["parts/1/left-behind", "whole/7/left-behind"];
    for key in left {
        server.app.photo_store.put(key, begun.clone().into()).await.unwrap();
    }
    // Objects that may still get their row are left alone.
    let none = photos::sweep(&server.app.database, &server.app.photo_store, Timestamp(0)).await.unwrap();
    assert!(none.is_empty(), "{none:?}");
    assert_eq!(files(&place.photos()), 4);
    let mut removed = photos::sweep(&server.app.database, &server.app.photo_store, LATER).await.unwrap();
    removed.sort();
    assert_eq!(removed, left);
    assert_eq!(files(&place.photos()), 2);
    let sender = senders::find_by_token(&server.app.database, &token).await.unwrap().unwrap();
    let hash = demo::sent_photo(&whole, "").sha256;
    let kept =
        photos::read(&server.app.database, &server.app.photo_store, Photo { sender, hash }).await.unwrap();
    assert_eq!(kept.unwrap(), whole);
}

/// Replaces the sides in a picture's frame header (ITU-T T.81, B.2.2: marker, length, precision, height, width).
fn claiming(mut bytes: Vec<u8>, width: u16, height: u16) -> Vec<u8> {
    let frame = bytes.windows(2).position(|marker| marker == [0xFF, 0xC0]).unwrap();
    bytes[frame + 5..frame + 7].copy_from_slice(&height.to_be_bytes());
    bytes[frame + 7..frame + 9].copy_from_slice(&width.to_be_bytes());
    bytes
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photo_is_a_picture_of_a_sensible_size() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let sound = jpeg(64, 48, 5);
    for (width, height) in [(4_097, 48), (64, 4_097), (65_535, 65_535)] {
        let told = refused(
            put(&server, &token, &claiming(sound.clone(), width, height)).await,
            ProblemKind::TooLarge,
        );
        assert!(told.await.detail.unwrap().contains(&format!("{width} x {height}")));
    }
    // Sound segments around pixels of no code: the code of ones alone is never used (ITU-T T.81, C.2).
    let scan = sound.windows(2).position(|marker| marker == [0xFF, 0xDA]).unwrap();
    let mut hollow = sound[..scan + 14].to_vec();
    hollow.extend([0xFF, 0x00].repeat(60));
    hollow.extend([0xFF, 0xD9]);
    assert_eq!(photos::check_jpeg(&hollow), Ok(()), "its segments say nothing of it");
    let told = refused(put(&server, &token, &hollow).await, ProblemKind::PhotoDamaged).await;
    assert!(told.detail.unwrap().contains("pixels cannot be read"));
    // A table of codes that is none: every code is one bit long.
    let mut tables = sound.clone();
    let table = tables.windows(2).position(|marker| marker == [0xFF, 0xC4]).unwrap();
    tables[table + 5..table + 21].fill(0xFF);
    let told = put(&server, &token, &tables).await;
    assert_eq!(problem(told).await.known(), Some(ProblemKind::PhotoDamaged));
    assert_eq!((server.rows("photos").await, files(&place.photos())), (0, 0));
    let largest = jpeg(photos::MAX_SIDE, 8, 1);
    assert_eq!(put(&server, &token, &largest).await.status(), StatusCode::CREATED);
}

/// Begins an upload and returns the first line of what the server says before it gets the body: that it reads on, or why not.
async fn begin(address: &str, token: &str, bytes: usize, seed: u8) -> (TcpStream, String) {
    let photo = [&[0xFF, 0xD8, seed][..], &vec![0; bytes - 3]].concat();
    let mut stream = TcpStream::connect(address).await.unwrap();
    let head = format!("{}Expect: 100-continue\r\n\r\n", head(token, &photo, 0, bytes));
    stream.write_all(head.as_bytes()).await.unwrap();
    let mut line = Vec::new();
    while !line.ends_with(b"\r\n") {
        line.push(stream.read_u8().await.unwrap());
    }
    (stream, String::from_utf8(line).unwrap())
}

const GOES_ON: &str = "HTTP/1.1 100 Continue\r\n";

#[tokio::test(flavor = "multi_thread")]
async fn a_sender_fills_its_own_share_alone() {
    let place = Place::new().await;
    let limits = Limits { sender_bodies_bytes: 8 << 20, bodies_bytes: 12 << 20, ..Limits::default() };
    let server = place.server_with(limits).await;
    let address = server.base.strip_prefix("http://").unwrap();
    let (one, two, three) =
        (server.sender("one").await, server.sender("two").await, server.sender("three").await);
    let mut held = Vec::new();
    for seed in 0..4 {
        let (stream, line) = begin(address, &one, 2 << 20, seed).await;
        assert_eq!(line, GOES_ON, "{seed}");
        held.push(stream);
    }
    // Its share is full, with four bodies of which not a byte has come.
    let (_, line) = begin(address, &one, 2 << 20, 9).await;
    assert!(line.starts_with("HTTP/1.1 429 "), "{line}");
    let request = server.request(0);
    refused(server.post(&one, &request).await, ProblemKind::TooMany).await;
    // Another sender's is not.
    assert_eq!(server.post(&two, &request).await.status(), StatusCode::CREATED);
    for seed in 0..2 {
        let (stream, line) = begin(address, &two, 2 << 20, seed).await;
        assert_eq!(line, GOES_ON, "{seed}");
        held.push(stream);
    }
    // All senders together hold no more than the whole.
    let (_, line) = begin(address, &three, 2 << 20, 1).await;
    assert!(line.starts_with("HTTP/1.1 503 "), "{line}");
    refused(server.post(&three, &server.request(1)).await, ProblemKind::Unavailable).await;
    // What breaks off is given back.
    drop(held);
    while server.post(&three, &server.request(1)).await.status() != StatusCode::CREATED {
        tokio::task::yield_now().await;
    }
    let (_, line) = begin(address, &one, 2 << 20, 9).await;
    assert_eq!(line, GOES_ON);
}
