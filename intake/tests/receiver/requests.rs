//! Order requests are stored once, however often they are sent.

use crate::support::{Place, files, jpeg, problem, refused};
use reqwest::{Method, StatusCode};
use std::collections::BTreeSet;
use steerwright_intake::{demo, orders};
use steerwright_protocol::wire::{ProblemKind, Receipt, ShopStatus};

#[tokio::test(flavor = "multi_thread")]
async fn stored_and_answered() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("The Larch Hollow demo crew").await;
    let request = server.request(0);
    let answer = server.post(&token, &request).await;
    assert_eq!(answer.status(), StatusCode::CREATED);
    assert_eq!(answer.headers()["content-type"], "application/json");
    assert_eq!(answer.headers()["location"], format!("/v1/order-requests/{}", request.id).as_str());
    let receipt: Receipt = serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap();
    assert_eq!(
        (receipt.id, receipt.state, receipt.message.as_deref()),
        (request.id, ShopStatus::Waiting, None)
    );
    assert_eq!(receipt.received_at.to_string(), "2026-05-01T10:30:00Z");

    let asked = server.call(Method::GET, &format!("/v1/order-requests/{}", request.id), &token);
    let again: Receipt = serde_json::from_slice(&asked.send().await.unwrap().bytes().await.unwrap()).unwrap();
    assert_eq!(again, receipt);

    let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    assert_eq!(kept.contact.as_ref(), Some(&request.contact));
    assert_eq!(kept.request.bike, request.bike);
    assert_eq!(kept.request.found, request.found);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_again_gets_the_same_answer() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = server.request(1);
    let first = server.post(&token, &request).await;
    assert_eq!(first.status(), StatusCode::CREATED);
    let first = first.bytes().await.unwrap();
    // Even after the shop has answered, a repeated POST returns the original response; GET returns the current receipt.
    let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    place.clock.forward(1_000);
    orders::answer(
        &server.app.database,
        1,
        kept.status_since,
        ShopStatus::Accepted,
        None,
        "Ash",
        server.app.now(),
    )
    .await
    .unwrap();
    for _ in 0..3 {
        let again = server.post(&token, &request).await;
        assert_eq!(again.status(), StatusCode::CREATED);
        assert_eq!(again.bytes().await.unwrap(), first);
    }
    assert_eq!(server.rows("requests").await, 1);

    let mut other = request.clone();
    other.note = "Something else.".to_owned();
    refused(server.post(&token, &other).await, ProblemKind::KeyReused).await;
    assert_eq!(server.rows("requests").await, 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_at_once_make_one_row() {
    let place = Place::new().await;
    let servers = [place.server().await, place.server().await];
    let token = servers[0].sender("crew").await;
    let request = servers[0].request(2);
    let body = serde_json::to_string(&request).unwrap();
    let calls: Vec<_> = (0..50)
        .map(|call| {
            let call = servers[call % 2]
                .call(Method::POST, "/v1/order-requests", &token)
                .header("Idempotency-Key", format!("\"{}\"", request.id))
                .header("Content-Type", "application/json")
                .body(body.clone());
            tokio::spawn(async move { call.send().await.unwrap() })
        })
        .collect();
    let mut answers = BTreeSet::new();
    let mut done = 0;
    for call in calls {
        let response = call.await.unwrap();
        if response.status() == StatusCode::CREATED {
            done += 1;
            answers.insert(response.text().await.unwrap());
        } else {
            assert!(response.headers().contains_key("retry-after"));
            refused(response, ProblemKind::InProgress).await;
        }
    }
    assert!(done >= 1);
    assert_eq!(answers.len(), 1, "everybody who got an answer got the same");
    assert_eq!(servers[1].rows("requests").await, 1);
    let last = servers[1].post(&token, &request).await;
    assert_eq!(last.status(), StatusCode::CREATED);
    assert!(answers.contains(&last.text().await.unwrap()));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_key_of_a_process_that_died_comes_free() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let sender =
        steerwright_intake::senders::find_by_token(&server.app.database, &token).await.unwrap().unwrap();
    let request = server.request(3);
    // A process that stopped after claiming the key.
    let limits = server.app.limits;
    let claimed = orders::claim(
        &server.app.database,
        sender,
        request.id,
        [7; 32],
        server.app.now(),
        limits.claim_timeout.as_millis() as i64,
    );
    let claimed = claimed.await.unwrap();
    let orders::ClaimOutcome::Acquired(dead) = claimed else { panic!("{claimed:?}") };
    refused(server.post(&token, &request).await, ProblemKind::KeyReused).await;
    place.clock.forward(limits.claim_timeout.as_millis() as i64 - 1);
    refused(server.post(&token, &request).await, ProblemKind::KeyReused).await;
    place.clock.forward(1);
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    // A claim that is dated in the future is expired too: the clock was wrong when it was made.
    let future = server.request(4);
    let made = steerwright_metrology::timestamp::Timestamp(server.app.now().0 + 86_400_000);
    orders::claim(&server.app.database, sender, future.id, [7; 32], made, 1).await.unwrap();
    assert_eq!(server.post(&token, &future).await.status(), StatusCode::CREATED);
    // If that process was only slow, its late operations have no effect.
    let late = orders::store(&server.app.database, &dead, request.clone(), None, server.app.now()).await;
    assert!(late.is_err());
    orders::release(&server.app.database, &dead).await.unwrap();
    assert_eq!((server.rows("requests").await, server.rows("claims").await), (2, 2));
}

#[tokio::test(flavor = "multi_thread")]
async fn who_comes_while_the_first_is_worked_on_is_told_to_wait() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let database = &server.app.database;
    let sender = steerwright_intake::senders::find_by_token(database, &token).await.unwrap().unwrap();
    let request = server.request(4);
    let body = serde_json::to_string(&request).unwrap();
    let hash = steerwright_intake::crypto::sha256(body.as_bytes());
    let now = server.app.now();
    let orders::ClaimOutcome::Acquired(first) =
        orders::claim(database, sender, request.id, hash, now, 60_000).await.unwrap()
    else {
        panic!("nobody was there before")
    };
    let told = server.post_text(&token, request.id, body.clone()).await;
    assert_eq!(told.headers()["retry-after"], "1");
    refused(told, ProblemKind::InProgress).await;
    let answer = orders::store(database, &first, request.clone(), None, now).await.unwrap();
    let told = server.post_text(&token, request.id, body).await;
    assert_eq!((told.status(), told.text().await.unwrap()), (StatusCode::CREATED, answer));
    assert_eq!(server.rows("requests").await, 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_is_needed_and_is_the_id() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = server.request(0);
    let body = serde_json::to_string(&request).unwrap();
    let id = request.id.to_string();
    let wrong = [
        vec![],
        vec![id.clone()],
        vec![format!("'{id}'")],
        vec!["\"\"".to_owned()],
        vec![format!("\"{}\"", id.to_uppercase())],
        vec![format!("\"{id}\""), format!("\"{id}\"")],
        vec![format!("\"{}\"", demo::new_order_id(request.made_at).unwrap())],
    ];
    for keys in wrong {
        let mut call = server.call(Method::POST, "/v1/order-requests", &token);
        for key in &keys {
            call = call.header("Idempotency-Key", key);
        }
        let call = call.header("Content-Type", "application/json").body(body.clone());
        refused(call.send().await.unwrap(), ProblemKind::KeyMissing).await;
    }
    assert_eq!((server.rows("requests").await, server.rows("claims").await), (0, 0));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_refused_can_be_mended_under_the_same_key() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let mut request = server.request(0);
    let photo = jpeg(64, 48, 1);
    request.photos = vec![demo::sent_photo(&photo, "The head tube from the left")];
    let told = refused(server.post(&token, &request).await, ProblemKind::PhotoMissing).await;
    assert_eq!(told.photos, [request.photos[0].sha256]);
    let path = format!("/v1/photos/{}", request.photos[0].sha256);
    let put = server.call(Method::PUT, &path, &token).header("Content-Type", "image/jpeg").body(photo);
    assert_eq!(put.send().await.unwrap().status(), StatusCode::CREATED);
    // For another sender the photo is still missing.
    let other = server.sender("others").await;
    refused(server.post(&other, &request).await, ProblemKind::PhotoMissing).await;
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    assert_eq!(files(&place.photos()), 1);

    let mut long = server.request(1);
    long.photos = request.photos.clone();
    long.photos[0].bytes += 1;
    let told = refused(server.post(&token, &long).await, ProblemKind::Invalid).await;
    assert_eq!(told.errors[0].field, "photos[0].bytes");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_sound_is_told_field_by_field() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let mut request = server.request(0);
    request.kit.quantity = 0;
    request.contact.email = Some("nowhere".to_owned());
    let told = refused(server.post(&token, &request).await, ProblemKind::Invalid).await;
    let fields: BTreeSet<_> = told.errors.iter().map(|error| error.field.as_str()).collect();
    assert_eq!(fields, BTreeSet::from(["kit.quantity", "contact.email"]));

    let mut request = server.request(0);
    request.kit.sku = "NO-SUCH-KIT".to_owned();
    refused(server.post(&token, &request).await, ProblemKind::KitUnknown).await;

    let id = request.id;
    for text in ["", "{", "[1,", "nonsense", "{\"a\":1}}"] {
        refused(server.post_text(&token, id, text.to_owned()).await, ProblemKind::NotJson).await;
    }
    for text in ["{}", "[]", "null", "{\"schema\":\"steerwright.bike/1\"}"] {
        refused(server.post_text(&token, id, text.to_owned()).await, ProblemKind::Invalid).await;
    }
    assert_eq!((server.rows("requests").await, server.rows("claims").await), (0, 0));
}

/// Characters that are not seen, or that turn the order of what is shown, do not reach the shop's page.
#[tokio::test(flavor = "multi_thread")]
async fn hidden_characters_are_refused() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for hidden in ['\u{202e}', '\u{2066}', '\u{200b}', '\u{2028}', '\u{9b}', '\u{e0041}'] {
        for field in 0..6 {
            let mut request = server.request(0);
            let text = format!("a{hidden}b");
            match field {
                0 => request.bike.name = text,
                1 => request.bike.owner = Some(text),
                2 => request.bike.measured[0].note = Some(text),
                3 => request.note = text,
                4 => request.contact.name = text,
                _ => request.contact.email = Some(format!("{text}@example.org")),
            }
            let told = refused(server.post(&token, &request).await, ProblemKind::Invalid).await;
            assert!(!format!("{told:?}").contains(hidden), "{field}: {told:?}");
            assert!(!told.errors.is_empty());
        }
    }
    assert_eq!(server.rows("requests").await, 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_receipt_is_for_its_sender_alone() {
    let place = Place::new().await;
    let server = place.server().await;
    let (token, other) = (server.sender("crew").await, server.sender("others").await);
    let request = server.request(0);
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let path = format!("/v1/order-requests/{}", request.id);
    refused(server.call(Method::GET, &path, &other).send().await.unwrap(), ProblemKind::NotFound).await;
    // The same id from another sender is a separate request.
    let theirs = server.post(&other, &request).await;
    assert_eq!(theirs.status(), StatusCode::CREATED);
    assert_eq!(server.rows("requests").await, 2);
    for wrong in ["/v1/order-requests/1", "/v1/order-requests/%FF", "/v1/order-requests/%2e%2e"] {
        let told = problem(server.call(Method::GET, wrong, &token).send().await.unwrap()).await;
        assert!(matches!(told.status, Some(400 | 404)), "{told:?}");
    }
}

/// A sender erases the contact of its request from every row, as the page does, and may repeat that.
#[tokio::test(flavor = "multi_thread")]
async fn a_sender_erases_who_asked() {
    let place = Place::new().await;
    let server = place.server().await;
    let (token, other) = (server.sender("crew").await, server.sender("other").await);
    let mut request = server.request(0);
    request.note = "Ring twice at the blue door.".into();
    request.contact.address = Some("The old sawmill".into());
    let owner = request.bike.owner.clone().unwrap();
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let since = orders::load(&server.app.database, 1).await.unwrap().unwrap().status_since;
    let (word, message, now) = (ShopStatus::Question, Some("Wren, which seat is it?"), server.app.now());
    orders::answer(&server.app.database, 1, since, word, message, "Ash", now).await.unwrap();

    let path = format!("/v1/order-requests/{}/contact", request.id);
    let erase =
        async |token: &str, path: &str| server.call(Method::DELETE, path, token).send().await.unwrap();
    // A token is required. Another sender gets the same response, and nothing changes.
    refused(erase("no-such-token", &path).await, ProblemKind::Token).await;
    assert_eq!(erase(&other, &path).await.status(), StatusCode::NO_CONTENT);
    let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    assert_eq!((kept.contact.as_ref(), kept.erased_at), (Some(&request.contact), None));
    for wrong in ["x".to_owned(), request.id.to_string().to_uppercase()] {
        let wrong = format!("/v1/order-requests/{wrong}/contact");
        refused(erase(&token, &wrong).await, ProblemKind::NotFound).await;
    }

    place.clock.forward(1_000);
    let mut erased_at = None;
    for _ in 0..3 {
        let answer = erase(&token, &path).await;
        assert_eq!(answer.status(), StatusCode::NO_CONTENT);
        assert!(answer.bytes().await.unwrap().is_empty());
        place.clock.forward(1_000);
        let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
        assert_eq!((kept.contact, kept.message, kept.request.note.as_str()), (None, None, ""));
        assert_eq!((kept.request.bike.owner, kept.status), (None, ShopStatus::Question));
        assert_eq!((&kept.request.kit, &kept.request.found), (&request.kit, &request.found));
        // The time of the first erasure is kept.
        assert_eq!(*erased_at.get_or_insert(kept.erased_at.unwrap()), kept.erased_at.unwrap());
    }
    let before = orders::answers(&server.app.database, 1).await.unwrap();
    assert!(before.iter().all(|answer| answer.message.is_none()) && !before.is_empty());
    // The sender still gets the receipt, and the response to the first POST stays the same.
    let asked = server.call(Method::GET, &format!("/v1/order-requests/{}", request.id), &token);
    let told: Receipt = serde_json::from_slice(&asked.send().await.unwrap().bytes().await.unwrap()).unwrap();
    assert_eq!((told.state, told.message), (ShopStatus::Question, None));
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    assert_eq!(server.rows("requests").await, 1);
    // On SQLite no byte of it remains in the database file and its log.
    for file in place.database_files() {
        let bytes = std::fs::read(&file).unwrap();
        for trace in
            ["The old sawmill", "Ring twice", "which seat is it", request.contact.name.as_str(), &owner]
        {
            assert!(!bytes.windows(trace.len()).any(|at| at == trace.as_bytes()), "{trace} in {file:?}");
        }
    }
    // For a request that was never stored there is nothing to erase; the response is the same.
    let never = format!("/v1/order-requests/{}/contact", server.request(5).id);
    assert_eq!(erase(&token, &never).await.status(), StatusCode::NO_CONTENT);
}
