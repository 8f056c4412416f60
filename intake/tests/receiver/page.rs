//! The shopkeepers' page: login, CSRF protection, escaping of sender input, answers.

use crate::support::{Place, Server, jpeg};
use reqwest::header::{HeaderMap, HeaderValue};
use reqwest::{Method, RequestBuilder, Response, StatusCode};
use steerwright_intake::database::Statement;
use steerwright_intake::{Limits, add_shopkeeper, demo, orders};
use steerwright_protocol::wire::{Receipt, ShopStatus};

pub const NAME: &str = "Ash";
pub const PASSWORD: &str = "twelve larches in a row";

/// A simulated browser that keeps cookies and sends forms.
pub struct Browser<'s> {
    server: &'s Server,
    pub cookies: Vec<(String, String)>,
}

impl<'s> Browser<'s> {
    pub fn new(server: &'s Server) -> Self {
        Self { server, cookies: Vec::new() }
    }

    /// A browser that is logged in.
    pub async fn keeper(server: &'s Server) -> Self {
        let now = server.app.now();
        add_shopkeeper(&server.app.database, NAME, PASSWORD, now).await.unwrap();
        let mut browser = Self::new(server);
        let answer = browser.log_in(NAME, PASSWORD).await;
        assert_eq!(
            (answer.status(), answer.headers()["location"].to_str().unwrap()),
            (StatusCode::SEE_OTHER, "/")
        );
        browser
    }

    pub fn call(&self, method: Method, path: &str) -> RequestBuilder {
        let cookies: Vec<_> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let call = self.server.client.request(method, format!("{}{path}", self.server.base));
        if cookies.is_empty() { call } else { call.header("Cookie", cookies.join("; ")) }
    }

    fn keep(&mut self, headers: &HeaderMap<HeaderValue>) {
        for set in headers.get_all("set-cookie") {
            let set = set.to_str().unwrap();
            assert!(
                set.contains("; HttpOnly") && set.contains("; SameSite=Strict") && set.contains("; Path=/"),
                "{set}"
            );
            let (name, value) = set.split(';').next().unwrap().split_once('=').unwrap();
            self.cookies.retain(|(known, _)| known != name);
            if !set.contains("Max-Age=0") {
                self.cookies.push((name.to_owned(), value.to_owned()));
            }
        }
    }

    pub async fn get(&mut self, path: &str) -> (StatusCode, String) {
        let answer = self.call(Method::GET, path).send().await.unwrap();
        self.keep(answer.headers());
        (answer.status(), answer.text().await.unwrap())
    }

    pub async fn send(&mut self, path: &str, fields: &[(&str, &str)]) -> Response {
        let body = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let call = self.call(Method::POST, path).header("Content-Type", "application/x-www-form-urlencoded");
        let answer = call.body(body).send().await.unwrap();
        self.keep(answer.headers());
        answer
    }

    pub async fn log_in(&mut self, name: &str, password: &str) -> Response {
        let (_, page) = self.get("/login").await;
        let form = hidden(&page, "csrf_token");
        self.send("/login", &[("csrf_token", &form), ("name", name), ("password", password)]).await
    }
}

/// The value of a hidden field.
pub fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    page.split_once(&start).unwrap().1.split('"').next().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_form_needs_its_secret() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    assert_eq!(server.post(&token, &server.request(0)).await.status(), StatusCode::CREATED);
    let mut browser = Browser::keeper(&server).await;
    let page = browser.get("/requests/1").await.1;
    let (form, since) = (hidden(&page, "csrf_token"), hidden(&page, "status_since"));
    for (path, fields) in [
        ("/requests/1/answer", vec![("status", "accepted"), ("since", since.as_str())]),
        ("/requests/1/erase", vec![("sure", "yes")]),
        ("/logout", vec![]),
    ] {
        for wrong in [None, Some(""), Some("x"), Some(&form[1..])] {
            let mut fields = fields.clone();
            fields.extend(wrong.map(|wrong| ("csrf_token", wrong)));
            assert_eq!(browser.send(path, &fields).await.status(), StatusCode::FORBIDDEN, "{path}");
        }
        // Even with the token, a form from another site is rejected.
        for (name, value) in
            [("Origin", "https://elsewhere.example"), ("Origin", "null"), ("Sec-Fetch-Site", "cross-site")]
        {
            let call =
                browser.call(Method::POST, path).header("Content-Type", "application/x-www-form-urlencoded");
            let answer = call
                .header(name, value)
                .body(format!("csrf_token={form}&sure=yes&status=accepted&status_since={since}"));
            assert_eq!(answer.send().await.unwrap().status(), StatusCode::FORBIDDEN, "{path}");
        }
        let call = browser.call(Method::POST, path).header("Content-Type", "text/plain");
        let answer = call
            .body(format!("csrf_token={form}&sure=yes&status=accepted&status_since={since}"))
            .send()
            .await
            .unwrap();
        assert_eq!(answer.status(), StatusCode::UNSUPPORTED_MEDIA_TYPE);
    }
    // The login form too is rejected without its cookie.
    let mut stranger = Browser::new(&server);
    let form = hidden(&stranger.get("/login").await.1, "csrf_token");
    stranger.cookies.clear();
    let fields = [("csrf_token", form.as_str()), ("name", NAME), ("password", PASSWORD)];
    assert_eq!(stranger.send("/login", &fields).await.status(), StatusCode::FORBIDDEN);
    let empty = [("csrf_token", ""), ("name", NAME), ("password", PASSWORD)];
    assert_eq!(stranger.send("/login", &empty).await.status(), StatusCode::FORBIDDEN);
    let kept = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    assert_eq!((kept.status, kept.erased_at), (ShopStatus::Waiting, None));
}

/// Text that would be harmful if interpreted as markup.
const HARM: &str = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&amp;</textarea>";

#[tokio::test(flavor = "multi_thread")]
async fn what_senders_write_stays_text() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender(&HARM[..70]).await;
    let photo = jpeg(64, 48, 20);
    let path = format!("/v1/photos/{}", demo::sent_photo(&photo, "").sha256);
    let put =
        server.call(Method::PUT, &path, &token).header("Content-Type", "image/jpeg").body(photo.clone());
    assert_eq!(put.send().await.unwrap().status(), StatusCode::CREATED);
    let mut request = server.request(0);
    request.note = HARM.to_owned();
    request.contact.name = HARM.to_owned();
    request.contact.address = Some(HARM.to_owned());
    request.kit.name = HARM.to_owned();
    request.found.text = HARM.to_owned();
    request.found.engine = "<b>1</b>".to_owned();
    request.bike.name = HARM.to_owned();
    request.bike.owner = Some(HARM.to_owned());
    request.bike.measured[0].note = Some(HARM.to_owned());
    request.bike.measured[0].at = Some("2026-05-01T10:30:00Z".to_owned());
    request.photos = vec![demo::sent_photo(&photo, HARM)];
    let answer = server.post(&token, &request).await;
    assert_eq!(answer.status(), StatusCode::CREATED, "{}", answer.text().await.unwrap());
    let mut browser = Browser::keeper(&server).await;
    for path in ["/", "/requests/1"] {
        let (status, page) = browser.get(path).await;
        assert_eq!(status, StatusCode::OK);
        assert!(page.contains("&lt;script&gt;alert(1)"), "{path}: the words are there, as words");
        for harm in ["<script", "<img src=x", "<b>1", " onerror=alert(2)>", "style=", "javascript:"] {
            assert!(!page.contains(harm), "{path}: {harm}");
        }
    }
    // The drawings contain the bike's name too.
    let page = browser.get("/requests/1").await.1;
    let drawings: Vec<_> = page
        .split("src=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .filter(|src| src.ends_with(".svg"))
        .collect();
    assert!(!drawings.is_empty());
    for drawing in drawings {
        let answer = browser.call(Method::GET, &drawing).send().await.unwrap();
        assert_eq!(
            (answer.status(), answer.headers()["content-type"].to_str().unwrap()),
            (StatusCode::OK, "image/svg+xml")
        );
        let policy = answer.headers()["content-security-policy"].to_str().unwrap();
        assert!(policy.starts_with("default-src 'none'") && policy.contains("sandbox"));
        let svg = answer.text().await.unwrap();
        assert!(!svg.contains("<script") && !svg.contains("onerror=alert(2)>"), "{drawing}");
    }
    let photo_page = format!("/requests/1/photos/{}.jpg", request.photos[0].sha256);
    let answer = browser.call(Method::GET, &photo_page).send().await.unwrap();
    assert_eq!(answer.headers()["content-type"], "image/jpeg");
    assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
    assert_eq!(answer.bytes().await.unwrap(), photo);
    // Input of a shopkeeper, also at the login, is escaped too.
    let (form, since) = (hidden(&page, "csrf_token"), hidden(&page, "status_since"));
    let fields =
        [("csrf_token", form.as_str()), ("status_since", &since), ("status", "question"), ("message", HARM)];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::SEE_OTHER);
    assert!(!browser.get("/requests/1").await.1.contains("<script"));
    let page = Browser::new(&server).log_in(HARM, "x").await.text().await.unwrap();
    assert!(page.contains("&lt;script&gt;") && !page.contains("<script"));
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_has_the_policy() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    assert_eq!(server.post(&token, &server.request(3)).await.status(), StatusCode::CREATED);
    let browser = Browser::keeper(&server).await;
    for path in [
        "/",
        "/login",
        "/requests/1",
        "/requests/2",
        "/nothing",
        "/requests/1/packing-slip",
        "/requests/1/workshop-sheet",
        "/texts",
        "/account",
        "/style.css",
        "/print.css",
        "/icon.svg",
        "/v1/catalogue",
        "/healthz",
    ] {
        let answer = browser.call(Method::GET, path).send().await.unwrap();
        let headers = answer.headers();
        assert_eq!(
            headers["content-security-policy"],
            "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
            "{path}"
        );
        assert_eq!(headers["x-content-type-options"], "nosniff", "{path}");
        let cached = path.ends_with(".css") || path.ends_with(".svg");
        assert_eq!(headers["cache-control"] == "no-store", !cached, "{path}");
        let page = answer.text().await.unwrap();
        for never in ["<script", "<style", " style=\"", " onclick", "http://", "https://"] {
            assert!(path.ends_with(".svg") || !page.contains(never), "{path}: {never}");
        }
    }
    let https = steerwright_intake::AppState::new(
        server.app.database.clone(),
        server.app.photo_store.clone(),
        steerwright_intake::catalogue::PublishedCatalogue::demo().unwrap(),
        std::sync::Arc::clone(&server.app.clock),
        Limits::default(),
        true,
    );
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let router = steerwright_intake::router(std::sync::Arc::new(https));
    tokio::spawn(steerwright_intake::serve(listener, router, std::future::pending()));
    let answer = server.client.get(format!("{base}/login")).send().await.unwrap();
    let cookie = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.starts_with("__Host-") && cookie.ends_with("; Secure"), "{cookie}");
    assert_eq!(answer.headers()["strict-transport-security"], "max-age=31536000");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_travels_back() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = server.request(0);
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let mut browser = Browser::keeper(&server).await;
    let page = browser.get("/requests/1").await.1;
    for there in [
        "Both give the same result",
        "Judged here",
        "As it was sent",
        "Head tube length",
        "± 0.5",
        "wren@example.org",
    ] {
        assert!(page.to_lowercase().contains(&there.to_lowercase()), "{there}");
    }
    let form = hidden(&page, "csrf_token");
    let first = hidden(&page, "status_since");
    let receipt = async || -> Receipt {
        let call = server.call(Method::GET, &format!("/v1/order-requests/{}", request.id), &token);
        serde_json::from_slice(&call.send().await.unwrap().bytes().await.unwrap()).unwrap()
    };
    // A question and a refusal need a message, a status has to be chosen, and a message has at most 2000 characters.
    let long = "x".repeat(2_001);
    for (status, message) in [
        ("question", ""),
        ("refused", " \r\n "),
        ("", "x"),
        ("waiting", "x"),
        ("accepted", &long),
        ("accepted", "\u{7}"),
    ] {
        let fields = [
            ("csrf_token", form.as_str()),
            ("status_since", &first),
            ("status", status),
            ("message", message),
        ];
        assert_eq!(
            browser.send("/requests/1/answer", &fields).await.status(),
            StatusCode::UNPROCESSABLE_ENTITY
        );
    }
    assert_eq!(receipt().await.state, ShopStatus::Waiting);

    place.clock.forward(60_000);
    let fields = [
        ("csrf_token", form.as_str()),
        ("status_since", &first),
        ("status", "question"),
        ("message", "How wide is it\r\nbelow?"),
    ];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::SEE_OTHER);
    let told = receipt().await;
    assert_eq!((told.state, told.message.as_deref()), (ShopStatus::Question, Some("How wide is it\nbelow?")));
    assert_eq!(
        (told.received_at.to_string(), told.since.to_string()),
        ("2026-05-01T10:30:00Z".into(), "2026-05-01T10:31:00Z".into())
    );
    // An answer based on an older status is a conflict.
    let fields = [
        ("csrf_token", form.as_str()),
        ("status_since", &first),
        ("status", "refused"),
        ("message", "Too late"),
    ];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::CONFLICT);
    let since = hidden(&browser.get("/requests/1").await.1, "status_since");
    let fields =
        [("csrf_token", form.as_str()), ("status_since", &since), ("status", "accepted"), ("message", "")];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::SEE_OTHER);
    let told = receipt().await;
    assert_eq!((told.state, told.message), (ShopStatus::Accepted, None));
    let page = browser.get("/requests/1").await.1;
    assert!(page.contains("How wide is it\nbelow?"), "the question stays to be read");
    // The answer can be corrected, and how far the delivery is can be told, until it is collected.
    for (status, message, code) in [
        ("refused", "Sold out after all", StatusCode::SEE_OTHER),
        ("paid", "", StatusCode::UNPROCESSABLE_ENTITY),
        ("accepted", "Found one", StatusCode::SEE_OTHER),
        ("cancelled", "", StatusCode::UNPROCESSABLE_ENTITY),
        ("paid", "", StatusCode::SEE_OTHER),
        ("sent", "", StatusCode::SEE_OTHER),
        ("withdrawn", "x", StatusCode::UNPROCESSABLE_ENTITY),
        ("collected", "Thank you", StatusCode::SEE_OTHER),
    ] {
        let before = receipt().await;
        let since = hidden(&browser.get("/requests/1").await.1, "status_since");
        let fields = [
            ("csrf_token", form.as_str()),
            ("status_since", &since),
            ("status", status),
            ("message", message),
        ];
        assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), code, "{status}");
        let told = receipt().await;
        if code == StatusCode::SEE_OTHER {
            assert_eq!((told.state.name(), told.message.as_deref().unwrap_or_default()), (status, message));
        } else {
            assert_eq!(told, before);
        }
    }
    let page = browser.get("/requests/1").await.1;
    assert!(!page.contains("name=\"status_since\"") && page.contains("Collected"));
    assert!(page.contains("Sold out after all"), "what was corrected stays to be read");
    let since = receipt().await.since.0.to_string();
    let fields =
        [("csrf_token", form.as_str()), ("status_since", &since), ("status", "refused"), ("message", "No")];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::CONFLICT);
    assert_eq!((receipt().await.state, server.rows("answers").await), (ShopStatus::Collected, 7));
}

#[tokio::test(flavor = "multi_thread")]
async fn verdicts_that_differ_are_told() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    // Hire bike 03 has to be measured first; the page shows that the sender's program reported otherwise.
    let mut request = server.request(2);
    assert_eq!(request.found.verdict, steerwright_fit::judgement::Verdict::MeasureFirst);
    request.found.verdict = steerwright_fit::judgement::Verdict::GoesIn;
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let page = Browser::keeper(&server).await.get("/requests/1").await.1;
    assert!(page.contains("The verdicts differ."));
    assert!(!page.contains("Both give the same result"));
}

/// RFC 6068: what follows a `?` in a link would be headers of the mail.
#[tokio::test(flavor = "multi_thread")]
async fn a_link_to_an_address_adds_no_headers() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let mut request = server.request(0);
    request.contact.email = Some("wren?bcc=ash@example.org".to_owned());
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let page = Browser::keeper(&server).await.get("/requests/1").await.1;
    assert!(page.contains("href=\"mailto:wren%3Fbcc%3Dash@example.org\""), "{page}");
    assert!(page.contains(">wren?bcc=ash@example.org<"));
}

#[tokio::test(flavor = "multi_thread")]
async fn who_asked_can_be_erased() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let mut request = server.request(0);
    request.contact.name = "Zyzzyva Quillfeather".to_owned();
    request.contact.email = Some("zyzzyva@example.org".to_owned());
    request.note = "Ask for Zyzzyva.".to_owned();
    request.bike.owner = Some("Zyzzyva".to_owned());
    request.bike.measured[0].note = Some("Zyzzyva held the rule".to_owned());
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    let mut browser = Browser::keeper(&server).await;
    let page = browser.get("/requests/1").await.1;
    assert!(page.contains("zyzzyva@example.org"));
    let (form, since) = (hidden(&page, "csrf_token"), hidden(&page, "status_since"));
    let fields = [
        ("csrf_token", form.as_str()),
        ("status_since", &since),
        ("status", "question"),
        ("message", "Dear Zyzzyva?"),
    ];
    assert_eq!(browser.send("/requests/1/answer", &fields).await.status(), StatusCode::SEE_OTHER);
    let unsure = [("csrf_token", form.as_str())];
    assert_eq!(browser.send("/requests/1/erase", &unsure).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(browser.get("/requests/1").await.1.contains("zyzzyva@example.org"));
    let sure = [("csrf_token", form.as_str()), ("sure", "yes")];
    assert_eq!(browser.send("/requests/1/erase", &sure).await.status(), StatusCode::SEE_OTHER);
    let (status, page) = browser.get("/requests/1").await;
    assert_eq!(status, StatusCode::OK);
    assert!(
        page.contains("Erased") && page.contains("Head tube length") || page.contains("head tube length")
    );
    assert!(!page.to_lowercase().contains("zyzzyva"));
    // The erased text is in no column of any row.
    for sql in [
        "SELECT body || coalesce(contact, '') || coalesce(message, '') || bike FROM requests",
        "SELECT coalesce(message, '') || answered_by FROM answers",
        "SELECT coalesce(answer, '') FROM claims",
    ] {
        for mut row in server.app.database.run_one(Statement::new(sql, [])).await.unwrap().rows {
            assert!(!row.text().unwrap().to_lowercase().contains("zyzzyva"), "{sql}");
        }
    }
    // The erased text is in no byte of the files.
    if server.app.database.kind() == "sqlite" {
        for entry in std::fs::read_dir(place.folder.path()).unwrap().map(|entry| entry.unwrap().path()) {
            let bytes = std::fs::read(&entry).unwrap_or_default().to_ascii_lowercase();
            assert!(!bytes.windows(7).any(|window| window == b"zyzzyva"), "{}", entry.display());
        }
    }
    // The sender still gets the receipt, and the same request is still recognised.
    assert_eq!(server.post(&token, &request).await.status(), StatusCode::CREATED);
    assert_eq!(server.rows("requests").await, 1);
    let call = server.call(Method::GET, &format!("/v1/order-requests/{}", request.id), &token);
    let told: Receipt = serde_json::from_slice(&call.send().await.unwrap().bytes().await.unwrap()).unwrap();
    assert_eq!((told.state, told.message), (ShopStatus::Question, None));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_list_is_paged_and_filtered() {
    let place = Place::new().await;
    let server = place.server_with(Limits { list_page_size: 3, ..Limits::default() }).await;
    let token = server.sender("crew").await;
    for bike in 0..7 {
        assert_eq!(server.post(&token, &server.request(bike)).await.status(), StatusCode::CREATED);
    }
    let mut replacing = server.request(0);
    let first = orders::load(&server.app.database, 1).await.unwrap().unwrap();
    replacing.replaces = Some(first.request.id);
    assert_eq!(server.post(&token, &replacing).await.status(), StatusCode::CREATED);
    let now = server.app.now();
    orders::answer(&server.app.database, 2, first.status_since, ShopStatus::Refused, Some("No"), NAME, now)
        .await
        .unwrap();
    let mut browser = Browser::keeper(&server).await;
    let numbers = |page: &str| -> Vec<u32> {
        page.split("href=\"/requests/")
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
            .collect()
    };
    let mut address = "/".to_owned();
    let mut pages = Vec::new();
    loop {
        let page = browser.get(&address).await.1;
        pages.push(numbers(&page));
        let Some((_, older)) = page.split_once("rel=\"next\" href=\"") else { break };
        address = older.split('"').next().unwrap().replace("&amp;", "&");
    }
    // The one that another replaces stands apart.
    assert_eq!(pages, [vec![8, 7, 6], vec![5, 4, 3], vec![2]]);
    assert_eq!(numbers(&browser.get("/?replaced=yes").await.1), [1]);
    assert_eq!(numbers(&browser.get("/?status=refused").await.1), [2]);
    assert_eq!(numbers(&browser.get("/?status=waiting&page=1").await.1), [5, 4, 3]);
    assert_eq!(numbers(&browser.get("/?sort=oldest").await.1), [2, 3, 4]);
    assert_eq!(numbers(&browser.get("/?sort=changed").await.1)[0], 2);
    assert!(numbers(&browser.get("/?status=accepted").await.1).is_empty());
    // Replacements in both directions are shown above the order, and in the list.
    for (path, other, message) in [
        ("/requests/1", "/requests/8", "No longer wanted like this."),
        ("/requests/8", "/requests/1", "Only one of the two is wanted"),
    ] {
        let page = browser.get(path).await.1;
        let (told, asked) = (page.find(message).unwrap(), page.find("Asked for").unwrap());
        assert!(told < asked && page.contains(&format!("href=\"{other}\"")), "{path}");
    }
    let newest = browser.get("/").await.1;
    assert!(newest.contains("in place of No. 1"));
    assert!(browser.get("/?replaced=yes").await.1.contains("replaced by No. 8"));
    // The same, if the replaced request is not stored.
    let mut early = server.request(1);
    early.replaces = Some(server.request(3).id);
    assert_eq!(server.post(&token, &early).await.status(), StatusCode::CREATED);
    let page = browser.get("/requests/9").await.1;
    assert!(
        page.contains("that has not arrived here") && page.contains(&early.replaces.unwrap().to_string())
    );
    for path in
        ["/requests/10", "/requests/0", "/requests/-1", "/requests/x", "/requests/99999999999999999999"]
    {
        assert_eq!(browser.get(path).await.0, StatusCode::NOT_FOUND, "{path}");
    }
}
