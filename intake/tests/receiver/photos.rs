//! Photos: upload in parts, verification, and rejection of metadata.

use crate::support::{Place, Server, files, jpeg, problem, refused};
use reqwest::{Method, Response, StatusCode};
use steerwright_intake::{Limits, demo, photos};
use steerwright_photo::{self as photo, BuiltIn, Keep};
use steerwright_protocol::wire::ProblemKind;

fn path(bytes: &[u8]) -> String {
    format!("/v1/photos/{}", demo::sent_photo(bytes, "").sha256)
}

async fn whole(server: &Server, token: &str, path: &str, bytes: &[u8]) -> Response {
    let call = server.call(Method::PUT, path, token).header("Content-Type", "image/jpeg");
    call.body(bytes.to_vec()).send().await.unwrap()
}

async fn part(server: &Server, token: &str, bytes: &[u8], first: usize, end: usize) -> Response {
    server
        .call(Method::PUT, &path(bytes), token)
        .header("Content-Type", "image/jpeg")
        .header("Content-Range", format!("bytes {first}-{}/{}", end - 1, bytes.len()))
        .body(bytes[first..end].to_vec())
        .send()
        .await
        .unwrap()
}

fn offset(response: &Response) -> u64 {
    response.headers()["upload-offset"].to_str().unwrap().parse().unwrap()
}

async fn here(server: &Server, token: &str, bytes: &[u8]) -> Option<u64> {
    let head = server.call(Method::HEAD, &path(bytes), token).send().await.unwrap();
    match head.status() {
        StatusCode::OK => Some(offset(&head)),
        StatusCode::NOT_FOUND => None,
        other => panic!("{other}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn in_one_piece() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let bytes = jpeg(80, 60, 3);
    assert_eq!(here(&server, &token, &bytes).await, None);
    for _ in 0..2 {
        let answer = whole(&server, &token, &path(&bytes), &bytes).await;
        assert_eq!(answer.status(), StatusCode::CREATED);
        assert_eq!(offset(&answer), bytes.len() as u64);
    }
    assert_eq!(here(&server, &token, &bytes).await, Some(bytes.len() as u64));
    assert_eq!(
        here(&server, &server.sender("others").await, &bytes).await,
        None,
        "another's photo is no news"
    );
    assert_eq!(files(&place.photos()), 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn part_by_part_over_two_processes_and_a_restart() {
    let place = Place::new().await;
    let (one, two) = (place.server().await, place.server().await);
    let token = one.sender("crew").await;
    let bytes = jpeg(300, 200, 4);
    let (a, b) = (bytes.len() / 3, bytes.len() * 2 / 3);
    let first = part(&one, &token, &bytes, 0, a).await;
    assert_eq!((first.status(), offset(&first)), (StatusCode::ACCEPTED, a as u64));
    assert_eq!(here(&two, &token, &bytes).await, Some(a as u64));
    // A repeated part, and one that leaves a gap: the response states the current offset.
    for (from, to) in [(0, a), (b, bytes.len()), (a + 1, b)] {
        let wrong = part(&two, &token, &bytes, from, to).await;
        assert_eq!(offset(&wrong), a as u64);
        refused(wrong, ProblemKind::OffsetWrong).await;
    }
    assert_eq!(part(&two, &token, &bytes, a, b).await.status(), StatusCode::ACCEPTED);
    drop((one, two));
    let three = place.server().await;
    assert_eq!(here(&three, &token, &bytes).await, Some(b as u64));
    let last = part(&three, &token, &bytes, b, bytes.len()).await;
    assert_eq!((last.status(), offset(&last)), (StatusCode::CREATED, bytes.len() as u64));
    // Only the complete photo stays in the store.
    assert_eq!((files(&place.photos()), three.rows("photo_parts").await), (1, 0));
    let sent = demo::sent_photo(&bytes, "");
    let sender =
        steerwright_intake::senders::find_by_token(&three.app.database, &token).await.unwrap().unwrap();
    let kept = photos::read(
        &three.app.database,
        &three.app.photo_store,
        photos::Photo { sender, hash: sent.sha256 },
    );
    assert_eq!(kept.await.unwrap().unwrap(), bytes);
}

#[tokio::test(flavor = "multi_thread")]
async fn of_parts_that_race_one_is_taken() {
    let place = Place::new().await;
    let servers = [place.server().await, place.server().await];
    let token = servers[0].sender("crew").await;
    let bytes = jpeg(200, 150, 5);
    let middle = bytes.len() / 2;
    for (from, to, won) in [(0, middle, StatusCode::ACCEPTED), (middle, bytes.len(), StatusCode::CREATED)] {
        let calls: Vec<_> = (0..12).map(|at| part(&servers[at % 2], &token, &bytes, from, to)).collect();
        let mut taken = 0;
        for answer in futures(calls).await {
            if answer.status() == won {
                taken += 1;
            } else {
                assert_eq!(answer.status(), StatusCode::RANGE_NOT_SATISFIABLE);
                assert_eq!(offset(&answer), to as u64);
            }
        }
        // The photo may already be complete; the last part is then accepted as well.
        assert!(if to == middle { taken == 1 } else { taken >= 1 }, "{taken}");
    }
    assert_eq!(here(&servers[0], &token, &bytes).await, Some(bytes.len() as u64));
    assert_eq!((files(&place.photos()), servers[0].rows("photo_parts").await), (1, 0));
}

/// Runs futures concurrently.
async fn futures<T>(calls: Vec<impl Future<Output = T>>) -> Vec<T> {
    let mut calls: Vec<_> = calls.into_iter().map(Box::pin).collect();
    let mut done: Vec<Option<T>> = calls.iter().map(|_| None).collect();
    std::future::poll_fn(|context| {
        for (call, done) in calls.iter_mut().zip(&mut done) {
            if done.is_none()
                && let std::task::Poll::Ready(value) = call.as_mut().poll(context)
            {
                *done = Some(value);
            }
        }
        if done.iter().all(Option::is_some) { std::task::Poll::Ready(()) } else { std::task::Poll::Pending }
    })
    .await;
    done.into_iter().flatten().collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn bytes_of_another_name_are_thrown_away() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let (bytes, other) = (jpeg(80, 60, 6), jpeg(80, 60, 7));
    refused(whole(&server, &token, &path(&other), &bytes).await, ProblemKind::PhotoDamaged).await;
    // One flipped bit in the first part is detected at the end, and the upload can start over.
    let mut flipped = bytes.clone();
    flipped[40] ^= 1;
    let middle = bytes.len() / 2;
    for (range, body, status) in [
        (format!("bytes 0-{}/{}", middle - 1, bytes.len()), &flipped[..middle], StatusCode::ACCEPTED),
        (
            format!("bytes {middle}-{}/{}", bytes.len() - 1, bytes.len()),
            &bytes[middle..],
            StatusCode::UNPROCESSABLE_ENTITY,
        ),
    ] {
        let call = server.call(Method::PUT, &path(&bytes), &token).header("Content-Type", "image/jpeg");
        let answer = call.header("Content-Range", range).body(body.to_vec()).send().await.unwrap();
        assert_eq!(answer.status(), status);
    }
    assert_eq!(here(&server, &token, &bytes).await, None);
    assert_eq!((files(&place.photos()), server.rows("photos").await), (0, 0));
    assert_eq!(whole(&server, &token, &path(&bytes), &bytes).await.status(), StatusCode::CREATED);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_length_of_the_whole_starts_over() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let bytes = jpeg(80, 60, 8);
    let call = server.call(Method::PUT, &path(&bytes), &token).header("Content-Type", "image/jpeg");
    let call = call.header("Content-Range", "bytes 0-9/999999").body(bytes[..10].to_vec());
    assert_eq!(call.send().await.unwrap().status(), StatusCode::ACCEPTED);
    let wrong = part(&server, &token, &bytes, 10, bytes.len()).await;
    assert_eq!(offset(&wrong), 0);
    refused(wrong, ProblemKind::OffsetWrong).await;
    assert_eq!(part(&server, &token, &bytes, 0, bytes.len()).await.status(), StatusCode::CREATED);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_no_request_names_is_tidied_away() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let [named, loose, begun, late] = [21, 22, 23, 24].map(|seed| jpeg(60, 40, seed));
    for bytes in [&named, &loose] {
        assert_eq!(whole(&server, &token, &path(bytes), bytes).await.status(), StatusCode::CREATED);
    }
    for end in [10, 20] {
        assert_eq!(part(&server, &token, &begun, end - 10, end).await.status(), StatusCode::ACCEPTED);
    }
    let mut request = server.request(0);
    request.photos = vec![demo::sent_photo(&named, "")];
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    place.clock.forward(1_000);
    let now = server.app.now();
    assert_eq!(part(&server, &token, &late, 0, 10).await.status(), StatusCode::ACCEPTED);
    assert_eq!(files(&place.photos()), 5);
    assert_eq!(
        photos::delete_unreferenced(&server.app.database, &server.app.photo_store, now).await.unwrap(),
        2
    );
    assert_eq!(files(&place.photos()), 2);
    assert_eq!(here(&server, &token, &named).await, Some(named.len() as u64));
    assert_eq!(here(&server, &token, &loose).await, None);
    assert_eq!(here(&server, &token, &begun).await, None);
    assert_eq!(here(&server, &token, &late).await, Some(10));
    let mut other = server.request(1);
    other.photos = vec![demo::sent_photo(&loose, "")];
    refused(server.post(&token, &other).await, ProblemKind::PhotoMissing).await;
    assert_eq!(whole(&server, &token, &path(&loose), &loose).await.status(), StatusCode::CREATED);
    assert_eq!(server.post(&token, &other).await.status(), StatusCode::CREATED);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_sender_cannot_fill_the_shelf_without_requests() {
    let place = Place::new().await;
    let [first, second] = [31, 32].map(|seed| jpeg(60, 40, seed));
    let limits =
        Limits { unreferenced_photo_bytes: (first.len() + second.len() - 1) as u64, ..Limits::default() };
    let server = place.server_with(limits).await;
    let token = server.sender("crew").await;
    assert_eq!(whole(&server, &token, &path(&first), &first).await.status(), StatusCode::CREATED);
    let answer = part(&server, &token, &second, 0, 10).await;
    assert!(answer.headers().contains_key("retry-after"));
    refused(answer, ProblemKind::TooMany).await;
    let other = server.sender("others").await;
    assert_eq!(whole(&server, &other, &path(&second), &second).await.status(), StatusCode::CREATED);
    let mut request = server.request(0);
    request.photos = vec![demo::sent_photo(&first, "")];
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    assert_eq!(part(&server, &token, &second, 0, 10).await.status(), StatusCode::ACCEPTED);
}

/// Inserts a segment after the start marker of an image.
fn with_segment(bytes: &[u8], marker: u8, body: &[u8]) -> Vec<u8> {
    let length = u16::try_from(body.len() + 2).unwrap().to_be_bytes();
    [&bytes[..2], &[0xFF, marker], &length, body, &bytes[2..]].concat()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photo_that_tells_more_than_pixels_is_refused() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let bytes = jpeg(80, 60, 9);
    // An Exif block with a GPS directory: latitude reference "N" (DC-008, 4.6.6). Offsets are from the TIFF header.
    let place_block = [
        &b"Exif\0\0MM\0\x2A\0\0\0\x08"[..],
        &[0, 1, 0x88, 0x25, 0, 4, 0, 0, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0],
        &[0, 1, 0, 1, 0, 2, 0, 0, 0, 2, b'N', 0, 0, 0, 0, 0, 0, 0],
    ]
    .concat();
    // The same with a manufacturer's name instead (0x010F).
    let maker_block = [
        &b"Exif\0\0MM\0\x2A\0\0\0\x08"[..],
        &[0, 1, 0x01, 0x0F, 0, 2, 0, 0, 0, 2, b'X', 0, 0, 0, 0, 0, 0, 0],
    ]
    .concat();
    let hidden = [&b"Exif\0\0MM\0\x2A\0\0\0\x08\0\0\0\0\0\0"[..], &[b'?'; 400]].concat();
    let behind = [&bytes[..], b"more"].concat();
    let mut second = bytes.clone();
    second.extend_from_slice(&bytes);
    for (told, tells) in [
        ("place", with_segment(&bytes, 0xE1, &place_block)),
        ("facts of the camera", with_segment(&bytes, 0xE1, &maker_block)),
        ("hidden", with_segment(&bytes, 0xE1, &hidden)),
        ("Exif", with_segment(&bytes, 0xE1, b"Exif\0\0nonsense")),
        ("XMP", with_segment(&bytes, 0xE1, b"http://ns.adobe.com/xap/1.0/\0<x/>")),
        ("IPTC", with_segment(&bytes, 0xED, b"Photoshop 3.0\0")),
        ("comment", with_segment(&bytes, 0xFE, b"taken at home")),
        ("colour profile", with_segment(&bytes, 0xE2, b"ICC_PROFILE\0\x01\x01")),
        ("no picture needs", with_segment(&bytes, 0xF7, b"anything")),
        ("no picture needs", with_segment(&bytes, 0x42, b"anything")),
        ("program", with_segment(&bytes, 0xEB, b"anything")),
        ("second picture", with_segment(&bytes, 0xE0, b"JFIF\0\x01\x02\0\0\x01\0\x01\x01\x01abc")),
        ("behind its end", behind),
        ("behind its end", second),
    ] {
        let answer = whole(&server, &token, &path(&tells), &tells).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{told}");
        let problem = problem(answer).await;
        assert_eq!(problem.known(), Some(ProblemKind::PhotoTells), "{told}");
        assert!(problem.detail.as_ref().unwrap().contains(told), "{told}: {problem:?}");
    }
    assert_eq!((files(&place.photos()), server.rows("photos").await), (0, 0));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_senders_make_is_taken() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/data/photo");
    let mut taken = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap_or_default();
        for keep in [Keep::Nothing, Keep::FocalLength] {
            let limits = photo::Limits::default();
            let Ok(copy) = photo::for_sending(&bytes, &limits, &BuiltIn, keep) else { continue };
            let answer = whole(&server, &token, &path(&copy), &copy).await;
            assert_eq!(answer.status(), StatusCode::CREATED);
            taken += 1;
        }
    }
    assert!(taken >= 10, "{taken}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_photo_is_refused() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let bytes = jpeg(80, 60, 10);
    for wrong in [
        b"\x89PNG\r\n\x1a\n".to_vec(),
        b"<script>alert(1)</script>".to_vec(),
        vec![0xFF],
        vec![0xFF, 0xD8],
        vec![0xFF, 0xD8, 0xFF, 0xD9],
        bytes[..bytes.len() - 2].to_vec(),
        bytes[..100].to_vec(),
    ] {
        refused(whole(&server, &token, &path(&wrong), &wrong).await, ProblemKind::PhotoDamaged).await;
    }
    for (kind, status) in [(Some("image/png"), 415), (None, 415), (Some("image/jpeg; q=1"), 201)] {
        let mut call = server.call(Method::PUT, &path(&bytes), &token);
        if let Some(kind) = kind {
            call = call.header("Content-Type", kind);
        }
        assert_eq!(call.body(bytes.clone()).send().await.unwrap().status(), status, "{kind:?}");
    }
    for name in ["", "0", "..%2F..%2Fetc", &"A".repeat(64), &"0".repeat(65)] {
        let answer = whole(&server, &token, &format!("/v1/photos/{name}"), &bytes).await;
        refused(answer, ProblemKind::NotFound).await;
    }
    let other = jpeg(80, 60, 11);
    for range in ["bytes 0-9/*", "bytes 5-4/100", "0-9/10", ""] {
        let call = server.call(Method::PUT, &path(&other), &token).header("Content-Type", "image/jpeg");
        let answer = call.header("Content-Range", range).body(other[..10].to_vec()).send().await.unwrap();
        assert_eq!(problem(answer).await.status, Some(400), "{range}");
    }
    let call = server.call(Method::PUT, &path(&other), &token).header("Content-Type", "image/jpeg");
    let call = call.header("Content-Range", "bytes 0-99/1000").body(other[..10].to_vec());
    let told = refused(call.send().await.unwrap(), ProblemKind::Invalid).await;
    assert_eq!(told.errors[0].field, "Content-Range");
    let empty = whole(&server, &token, &path(b""), b"").await;
    refused(empty, ProblemKind::Invalid).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn limits_of_size() {
    let place = Place::new().await;
    let limits = Limits { photo_bytes: 5_000, part_bytes: 2_000, ..Limits::default() };
    let server = place.server_with(limits).await;
    let token = server.sender("crew").await;
    let bytes = jpeg(80, 60, 12);
    assert!((2_001..5_000).contains(&bytes.len()), "{}", bytes.len());
    refused(whole(&server, &token, &path(&bytes), &bytes).await, ProblemKind::TooLarge).await;
    assert_eq!(part(&server, &token, &bytes, 0, 2_000).await.status(), StatusCode::ACCEPTED);
    assert_eq!(part(&server, &token, &bytes, 2_000, bytes.len()).await.status(), StatusCode::CREATED);
    let large = jpeg(400, 300, 13);
    assert!(large.len() > 5_000);
    refused(part(&server, &token, &large, 0, 1_000).await, ProblemKind::TooLarge).await;
}
