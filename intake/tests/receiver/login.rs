//! Logging in and out, passwords, and who is kept out.

use crate::page::{Browser, NAME, PASSWORD, hidden};
use crate::support::{Place, refused};
use reqwest::{Method, StatusCode};
use steerwright_intake::{Limits, add_shopkeeper, orders};
use steerwright_protocol::wire::{ProblemKind, ShopStatus};

#[tokio::test(flavor = "multi_thread")]
async fn nobody_gets_in_without_a_session() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    assert_eq!(server.post(&token, &server.request(0)).await.status(), StatusCode::CREATED);
    let mut browser = Browser::new(&server);
    for path in
        ["/", "/?status=waiting", "/requests/1", "/requests/1/photos/x.jpg", "/requests/1/drawings/x.svg"]
    {
        let answer = browser.call(Method::GET, path).send().await.unwrap();
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{path}");
        assert_eq!(answer.headers()["location"], "/login");
        assert!(answer.bytes().await.unwrap().is_empty());
    }
    for path in ["/logout", "/requests/1/answer", "/requests/1/erase"] {
        let answer = browser.send(path, &[("status", "accepted"), ("since", "0"), ("sure", "yes")]).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{path}");
        assert_eq!(answer.headers()["location"], "/login");
    }
    // A sender's token opens no page, and a session gives no access to the API.
    let with_token = server.call(Method::GET, "/", &token).send().await.unwrap();
    assert_eq!(with_token.status(), StatusCode::SEE_OTHER);
    let keeper = Browser::keeper(&server).await;
    refused(keeper.call(Method::GET, "/v1/catalogue").send().await.unwrap(), ProblemKind::Token).await;
    let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    assert_eq!((kept.status, kept.erased_at), (ShopStatus::Waiting, None));
}

#[tokio::test(flavor = "multi_thread")]
async fn wrong_passwords_and_too_many_of_them() {
    let place = Place::new().await;
    let server = place.server().await;
    let now = server.app.now();
    add_shopkeeper(&server.app.database, NAME, PASSWORD, now).await.unwrap();
    assert!(add_shopkeeper(&server.app.database, "Elm", "short", now).await.is_err());
    let mut browser = Browser::new(&server);
    for (name, password) in [(NAME, "twelve larches in a roW"), ("Nobody", PASSWORD), (NAME, ""), ("", "")] {
        let answer = browser.log_in(name, password).await;
        assert_eq!(answer.status(), StatusCode::FORBIDDEN);
        let page = answer.text().await.unwrap();
        assert!(page.contains("Name or password are wrong."), "the same words whichever it is");
    }
    for _ in 0..3 {
        assert_eq!(browser.log_in(NAME, "x").await.status(), StatusCode::FORBIDDEN);
    }
    let many = browser.log_in(NAME, PASSWORD).await;
    assert_eq!(
        (many.status(), many.headers()["retry-after"].to_str().unwrap()),
        (StatusCode::TOO_MANY_REQUESTS, "30")
    );
    place.clock.forward(30_000);
    assert_eq!(browser.log_in(NAME, PASSWORD).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(browser.get("/").await.0, StatusCode::OK);
}

/// Behind a proxy, a stranger who guesses locks out neither the person of that name, nor anybody else.
#[tokio::test(flavor = "multi_thread")]
async fn a_stranger_locks_nobody_out() {
    let place = Place::new().await;
    let server = place.server().await;
    let now = server.app.now();
    for name in [NAME, "Elm"] {
        add_shopkeeper(&server.app.database, name, PASSWORD, now).await.unwrap();
    }
    let app = steerwright_intake::AppState::new(
        server.app.database.clone(),
        server.app.photo_store.clone(),
        steerwright_intake::catalogue::PublishedCatalogue::demo().unwrap(),
        std::sync::Arc::clone(&server.app.clock),
        Limits::default(),
        false,
    );
    let networks = vec![std::net::IpAddr::from([127, 0, 0, 1]).into()];
    let app = app.with_proxies(steerwright_intake::TrustedProxies { networks, ..Default::default() });
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let router = steerwright_intake::router(std::sync::Arc::new(app));
    tokio::spawn(steerwright_intake::serve(listener, router, std::future::pending()));
    let log_in = async |client: &str, name: &str, password: &str| {
        let call = |method, path: &str| {
            server.client.request(method, format!("{base}{path}")).header("X-Forwarded-For", client)
        };
        let form = call(Method::GET, "/login").send().await.unwrap();
        let cookie = form.headers()["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
        let csrf = hidden(&form.text().await.unwrap(), "csrf_token");
        let fields = [("csrf_token", csrf.as_str()), ("name", name), ("password", password)];
        let body = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let sent = call(Method::POST, "/login").header("Cookie", cookie);
        let sent =
            sent.header("Content-Type", "application/x-www-form-urlencoded").body(body).send().await.unwrap();
        let session = sent
            .headers()
            .get("set-cookie")
            .map(|set| set.to_str().unwrap().split(';').next().unwrap().to_owned());
        (sent.status(), session.unwrap_or_default())
    };
    let (stranger, shop) = ("198.51.100.9", "192.0.2.60");
    let (status, session) = log_in(stranger, "Elm", PASSWORD).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    for _ in 0..5 {
        assert_eq!(log_in(stranger, NAME, "a guess at a password").await.0, StatusCode::FORBIDDEN);
    }
    assert_eq!(log_in(stranger, NAME, PASSWORD).await.0, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(log_in(stranger, "aSH", PASSWORD).await.0, StatusCode::TOO_MANY_REQUESTS);
    // Not at another address, not another name, and no session that is open.
    assert_eq!(log_in(shop, NAME, PASSWORD).await.0, StatusCode::SEE_OTHER);
    assert_eq!(log_in(stranger, "Elm", PASSWORD).await.0, StatusCode::SEE_OTHER);
    let open =
        server.client.get(format!("{base}/")).header("X-Forwarded-For", stranger).header("Cookie", session);
    assert_eq!(open.send().await.unwrap().status(), StatusCode::OK);
    // A stranger who tries many names is slowed down at its own address.
    let mut slowed = false;
    for number in 0..80 {
        slowed |= log_in(stranger, &format!("Nobody {number}"), "").await.0 == StatusCode::TOO_MANY_REQUESTS;
    }
    assert!(slowed);
    assert_eq!(log_in(shop, "Elm", PASSWORD).await.0, StatusCode::SEE_OTHER);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_ends() {
    let place = Place::new().await;
    let server = place
        .server_with(Limits {
            login_rate: steerwright_intake::RateLimit { burst: 99, per_second: 1.0 },
            ..Limits::default()
        })
        .await;
    const HOUR: i64 = 3_600_000;
    // A session ends after the idle time.
    let mut browser = Browser::keeper(&server).await;
    place.clock.forward(HOUR);
    assert_eq!(browser.get("/").await.0, StatusCode::OK);
    place.clock.forward(2 * HOUR - 1);
    assert_eq!(browser.get("/").await.0, StatusCode::OK);
    place.clock.forward(2 * HOUR);
    assert_eq!(browser.get("/").await.0, StatusCode::SEE_OTHER);
    // A session ends at its maximum age, even if it is in use.
    assert_eq!(browser.log_in(NAME, PASSWORD).await.status(), StatusCode::SEE_OTHER);
    for _ in 0..11 {
        place.clock.forward(HOUR);
        assert_eq!(browser.get("/").await.0, StatusCode::OK);
    }
    place.clock.forward(HOUR);
    assert_eq!(browser.get("/").await.0, StatusCode::SEE_OTHER);
    // Logout ends the session: its cookie is rejected from then on.
    assert_eq!(browser.log_in(NAME, PASSWORD).await.status(), StatusCode::SEE_OTHER);
    let stolen = browser.cookies.clone();
    let form = hidden(&browser.get("/").await.1, "csrf_token");
    assert_eq!(browser.send("/logout", &[("csrf_token", &form)]).await.status(), StatusCode::SEE_OTHER);
    assert!(browser.cookies.is_empty());
    browser.cookies = stolen;
    assert_eq!(browser.get("/").await.0, StatusCode::SEE_OTHER);
    // A new password ends the session.
    let mut browser = Browser::keeper(&server).await;
    let now = server.app.now();
    add_shopkeeper(&server.app.database, NAME, "another dozen larches", now).await.unwrap();
    assert_eq!(browser.get("/").await.0, StatusCode::SEE_OTHER);
    assert_eq!(browser.log_in(NAME, PASSWORD).await.status(), StatusCode::FORBIDDEN);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_person_changes_the_own_password() {
    let place = Place::new().await;
    let server = place.server().await;
    let mut browser = Browser::keeper(&server).await;
    let mut elsewhere = Browser::new(&server);
    assert_eq!(elsewhere.log_in(NAME, PASSWORD).await.status(), StatusCode::SEE_OTHER);
    let page = browser.get("/account").await.1;
    let form = hidden(&page, "csrf_token");
    let new = "a forest of larches";
    for (present, first, again, said) in [
        ("not the password", new, new, "That is not your password now."),
        (PASSWORD, new, "a forest of larchEs", "not the same both times"),
        (PASSWORD, "short", "short", "12 to 200 characters"),
    ] {
        let fields = [("csrf_token", form.as_str()), ("present", present), ("new", first), ("again", again)];
        let answer = browser.send("/account", &fields).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
        assert!(answer.text().await.unwrap().contains(said), "{said}");
    }
    assert_eq!(elsewhere.get("/").await.0, StatusCode::OK);
    let fields = [("csrf_token", form.as_str()), ("present", PASSWORD), ("new", new), ("again", new)];
    let forged = browser.send("/account", &fields[1..]).await;
    assert_eq!(forged.status(), StatusCode::FORBIDDEN);
    assert!(
        browser.send("/account", &fields).await.text().await.unwrap().contains("Your password is changed.")
    );
    // The other browser's session ends, and this one's goes on.
    assert_eq!(browser.get("/").await.0, StatusCode::OK);
    assert_eq!(elsewhere.get("/").await.0, StatusCode::SEE_OTHER);
    assert_eq!(elsewhere.log_in(NAME, PASSWORD).await.status(), StatusCode::FORBIDDEN);
    assert_eq!(elsewhere.log_in(NAME, new).await.status(), StatusCode::SEE_OTHER);
    let noted = steerwright_intake::audit::entries(&server.app.database, 1).await.unwrap().remove(0);
    assert_eq!((noted.who.as_str(), noted.did.as_str()), (NAME, "changed the own password"));
}

/// A proxy that rewrites Host: the refusal names both, so that it can be mended.
#[tokio::test(flavor = "multi_thread")]
async fn a_form_under_another_name_is_refused_with_the_reason() {
    let place = Place::new().await;
    let server = place.server().await;
    let browser = Browser::keeper(&server).await;
    let host = server.base.strip_prefix("http://").unwrap();
    let call =
        browser.call(Method::POST, "/logout").header("Content-Type", "application/x-www-form-urlencoded");
    let answer = call.header("Origin", "https://orders.shop.example").body("").send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::FORBIDDEN);
    let page = answer.text().await.unwrap();
    for part in ["orders.shop.example", host, "forward the Host header"] {
        assert!(page.contains(part), "{part}: {page}");
    }
}
