//! The page without a browser: requests in, responses out.

use crate::Bench;
use http::{Method, Request, Response, StatusCode, header};
use steerwright_core::screens::{Effect, Event};
use steerwright_core::words::Language;
use steerwright_page::{Access, Page};

const HOST: &str = "127.0.0.1:8100";
const KEY: &str = "ONETIMEKEY";
const SESSION: &str = "SESSIONSECRET";

/// A browser that keeps cookies.
struct Browser {
    bench: Bench,
    page: Page,
    cookies: Vec<(String, String)>,
}

impl Browser {
    fn new(bench: Bench) -> Self {
        let page = Page::new(Language::English, bench.notation, Access::new(HOST, KEY, SESSION));
        Self { bench, page, cookies: Vec::new() }
    }

    /// One that opened the one-time address.
    fn entered(bench: Bench) -> Self {
        let mut browser = Self::new(bench);
        assert_eq!(browser.get(&format!("/enter/{KEY}")).status(), StatusCode::SEE_OTHER);
        browser
    }

    fn send(&mut self, request: &Request<Vec<u8>>) -> Response<Vec<u8>> {
        let response = self.page.respond(&mut self.bench.book, request);
        for line in response.headers().get_all(header::SET_COOKIE) {
            let (name, rest) = line.to_str().unwrap().split_once('=').unwrap();
            self.cookies.retain(|(known, _)| known != name);
            let value = rest.split(';').next().unwrap();
            if !value.is_empty() {
                self.cookies.push((name.to_owned(), value.to_owned()));
            }
        }
        response
    }

    fn request(&self, method: Method, path: &str) -> http::request::Builder {
        let cookies: Vec<String> =
            self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, HOST)
            .header(header::COOKIE, cookies.join("; "))
    }

    fn get(&mut self, path: &str) -> Response<Vec<u8>> {
        let request = self.request(Method::GET, path).body(Vec::new()).unwrap();
        self.send(&request)
    }

    fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Response<Vec<u8>> {
        let body: Vec<String> = fields
            .iter()
            .map(|(name, value)| format!("{name}={}", value.replace('&', "%26").replace(' ', "+")))
            .collect();
        let request = self.request(Method::POST, path).header(header::ORIGIN, format!("http://{HOST}"));
        let request = request.body(body.join("&").into_bytes()).unwrap();
        self.send(&request)
    }

    /// Posts a form and follows to the page it leads to.
    fn follow(&mut self, path: &str, fields: &[(&str, &str)]) -> String {
        let response = self.post(path, fields);
        assert_eq!(response.status(), StatusCode::SEE_OTHER, "{path}: {}", text(&response));
        let to = response.headers()[header::LOCATION].to_str().unwrap().to_owned();
        text(&self.get(&to))
    }
}

fn text(response: &Response<Vec<u8>>) -> String {
    String::from_utf8_lossy(response.body()).into_owned()
}

#[test]
fn nobody_gets_in_without_the_one_time_address() {
    let mut browser = Browser::new(Bench::demo());
    for path in ["/", "/bikes/new", "/style.css", "/enter/WRONG"] {
        assert_eq!(browser.get(path).status(), StatusCode::FORBIDDEN, "{path}");
    }
    assert_eq!(browser.get(&format!("/enter/{KEY}")).status(), StatusCode::SEE_OTHER);
    assert_eq!(browser.get("/").status(), StatusCode::OK);
    // The address works once: whoever reads it in a process list or a history comes too late.
    browser.cookies.clear();
    assert_eq!(browser.get(&format!("/enter/{KEY}")).status(), StatusCode::FORBIDDEN);
}

#[test]
fn other_hosts_and_other_sites_get_nothing() {
    let mut browser = Browser::entered(Bench::demo());
    let cookie = format!("steerwright_session={SESSION}");
    let ask = |method: Method, host: &str, origin: Option<&str>| {
        let mut request = Request::builder().method(method).uri("/undo").header(header::HOST, host);
        request = request.header(header::COOKIE, &cookie);
        if let Some(origin) = origin {
            request = request.header(header::ORIGIN, origin);
        }
        request.body(Vec::new()).unwrap()
    };
    let own = format!("http://{HOST}");
    for (host, origin) in [
        ("evil.example", Some(own.as_str())),
        (HOST, Some("http://evil.example")),
        (HOST, Some("null")),
        (HOST, Some("https://127.0.0.1:8100")),
        (HOST, None),
    ] {
        let response = browser.send(&ask(Method::POST, host, origin));
        assert_eq!(response.status(), StatusCode::FORBIDDEN, "{host} {origin:?}");
    }
    assert_eq!(browser.send(&ask(Method::POST, HOST, Some(&own))).status(), StatusCode::SEE_OTHER);
    // Reading from another site's script carries an origin.
    assert_eq!(
        browser.send(&ask(Method::GET, HOST, Some("http://evil.example"))).status(),
        StatusCode::FORBIDDEN
    );
}

#[test]
fn every_response_allows_nothing_from_outside() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 05");
    for path in ["/", "/style.css", "/page.js", "/nowhere", &format!("/bikes/{bike}")] {
        let response = browser.get(path);
        let policy = response.headers()[header::CONTENT_SECURITY_POLICY].to_str().unwrap();
        assert!(
            policy.starts_with("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{path}"
        );
        assert!(!policy.contains("unsafe") && !policy.contains("data:"), "{policy}");
        assert_eq!(response.headers()[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
        let body = text(&response);
        let outside =
            ["href=\"http", "src=\"http", "url(http", "//cdn"].iter().find(|it| body.contains(**it));
        assert_eq!(outside, None, "{path}");
    }
}

/// The whole way by forms alone, as a browser without a script walks it.
#[test]
fn from_an_empty_book_to_a_kit_that_is_in() {
    let mut browser = Browser::entered(Bench::empty());
    assert!(text(&browser.get("/")).contains("There is no bike yet"));
    browser.follow("/demo", &[]);
    let bike = browser.bench.id("Hire bike 03");
    let page = text(&browser.get(&format!("/bikes/{bike}")));
    assert!(page.contains("Not decided yet") && page.contains("/measure/upper_bearing_outer_diameter"));
    let form = format!("/bikes/{bike}/measure/upper_bearing_outer_diameter");
    assert!(text(&browser.get(&form)).contains("Write it down"));
    let fields = [("value", "41,8"), ("unit", "mm"), ("tool", "caliper"), ("as_read", "no")];
    let written = browser.follow(&form, &fields);
    assert!(written.contains("41.8 mm is written down."), "{written}");
    let bike = browser.bench.id("Hire bike 01");
    let kits = text(&browser.get(&format!("/bikes/{bike}/kits")));
    let sku = kits.split("/kits/").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let page = browser.follow(&format!("/bikes/{bike}/kits/{sku}/fitted"), &[]);
    assert!(page.contains("is in. Measure the head angle again"), "{page}");
    let undone = browser.follow("/undo", &[]);
    assert!(undone.contains("Undone: record that a kit was fitted (Hire bike 01)"), "{undone}");
}

/// Asking the shop: what goes along is shown, a refused form keeps what was typed, the request is taken back.
#[test]
fn a_request_is_put_in_the_outbox_and_withdrawn() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 05");
    let form = format!("/bikes/{bike}/kits/TT-4180-15/ask");
    let shown = text(&browser.get(&form));
    assert!(shown.contains("What goes along, nothing else") && shown.contains("Cutting cannot be undone"));
    let refused = browser.post(&form, &[("name", "Wren"), ("email", "no address")]);
    let page = text(&refused);
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("value=\"no address\"") && page.contains("role=\"alert\""), "{page}");
    let outbox = browser.follow(&form, &[("name", "Wren"), ("email", "wren@larch-hollow.example")]);
    assert!(outbox.contains("waits to be sent") && outbox.contains("Hire bike 05"), "{outbox}");
    let withdraw = outbox.split("/outbox/").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let outbox = browser.follow(&format!("/outbox/{withdraw}"), &[]);
    assert!(outbox.contains("is withdrawn") && !outbox.contains("/withdraw\""), "{outbox}");
}

/// A catalogue and a bike come in as files; a broken one stays in its field, with what is wrong.
#[test]
fn files_are_imported() {
    let mut browser = Browser::entered(Bench::empty());
    for form in ["/book/catalogue", "/bikes/file"] {
        let refused = browser.post(form, &[("text", "{broken")]);
        let page = text(&refused);
        assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY, "{form}");
        assert!(page.contains(">{broken</textarea>") && page.contains("role=\"alert\""), "{page}");
    }
    let book = browser.follow("/demo/catalogue", &[]);
    assert!(book.contains("Tarn &amp; Tiller Components"), "{book}");
}

/// What was typed stays in the form, beside the reason and what is expected.
#[test]
fn a_refused_form_keeps_what_was_typed() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 03");
    let form = format!("/bikes/{bike}/measure/fork_offset");
    let typed = |value| [("value", value), ("unit", "cm"), ("tool", "tape"), ("as_read", "no")];
    let response = browser.post(&form, &typed("4.4x"));
    let page = text(&response);
    assert_eq!(response.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        page.contains("value=\"4.4x\"")
            && page.contains("is not a number")
            && page.contains("role=\"alert\"")
    );
    assert!(page.contains("value=\"cm\" selected") && page.contains("value=\"tape\" checked"));
    let page =
        text(&browser.post(&form, &[("value", "4.4"), ("unit", "mm"), ("tool", "tape"), ("as_read", "no")]));
    assert!(
        page.contains("did you mean 44 mm?") && page.contains("name=\"as_read\" value=\"yes\""),
        "{page}"
    );
    let page = text(&browser.post("/bikes", &[("name", ""), ("owner", "Wren & co")]));
    assert!(page.contains("A bike needs a name") && page.contains("value=\"Wren &amp; co\""));
}

#[test]
fn a_strangers_words_are_text_and_nothing_else() {
    let mut browser = Browser::entered(Bench::empty());
    let name = "<script>alert(1)</script>\"'";
    let page = browser.follow("/bikes", &[("name", name), ("owner", "<b>x</b>")]);
    assert!(!page.contains("<script>alert") && !page.contains("<b>x"), "{page}");
    assert!(page.contains("&lt;script&gt;alert(1)"));
}

/// A wrong address, an id that is none, a bike that is gone: a page that says so.
#[test]
fn wrong_addresses_are_told() {
    let mut browser = Browser::entered(Bench::demo());
    let gone = "01a22e4e-a161-7357-a60e-5aa545bd68b2";
    let bike = browser.bench.id("Hire bike 05");
    for path in [
        "/nowhere".to_owned(),
        "/bikes/none".to_owned(),
        "/bikes/%ff".to_owned(),
        format!("/bikes/{gone}"),
        format!("/bikes/{bike}/measure/nothing"),
        format!("/bikes/{bike}/look/nothing"),
        format!("/bikes/{bike}/kits/TT-0"),
    ] {
        assert_eq!(browser.get(&path).status(), StatusCode::NOT_FOUND, "{path}");
    }
    assert_eq!(browser.post("/bikes/none/edit", &[]).status(), StatusCode::NOT_FOUND);
    // Where a refused form was sent to can be opened.
    assert_eq!(browser.get("/bikes").status(), StatusCode::OK);
    // A change that no bike stands is refused in words.
    let response = browser.get(&format!("/bikes/{bike}/steering?fork_length=1e9&tilt=-80&rear_tyre=NaN"));
    assert!(response.status().is_client_error(), "{}", response.status());
}

/// A slider asks for the result alone, and gets its parts.
#[test]
fn sliders_get_the_parts_that_change() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 05");
    let path = format!("/bikes/{bike}/steering?tilt=1");
    let request = browser.request(Method::GET, &path).header("x-part", "result").body(Vec::new()).unwrap();
    let part = text(&browser.send(&request));
    assert!(part.contains("id=\"steering-drawing\"") && part.contains("data-new-text=\"tilt\">1.0° slacker"));
    assert!(!part.contains("<html"));
}

/// What only the shell can do travels beside the response; who may listen for changes is who may read.
#[test]
fn effects_and_listening() {
    let mut browser = Browser::entered(Bench::demo());
    browser.post(
        "/book/shop",
        &[("address", "https://orders.tarn-and-tiller.example"), ("token", "larch-hollow-0123")],
    );
    let agreed = browser.post("/book/shop/agree", &[]);
    assert_eq!(agreed.extensions().get(), Some(&Effect::Deliver));
    assert_eq!(browser.get("/outbox").extensions().get::<Effect>(), None);
    let listens = browser.request(Method::GET, "/changes?since=7").body(Vec::new()).unwrap();
    assert_eq!(browser.page.watches(&listens), Some(7));
    let stranger =
        Request::builder().uri("/changes?since=7").header(header::HOST, HOST).body(Vec::new()).unwrap();
    assert_eq!(browser.page.watches(&stranger), None);
    let elsewhere = browser.request(Method::GET, "/outbox?since=7").body(Vec::new()).unwrap();
    assert_eq!(browser.page.watches(&elsewhere), None);
}

/// A page carries the version of the book that it shows; another one comes with every change.
#[test]
fn a_page_tells_the_version_it_shows() {
    let mut browser = Browser::entered(Bench::demo());
    let version = |page: &str| -> i64 {
        let (_, rest) = page.split_once("data-version=\"").unwrap();
        rest.split('"').next().unwrap().parse().unwrap()
    };
    let first = version(&text(&browser.get("/")));
    assert_eq!(version(&text(&browser.get("/outbox"))), first);
    browser.bench.done(&Event::AddBike { name: "Ada's bike".to_owned(), owner: String::new() });
    assert_ne!(version(&text(&browser.get("/"))), first);
}

/// A page without a language of its own takes the browser's, with its decimal comma; one that was told a language keeps it.
#[test]
fn the_language_is_the_browsers_unless_told() {
    let mut browser = Browser::entered(Bench::demo());
    browser.page = Page::new(None, None, Access::new(HOST, "ANOTHERKEY", SESSION));
    let id = browser.bench.id("Hire bike 05");
    let mut get = |wanted: &str| {
        let request = browser.request(Method::GET, &format!("/bikes/{id}"));
        let request = request.header(header::ACCEPT_LANGUAGE, wanted).body(Vec::new()).unwrap();
        text(&browser.send(&request))
    };
    let german = get("de-CH,de;q=0.9,en;q=0.8");
    assert!(german.contains("lang=\"de\"") && german.contains("112,0 ± 0,5 mm"), "{german}");
    assert!(german.contains("passt nach 1 Arbeit"));
    for wanted in ["en-GB,en;q=0.9,de;q=0.5", "fr", ""] {
        let english = get(wanted);
        assert!(english.contains("lang=\"en\"") && english.contains("112.0 ± 0.5 mm"), "{wanted}");
    }
    browser.page = Page::new(Language::German, None, Access::new(HOST, "ATHIRDKEY", SESSION));
    let request = browser.request(Method::GET, "/").header(header::ACCEPT_LANGUAGE, "en");
    let told = browser.send(&request.body(Vec::new()).unwrap());
    assert!(text(&told).contains("lang=\"de\""));
}

/// A form with files, as a browser without a script sends it.
fn multipart(parts: &[(&str, Option<&str>, &[u8])]) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, file, bytes) in parts {
        body.extend_from_slice(
            format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"").as_bytes(),
        );
        if let Some(file) = file {
            body.extend_from_slice(
                format!("; filename=\"{file}\"\r\nContent-Type: application/octet-stream").as_bytes(),
            );
        }
        body.extend_from_slice(b"\r\n\r\n");
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--edge--\r\n");
    body
}

impl Browser {
    fn post_files(&mut self, path: &str, body: Vec<u8>, part: bool) -> Response<Vec<u8>> {
        let mut request = self
            .request(Method::POST, path)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge");
        if part {
            request = request.header("x-part", "photo");
        }
        self.send(&request.body(body).unwrap())
    }
}

fn picture(name: &str) -> Vec<u8> {
    std::fs::read(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo").join(name)).unwrap()
}

/// Photos come in by a form alone; a refused one says why where it stood, and the others are kept.
#[test]
fn photos_are_added_without_a_script() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 03");
    let path = format!("/bikes/{bike}/photos");
    assert!(text(&browser.get(&path)).contains("enctype=\"multipart/form-data\""));
    let (one, two) = (picture("forks/fork-0300.jpg"), picture("baseline-420.jpg"));
    // The input for the camera was left empty.
    let body = multipart(&[
        ("photo", Some(""), b""),
        ("photo", Some("one.jpg"), &one),
        ("photo", Some("two.jpg"), &two),
    ]);
    let sent = browser.post_files(&path, body, false);
    assert_eq!(sent.status(), StatusCode::SEE_OTHER);
    let list = text(&browser.get(&path));
    assert!(
        list.contains("2 photos are added, upright") && list.matches("thumbnail.jpg").count() == 2,
        "{list}"
    );
    let body = multipart(&[
        ("photo", Some("notes.txt"), b"head angle 65"),
        ("photo", Some("three.png"), &picture("plain.png")),
    ]);
    let refused = browser.post_files(&path, body, false);
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let list = text(&refused);
    assert!(list.contains("role=\"alert\"") && list.contains("notes.txt: This is no photo"), "{list}");
    assert!(list.contains("The photo is added") && list.matches("thumbnail.jpg").count() == 3, "{list}");
    // By a script each is told by itself.
    let part = browser.post_files(&path, multipart(&[("photo", Some("one.jpg"), &one)]), true);
    assert_eq!(text(&part), "<p>one.jpg is here already.</p>");
    // Broken and empty forms are refused in words.
    let nothing = browser.post_files(&path, multipart(&[("photo", Some(""), b"")]), false);
    assert!(text(&nothing).contains("No photo was chosen"));
    let mut half = multipart(&[("photo", Some("one.jpg"), &one)]);
    half.truncate(half.len() / 2);
    let broken = browser.post_files(&path, half, false);
    assert_eq!(broken.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&broken).contains("did not arrive whole"));
}

/// A photo's page by forms, its files, and what is not there.
#[test]
fn a_photo_is_marked_by_forms_and_read() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 03");
    let path = format!("/bikes/{bike}/photos");
    browser.post_files(
        &path,
        multipart(&[("photo", Some("one.jpg"), &picture("forks/fork-0300.jpg"))]),
        false,
    );
    let list = text(&browser.get(&path));
    let photo = list.split("/photos/").nth(1).unwrap().split(['"', '/']).next().unwrap().to_owned();
    let page = format!("{path}/{photo}");
    for (file, kind) in [("photo.jpg", "image/jpeg"), ("thumbnail.jpg", "image/jpeg")] {
        let response = browser.get(&format!("{page}/{file}"));
        assert_eq!(response.headers()[header::CONTENT_TYPE], kind);
        assert!(response.body().starts_with(&[0xff, 0xd8]));
    }
    assert_eq!(browser.get(&format!("{page}/square-on.png")).status(), StatusCode::NOT_FOUND);
    let other = browser.bench.id("Hire bike 05");
    assert_eq!(
        browser.get(&format!("/bikes/{other}/photos/{photo}/photo.jpg")).status(),
        StatusCode::NOT_FOUND
    );
    assert_eq!(browser.get(&format!("/bikes/{other}/photos/{photo}")).status(), StatusCode::NOT_FOUND);

    assert!(text(&browser.get(&page)).contains("Are these the two wheels?"));
    let marks = format!("{page}/marks");
    assert!(browser.follow(&marks, &[("act", "take_wheels")]).contains("Tap the fork leg twice"));
    for (x, y) in [("629.2", "232.6"), ("707.5", "395.3")] {
        browser.follow(&marks, &[("act", "tap"), ("part", "fork_leg"), ("x", x), ("y", y)]);
    }
    assert_eq!(browser.post(&marks, &[("act", "nothing")]).status(), StatusCode::NOT_FOUND);
    let told = text(&browser.get(&page));
    assert!(told.contains("Write it down") && told.contains("Head angle"), "{told}");
    let written = browser.follow(&format!("{page}/reading"), &[]);
    assert!(
        written.contains("of this photo are written down") && written.contains("action=\"/undo\""),
        "{written}"
    );
    assert_eq!(browser.get(&format!("{page}/square-on.png")).headers()[header::CONTENT_TYPE], "image/png");
    let gone = browser.follow(&format!("{page}/remove"), &[]);
    assert!(gone.contains("The photo is removed"), "{gone}");
}

/// A session of the level as a file, shown and written down without a script.
#[test]
fn a_level_session_is_shown_and_written_down() {
    let mut browser = Browser::entered(Bench::demo());
    let bike = browser.bench.id("Hire bike 03");
    let path = format!("/bikes/{bike}/level");
    assert!(text(&browser.get(&path)).contains("name=\"second\""));
    let table = |name: &str| {
        std::fs::read(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("data/level").join(name)).unwrap()
    };
    let (before, after) = (table("before.csv"), table("after.csv"));
    let body = multipart(&[
        ("what", None, b"head_angle"),
        ("first", Some("before.csv"), &before),
        ("second", Some("after.csv"), &after),
        ("same_phone", None, b"yes"),
    ]);
    let shown = browser.post_files(&path, body, false);
    assert_eq!(shown.status(), StatusCode::OK);
    let page = text(&shown);
    assert!(page.contains("Second session") && page.contains("name=\"write\" value=\"second\""), "{page}");
    let body = multipart(&[("what", None, b"head_angle"), ("first", Some("before.csv"), b"none")]);
    let refused = browser.post_files(&path, body, false);
    assert!(
        refused.status() == StatusCode::UNPROCESSABLE_ENTITY && text(&refused).contains("role=\"alert\"")
    );
    let body =
        multipart(&[("what", None, b"head_angle"), ("first", None, &before), ("write", None, b"first")]);
    let written = browser.post_files(&path, body, false);
    let to = written.headers()[header::LOCATION].to_str().unwrap().to_owned();
    assert!(to.contains("wrote="), "{to}");
    assert!(text(&browser.get(&to)).contains("is written down"));
}
