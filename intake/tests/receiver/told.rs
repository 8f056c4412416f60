//! What senders say about their requests: messages and withdrawals; and the number and contact that receipts tell.

use super::page::{Browser, hidden};
use super::support::{Place, Server, problem, refused};
use reqwest::{Method, StatusCode};
use steerwright_intake::{demo, orders};
use steerwright_metrology::ids::{MessageId, OrderId};
use steerwright_protocol::wire::{
    Cancellation, CancellationOutcome, OrderMessage, OrderMessageSchema, ProblemKind, Receipt, ShopStatus,
    cancellation_path, message_key, messages_path, order_request_path,
};

async fn receipt(server: &Server, token: &str, id: OrderId) -> Receipt {
    let told = server.call(Method::GET, &order_request_path(id), token).send().await.unwrap();
    serde_json::from_slice(&told.bytes().await.unwrap()).unwrap()
}

async fn cancel(server: &Server, token: &str, id: OrderId) -> Cancellation {
    let told = server.call(Method::PUT, &cancellation_path(id), token).send().await.unwrap();
    assert_eq!(told.status(), StatusCode::OK);
    serde_json::from_slice(&told.bytes().await.unwrap()).unwrap()
}

async fn answer(server: &Server, number: i64, status: ShopStatus) {
    let since = orders::load(&server.app.database, number).await.unwrap().unwrap().status_since;
    let (message, now) = (Some("Well?"), server.app.now());
    orders::answer(&server.app.database, number, since, status, message, "Ash", now).await.unwrap();
}

fn message(server: &Server, request: OrderId, text: &str) -> OrderMessage {
    OrderMessage {
        schema: OrderMessageSchema::V1,
        id: MessageId(demo::new_order_id(server.app.now()).unwrap().0),
        request,
        made_at: server.app.now(),
        text: text.to_owned(),
        changed: None,
    }
}

async fn tell(server: &Server, token: &str, message: &OrderMessage) -> reqwest::Response {
    server
        .call(Method::POST, &messages_path(message.request), token)
        .header("Idempotency-Key", message_key(message.id))
        .header("Content-Type", "application/json")
        .body(serde_json::to_string(message).unwrap())
        .send()
        .await
        .unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_receipt_tells_a_number_that_can_be_said_aloud() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    for number in 1..=3 {
        let request = server.request(0);
        let told: Receipt =
            serde_json::from_slice(&server.post(&token, &request).await.bytes().await.unwrap()).unwrap();
        assert_eq!((told.number, told.state), (number, ShopStatus::Waiting));
        assert_eq!(receipt(&server, &token, request.id).await, told);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_withdrawal_is_taken_until_the_shop_accepted() {
    let place = Place::new().await;
    let server = place.server().await;
    let (token, other) = (server.sender("crew").await, server.sender("other").await);
    for (number, word, outcome, state) in [
        (1, None, CancellationOutcome::Accepted, ShopStatus::Withdrawn),
        (2, Some(ShopStatus::Question), CancellationOutcome::Accepted, ShopStatus::Withdrawn),
        (3, Some(ShopStatus::Refused), CancellationOutcome::Accepted, ShopStatus::Refused),
        (4, Some(ShopStatus::Accepted), CancellationOutcome::TooLate, ShopStatus::Accepted),
    ] {
        let request = server.request(0);
        assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
        if let Some(word) = word {
            answer(&server, number, word).await;
        }
        // Another sender's withdrawal is another request's.
        assert_eq!(cancel(&server, &other, request.id).await.outcome, CancellationOutcome::Unknown);
        let mut first = None;
        for _ in 0..3 {
            let told = cancel(&server, &token, request.id).await;
            assert_eq!(told.outcome, outcome, "{word:?}");
            assert_eq!(told.receipt.as_ref().unwrap().state, state);
            // Again, it is the same answer.
            assert_eq!(first.get_or_insert(told.clone()), &told);
            place.clock.forward(1_000);
        }
        assert_eq!(receipt(&server, &token, request.id).await.state, state);
        // The same request once more is answered as before; it is not wanted again.
        assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
        assert_eq!(receipt(&server, &token, request.id).await.state, state);
    }
    let mut keeper = Browser::keeper(&server).await;
    let (_, list) = keeper.get("/").await;
    assert_eq!(list.matches("badge withdrawn").count(), 2, "{list}");
    assert!(list.contains("sender withdraws it"), "{list}");
    let (_, page) = keeper.get("/requests/1").await;
    assert!(page.contains("No longer wanted. ") && !page.contains("Send the answer"), "{page}");
    let (_, page) = keeper.get("/requests/4").await;
    assert!(page.contains("The sender wants to withdraw it, "), "{page}");
    // An answer on a page that was open before changes nothing.
    let since = orders::load(&server.app.database, 1).await.unwrap().unwrap().status_since.0.to_string();
    let csrf = hidden(&page, "csrf_token");
    let fields =
        [("csrf_token", csrf.as_str()), ("status", "accepted"), ("message", ""), ("status_since", &since)];
    assert_eq!(keeper.send("/requests/1/answer", &fields).await.status(), StatusCode::CONFLICT);
}

/// A withdrawal that overtakes its request: the request is refused whenever it comes.
#[tokio::test(flavor = "multi_thread")]
async fn what_was_withdrawn_before_it_came_is_not_stored() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = server.request(0);
    for _ in 0..2 {
        let told = cancel(&server, &token, request.id).await;
        assert_eq!((told.outcome, told.receipt), (CancellationOutcome::Unknown, None));
        refused(server.post(&token, &request).await, ProblemKind::Cancelled).await;
        place.clock.forward(86_400_000);
    }
    assert_eq!(server.rows("requests").await, 0);
    let wrong = format!("/v1/order-requests/{}/cancellation", request.id.to_string().to_uppercase());
    refused(server.call(Method::PUT, &wrong, &token).send().await.unwrap(), ProblemKind::NotFound).await;
    refused(
        server.call(Method::PUT, &cancellation_path(request.id), "no-such-token").send().await.unwrap(),
        ProblemKind::Token,
    )
    .await;
}

/// While a request is being stored, its withdrawal comes before it or after it, and never between.
#[tokio::test(flavor = "multi_thread")]
async fn a_request_and_its_withdrawal_at_once_end_as_one_of_two() {
    let place = Place::new().await;
    let server = place.server_with(steerwright_intake::Limits {
        sender_rate: steerwright_intake::RateLimit { burst: 10_000, per_second: 1e4 },
        ..Default::default()
    });
    let server = server.await;
    let token = server.sender("crew").await;
    for _ in 0..20 {
        let request = server.request(0);
        let (posted, told) = tokio::join!(server.post(&token, &request), cancel(&server, &token, request.id));
        let state = match told.outcome {
            CancellationOutcome::Unknown => {
                let kind = problem(posted).await.known();
                assert!(matches!(kind, Some(ProblemKind::Cancelled | ProblemKind::InProgress)), "{kind:?}");
                refused(server.post(&token, &request).await, ProblemKind::Cancelled).await;
                continue;
            }
            CancellationOutcome::Accepted => ShopStatus::Withdrawn,
            CancellationOutcome::TooLate => panic!("nobody accepted it"),
        };
        assert_eq!(posted.status(), StatusCode::CREATED);
        assert_eq!(receipt(&server, &token, request.id).await.state, state);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn messages_are_stored_once_and_shown_to_the_staff() {
    let place = Place::new().await;
    let server = place.server().await;
    let (token, other) = (server.sender("crew").await, server.sender("other").await);
    let request = server.request(0);
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    answer(&server, 1, ShopStatus::Question).await;
    place.clock.forward(60_000);
    let mut changed = server.request(0);
    changed.replaces = Some(request.id);
    let told = OrderMessage {
        changed: Some(changed.id),
        ..message(&server, request.id, "The <lower> seat is\n44.0 mm wide.")
    };
    for _ in 0..3 {
        let response = tell(&server, &token, &told).await;
        assert_eq!(response.status(), StatusCode::CREATED);
        let receipt: Receipt = serde_json::from_slice(&response.bytes().await.unwrap()).unwrap();
        // The shop is to answer again.
        assert_eq!((receipt.number, receipt.state, receipt.message), (1, ShopStatus::Waiting, None));
        place.clock.forward(1_000);
    }
    let mut keeper = Browser::keeper(&server).await;
    let (_, page) = keeper.get("/requests/1").await;
    for part in
        ["The sender writes", "The &lt;lower&gt; seat is\n44.0 mm wide.", "Well?", "has not arrived yet"]
    {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert_eq!(page.matches("The sender writes").count(), 1);
    assert_eq!(server.post(&token, &changed).await.status(), StatusCode::CREATED);
    let (_, page) = keeper.get("/requests/1").await;
    assert!(page.contains("With it comes a changed request: <a href=\"/requests/2\">"), "{page}");
    let (_, list) = keeper.get("/?status=waiting&replaced=yes").await;
    assert!(list.contains("1 new message"), "{list}");
    // A question after it stays a question, however often the message is repeated.
    place.clock.forward(1_000);
    answer(&server, 1, ShopStatus::Question).await;
    place.clock.forward(1_000);
    assert_eq!(tell(&server, &token, &told).await.status(), StatusCode::CREATED);
    assert_eq!(receipt(&server, &token, request.id).await.state, ShopStatus::Question);
    let (_, list) = keeper.get("/?replaced=yes").await;
    assert!(!list.contains("new message"), "{list}");

    let another = OrderMessage { text: "Something else.".into(), ..told.clone() };
    refused(tell(&server, &token, &another).await, ProblemKind::KeyReused).await;
    refused(tell(&server, &other, &told).await, ProblemKind::NotFound).await;
    let nowhere = message(&server, server.request(1).id, "Hello?");
    refused(tell(&server, &token, &nowhere).await, ProblemKind::NotFound).await;
    for text in ["", "  ", &"x".repeat(2_001), "bell\u{7}"] {
        let told =
            refused(tell(&server, &token, &message(&server, request.id, text)).await, ProblemKind::Invalid);
        assert_eq!(told.await.errors[0].field, "text", "{text}");
    }
    let told = message(&server, request.id, "Hello?");
    let wrong = server.call(Method::POST, &messages_path(request.id), &token);
    let wrong = wrong.header("Idempotency-Key", "\"x\"").header("Content-Type", "application/json");
    let wrong = wrong.body(serde_json::to_string(&told).unwrap()).send().await.unwrap();
    refused(wrong, ProblemKind::KeyMissing).await;

    // Erasing takes the texts, and a message that comes later finds nobody.
    let erase = format!("{}/contact", order_request_path(request.id));
    let erased = server.call(Method::DELETE, &erase, &token).send().await.unwrap();
    assert_eq!(erased.status(), StatusCode::NO_CONTENT);
    refused(tell(&server, &token, &told).await, ProblemKind::NotFound).await;
    let (_, page) = keeper.get("/requests/1").await;
    assert!(page.contains("The sender writes") && !page.contains("44.0 mm wide."), "{page}");
    for file in place.database_files() {
        let bytes = std::fs::read(&file).unwrap();
        assert!(!bytes.windows(8).any(|at| at == b"44.0 mm "), "{file:?}");
    }
}
