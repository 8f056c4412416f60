//! What is erased and deleted, and what stays erased.

use crate::page::{Browser, hidden};
use crate::support::{Place, Server, files, jpeg, refused};
use reqwest::{Method, StatusCode};
use std::time::Duration;
use steerwright_intake::{Retention, demo, orders};
use steerwright_metrology::ids::OrderId;
use steerwright_protocol::wire::{OrderRequest, ProblemKind, ShopStatus, contact_path, order_request_path};

async fn with_photo(server: &Server, token: &str, seed: u8) -> OrderRequest {
    let photo = jpeg(60, 40, seed);
    let sent = demo::sent_photo(&photo, "Zyzzyva holds it");
    let path = format!("/v1/photos/{}", sent.sha256);
    let put = server.call(Method::PUT, &path, token).header("Content-Type", "image/jpeg").body(photo);
    assert_eq!(put.send().await.unwrap().status(), StatusCode::CREATED);
    let mut request = server.request(0);
    request.contact.name = "Zyzzyva Quillfeather".to_owned();
    request.bike.name = "The quillfeather tandem".to_owned();
    request.photos = vec![sent];
    assert_eq!(server.post(token, &request).await.status(), StatusCode::CREATED);
    request
}

async fn erase(server: &Server, token: &str, id: OrderId) {
    let erased = server.call(Method::DELETE, &contact_path(id), token).send().await.unwrap();
    assert_eq!(erased.status(), StatusCode::NO_CONTENT);
}

fn holds(place: &Place, word: &[u8]) -> bool {
    place.database_files().iter().any(|file| {
        let bytes = std::fs::read(file).unwrap().to_ascii_lowercase();
        bytes.windows(word.len()).any(|window| window == word)
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn photos_and_the_bikes_name_go_along_if_asked() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    with_photo(&server, &token, 1).await;
    let mut keeper = Browser::keeper(&server).await;
    let form = hidden(&keeper.get("/requests/1").await.1, "csrf_token");
    let erase = [("csrf_token", form.as_str()), ("sure", "yes")];
    assert_eq!(keeper.send("/requests/1/erase", &erase).await.status(), StatusCode::SEE_OTHER);
    let page = keeper.get("/requests/1").await.1;
    assert!(page.contains("The quillfeather tandem") && page.contains(".jpg\""), "they stay unless asked");
    // Asked for later, they go all the same.
    let also = [erase[0], erase[1], ("photos", "yes"), ("bike", "yes")];
    assert_eq!(keeper.send("/requests/1/erase", &also).await.status(), StatusCode::SEE_OTHER);
    let page = keeper.get("/requests/1").await.1;
    assert!(!page.contains("quillfeather") && !page.contains(".jpg\""), "{page}");
    assert_eq!((server.rows("photos").await, files(&place.photos())), (0, 0));
    assert!(!holds(&place, b"quillfeather"));
    // Nobody finds it by the name.
    assert!(!keeper.get("/?find=quillfeather").await.1.contains("href=\"/requests/1\""));
}

/// A photo that another request names stays with that request.
#[tokio::test(flavor = "multi_thread")]
async fn a_shared_photo_stays() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    with_photo(&server, &token, 1).await;
    with_photo(&server, &token, 1).await;
    let mut keeper = Browser::keeper(&server).await;
    let form = hidden(&keeper.get("/requests/1").await.1, "csrf_token");
    let unsure = [("csrf_token", form.as_str())];
    assert_eq!(keeper.send("/requests/1/delete", &unsure).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let sure = [unsure[0], ("sure", "yes")];
    assert_eq!(keeper.send("/requests/1/delete", &sure).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(keeper.get("/requests/1").await.0, StatusCode::NOT_FOUND);
    assert_eq!((server.rows("photos").await, files(&place.photos())), (1, 1));
    assert_eq!(keeper.send("/requests/2/delete", &sure).await.status(), StatusCode::SEE_OTHER);
    assert_eq!((server.rows("photos").await, files(&place.photos())), (0, 0));
    assert_eq!(server.rows("requests").await, 0);
    assert!(!holds(&place, b"quillfeather"));
}

/// An erasure that overtakes its request, and a deleted request that is sent again: neither comes back.
#[tokio::test(flavor = "multi_thread")]
async fn a_late_request_stays_erased() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let late = server.request(0);
    erase(&server, &token, late.id).await;
    for _ in 0..2 {
        refused(server.post(&token, &late).await, ProblemKind::Cancelled).await;
        place.clock.forward(86_400_000);
    }
    assert_eq!(server.rows("requests").await, 0);
    let sent = with_photo(&server, &token, 1).await;
    let mut keeper = Browser::keeper(&server).await;
    let form = hidden(&keeper.get("/requests/1").await.1, "csrf_token");
    let sure = [("csrf_token", form.as_str()), ("sure", "yes")];
    assert_eq!(keeper.send("/requests/1/delete", &sure).await.status(), StatusCode::SEE_OTHER);
    // The same answer as before, to which nothing is stored.
    assert_eq!(server.post(&token, &sent).await.status(), StatusCode::CREATED);
    assert_eq!(server.rows("requests").await, 0);
    let gone = server.call(Method::GET, &order_request_path(sent.id), &token).send().await.unwrap();
    refused(gone, ProblemKind::NotFound).await;
}

/// A request and its erasure at once: it is stored without its contact, or not at all.
#[tokio::test(flavor = "multi_thread")]
async fn an_erasure_wins_against_a_request_that_is_being_stored() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for _ in 0..15 {
        let mut request = server.request(0);
        request.contact.name = "Zyzzyva Quillfeather".to_owned();
        let (posted, ()) = tokio::join!(server.post(&token, &request), erase(&server, &token, request.id));
        if posted.status() != StatusCode::CREATED {
            refused(server.post(&token, &request).await, ProblemKind::Cancelled).await;
        }
    }
    for number in 1..=server.rows("requests").await {
        let stored = orders::load(&server.app.database, number).await.unwrap().unwrap();
        assert_eq!(stored.contact, None, "{number}");
    }
}

/// Another program that reads the file keeps erased text in SQLite's log; it is cleared when that ends.
#[tokio::test(flavor = "multi_thread")]
async fn erasing_is_tried_until_the_log_is_clean() {
    let place = Place::new().await;
    let server = place.server().await;
    if server.app.database.kind() != "sqlite" {
        return;
    }
    let token = server.sender("crew").await;
    let sent = with_photo(&server, &token, 1).await;
    let reader = rusqlite::Connection::open(place.folder.path().join("intake.sqlite")).unwrap();
    reader.execute_batch("BEGIN").unwrap();
    reader.query_row("SELECT count(*) FROM requests", [], |row| row.get::<_, i64>(0)).unwrap();
    erase(&server, &token, sent.id).await;
    assert!(holds(&place, b"zyzzyva"), "the reader still sees it");
    reader.execute_batch("COMMIT").unwrap();
    server.app.finish().await;
    assert!(!holds(&place, b"zyzzyva"));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_decided_expires_by_a_setting() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for seed in 1..=3 {
        with_photo(&server, &token, seed).await;
    }
    let answer = async |number, status| {
        let since = orders::load(&server.app.database, number).await.unwrap().unwrap().status_since;
        let message = Some("Well?");
        orders::answer(&server.app.database, number, since, status, message, "Ash", server.app.now())
            .await
            .unwrap();
    };
    answer(1, ShopStatus::Refused).await;
    answer(2, ShopStatus::Question).await;
    let day = Duration::from_secs(86_400);
    let keep = Retention { requests: Some(30 * day), photos: Some(7 * day) };
    let left = async || (server.rows("requests").await, server.rows("photos").await, files(&place.photos()));
    place.clock.forward(7 * 86_400_000);
    server.app.tidy(keep).await;
    assert_eq!(left().await, (3, 3, 3));
    // The answer is a millisecond younger than its request.
    place.clock.forward(2);
    server.app.tidy(Retention::default()).await;
    assert_eq!(left().await, (3, 3, 3), "nothing goes without a setting");
    server.app.tidy(keep).await;
    assert_eq!(left().await, (3, 2, 2), "the decided request's photo");
    let page = Browser::keeper(&server).await.get("/requests/1").await.1;
    assert!(page.contains("The quillfeather tandem") && !page.contains(".jpg\""));
    place.clock.forward(23 * 86_400_000);
    server.app.tidy(keep).await;
    assert_eq!(left().await, (2, 2, 2), "the decided request; those that wait stay");
    let noted = steerwright_intake::audit::entries(&server.app.database, 10).await.unwrap();
    let noted: Vec<_> =
        noted.iter().map(|entry| (entry.who.as_str(), entry.did.as_str(), entry.about.as_str())).collect();
    assert!(noted.contains(&("a setting", "deleted request", "1")), "{noted:?}");
    assert!(noted.contains(&("a setting", "deleted the photos of request", "1")), "{noted:?}");
}
