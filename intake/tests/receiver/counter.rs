//! The page for the person at the counter: finding a request, answering it, noting, printing, exporting.

use crate::page::{Browser, hidden};
use crate::support::{Place, Server, jpeg};
use reqwest::{Method, StatusCode};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::{AppState, Limits, add_shopkeeper, backup, demo, orders, shopkeepers};
use steerwright_protocol::wire::{OrderRequest, Receipt, ShopStatus, order_request_path};

fn numbers(page: &str) -> Vec<u32> {
    let links = page.split("href=\"/requests/").skip(1);
    links.filter_map(|rest| rest.split('"').next().unwrap().parse().ok()).collect()
}

async fn send(server: &Server, token: &str, change: impl FnOnce(&mut OrderRequest)) -> OrderRequest {
    let mut request = server.request(0);
    change(&mut request);
    let answer = server.post(token, &request).await;
    assert_eq!(answer.status(), StatusCode::CREATED, "{}", answer.text().await.unwrap());
    request
}

async fn answer(browser: &mut Browser<'_>, number: u32, fields: &[(&str, &str)]) -> StatusCode {
    let page = browser.get(&format!("/requests/{number}")).await.1;
    let (form, since) = (hidden(&page, "csrf_token"), hidden(&page, "status_since"));
    let fields = [&[("csrf_token", form.as_str()), ("status_since", &since)][..], fields].concat();
    browser.send(&format!("/requests/{number}/answer"), &fields).await.status()
}

async fn receipt(server: &Server, token: &str, request: &OrderRequest) -> Receipt {
    let told = server.call(Method::GET, &order_request_path(request.id), token).send().await.unwrap();
    serde_json::from_slice(&told.bytes().await.unwrap()).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_request_is_found_by_what_a_customer_says() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |request| {
        request.contact.name = "Zyzzyva Quillfeather".to_owned();
        request.contact.phone = Some("+41 (79) 555-01 43".to_owned());
    })
    .await;
    send(&server, &token, |request| {
        request.bike.name = "Ünter 50%_blue".to_owned();
        request.bike.owner = Some("Wren Alderfoot".to_owned());
        request.contact.phone = None;
    })
    .await;
    let third = server.request(3);
    assert_eq!(server.post(&token, &third).await.status(), StatusCode::CREATED);
    let mut browser = Browser::keeper(&server).await;
    for (find, found) in [
        ("zyzz", vec![1]),
        ("QUILLfeather", vec![1]),
        ("4179555", vec![1]),
        ("555-01", vec![1]),
        ("ünter", vec![2]),
        ("50%25_b", vec![2]),
        ("50_", vec![]),
        ("alderfoot", vec![2]),
        ("3", vec![3, 1]),
        ("No. 2", vec![2]),
        ("%23 2", vec![2]),
        ("nobody", vec![]),
        ("", vec![3, 2, 1]),
    ] {
        let page = browser.get(&format!("/?find={}", find.replace(' ', "+"))).await.1;
        let mut expected = found;
        // A digit may be in a telephone number or a code as well; the request of that number is among those found.
        if find == "3" {
            assert!(numbers(&page).contains(&3));
            expected = numbers(&page);
        }
        assert_eq!(numbers(&page), expected, "{find}");
    }
    let by_kit = browser.get(&format!("/?find={}", third.kit.sku.to_lowercase())).await.1;
    assert!(numbers(&by_kit).contains(&3));
    // The list names who asks, and filters stay with a search.
    let page = browser.get("/?find=zyzz&status=waiting").await.1;
    assert!(page.contains("Zyzzyva Quillfeather") && page.contains("status=waiting"), "{page}");
    assert!(browser.get("/?find=nobody").await.1.contains("Nothing fits this search."));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_new_is_new_to_each_person() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = send(&server, &token, |_| {}).await;
    let mut ash = Browser::keeper(&server).await;
    add_shopkeeper(&server.app.database, "Elm", "twelve larches in a row", server.app.now()).await.unwrap();
    let mut elm = Browser::new(&server);
    assert_eq!(elm.log_in("Elm", "twelve larches in a row").await.status(), StatusCode::SEE_OTHER);
    let new = async |browser: &mut Browser<'_>| numbers(&browser.get("/?new=yes").await.1);
    assert_eq!((new(&mut ash).await, new(&mut elm).await), (vec![1], vec![1]));
    ash.get("/requests/1").await;
    assert_eq!((new(&mut ash).await, new(&mut elm).await), (vec![], vec![1]));
    // The sender withdraws it: that is new again.
    place.clock.forward(1_000);
    let path = steerwright_protocol::wire::cancellation_path(request.id);
    assert_eq!(server.call(Method::PUT, &path, &token).send().await.unwrap().status(), StatusCode::OK);
    assert_eq!(new(&mut ash).await, [1]);
    place.clock.forward(1_000);
    ash.get("/requests/1").await;
    assert!(new(&mut ash).await.is_empty());
}

/// Times are those of the shop's own clock: summer time in Zurich is two hours before UTC (IANA time zone database).
#[tokio::test(flavor = "multi_thread")]
async fn times_are_local() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |_| {}).await;
    assert!(Browser::keeper(&server).await.get("/").await.1.contains("2026-05-01 10:30 UTC"));
    let app = AppState::new(
        server.app.database.clone(),
        server.app.photo_store.clone(),
        PublishedCatalogue::demo().unwrap(),
        std::sync::Arc::clone(&server.app.clock),
        Limits::default(),
        false,
    );
    let zurich = place.serve(app.with_time_zone(jiff::tz::TimeZone::get("Europe/Zurich").unwrap())).await;
    let mut browser = Browser::keeper(&zurich).await;
    for path in ["/", "/requests/1"] {
        let page = browser.get(path).await.1;
        assert!(page.contains("2026-05-01 12:30 CEST"), "{path}");
        assert!(page.contains("datetime=\"2026-05-01T10:30:00Z\""), "{path}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_tells_price_time_and_parcel() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = send(&server, &token, |_| {}).await;
    let mut browser = Browser::keeper(&server).await;
    let fields = [
        ("status", "accepted"),
        ("price", "109.00 EUR"),
        ("when", "from 12 May"),
        ("delivery", "by post, 7.00 EUR"),
        ("message", "Thank you.\r\nAsh"),
    ];
    assert_eq!(answer(&mut browser, 1, &fields).await, StatusCode::SEE_OTHER);
    let told = receipt(&server, &token, &request).await;
    assert_eq!(told.state, ShopStatus::Accepted);
    assert_eq!(
        told.message.as_deref(),
        Some("Price: 109.00 EUR\nAvailable: from 12 May\nDelivery: by post, 7.00 EUR\n\nThank you.\nAsh")
    );
    assert_eq!(
        answer(&mut browser, 1, &[("status", "sent"), ("parcel", "TT 0042")]).await,
        StatusCode::SEE_OTHER
    );
    let told = receipt(&server, &token, &request).await;
    assert_eq!((told.state, told.message.as_deref()), (ShopStatus::Sent, Some("Parcel number: TT 0042")));
    let long = "x".repeat(121);
    for line in [long.as_str(), "two\nlines"] {
        let refused = answer(&mut browser, 1, &[("status", "sent"), ("parcel", line)]).await;
        assert_eq!(refused, StatusCode::UNPROCESSABLE_ENTITY);
    }
    // The lines count, too.
    let whole = "x".repeat(1_995);
    let refused = answer(&mut browser, 1, &[("status", "sent"), ("parcel", "TT"), ("message", &whole)]).await;
    assert_eq!(refused, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test(flavor = "multi_thread")]
async fn texts_of_the_shop_fill_the_answer() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |_| {}).await;
    let mut browser = Browser::keeper(&server).await;
    let form = hidden(&browser.get("/texts").await.1, "csrf_token");
    let write = |name: &'static str, text: &'static str| {
        [("csrf_token", form.clone()), ("name", name.into()), ("text", text.into())]
    };
    async fn post(browser: &mut Browser<'_>, fields: &[(&'static str, String)]) -> StatusCode {
        let fields: Vec<_> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        browser.send("/texts", &fields).await.status()
    }
    assert_eq!(
        post(&mut browser, &write("Sold & out", "Sold <out>\nuntil June.")).await,
        StatusCode::SEE_OTHER
    );
    for (name, text) in [("", "x"), ("two\nlines", "x"), ("bell", "\u{7}")] {
        assert_eq!(
            post(&mut browser, &write(name, text)).await,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{name:?}"
        );
    }
    assert_eq!(post(&mut browser, &write("x", "y")[1..]).await, StatusCode::FORBIDDEN);
    let page = browser.get("/requests/1").await.1;
    assert!(page.contains("href=\"/requests/1?text=Sold+%26+out#answer\""), "{page}");
    let page = browser.get("/requests/1?text=Sold+%26+out").await.1;
    assert!(page.contains("maxlength=\"2000\">Sold &lt;out&gt;\nuntil June.</textarea>"), "{page}");
    // Written again it is replaced, and an empty one is removed.
    assert_eq!(post(&mut browser, &write("Sold & out", "Later.")).await, StatusCode::SEE_OTHER);
    assert!(browser.get("/requests/1?text=Sold+%26+out").await.1.contains(">Later.</textarea>"));
    assert_eq!(post(&mut browser, &write("Sold & out", " ")).await, StatusCode::SEE_OTHER);
    assert!(!browser.get("/texts").await.1.contains("Sold &amp; out"));
}

#[tokio::test(flavor = "multi_thread")]
async fn who_has_it_in_hand_and_what_was_done() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let request = send(&server, &token, |_| {}).await;
    send(&server, &token, |_| {}).await;
    let mut browser = Browser::keeper(&server).await;
    let form = hidden(&browser.get("/requests/1").await.1, "csrf_token");
    let csrf = ("csrf_token", form.as_str());
    assert_eq!(
        browser.send("/requests/1/hand", &[csrf, ("take", "yes")]).await.status(),
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        browser.send("/requests/9/hand", &[csrf, ("take", "yes")]).await.status(),
        StatusCode::NOT_FOUND
    );
    assert_eq!(numbers(&browser.get("/?mine=yes").await.1), [1]);
    assert!(browser.get("/").await.1.contains("in hand: Ash"));
    place.clock.forward(60_000);
    let note = [csrf, ("note", "Ask Elm <first>.\r\nShe knows.")];
    assert_eq!(browser.send("/requests/1/note", &note).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(
        browser.send("/requests/1/note", &[csrf, ("note", " ")]).await.status(),
        StatusCode::UNPROCESSABLE_ENTITY
    );
    assert_eq!(browser.send("/requests/9/note", &note).await.status(), StatusCode::CONFLICT);
    place.clock.forward(60_000);
    assert_eq!(answer(&mut browser, 1, &[("status", "accepted")]).await, StatusCode::SEE_OTHER);
    // Everything by whom and when, the last first.
    let page = browser.get("/requests/1").await.1;
    let history = page.split_once("class=\"history\"").unwrap().1.split_once("</ol>").unwrap().0;
    let mut rest = history;
    for part in [
        "Accepted",
        "by Ash",
        "10:32",
        "by Ash",
        "10:31",
        "Ask Elm &lt;first&gt;.\nShe knows.",
        "Ash took in hand",
        "10:30",
        "It came from crew",
    ] {
        rest = rest.split_once(part).unwrap_or_else(|| panic!("{part} in {history}")).1;
    }
    // A note is for the shop alone.
    let told = server.call(Method::GET, &order_request_path(request.id), &token).send().await.unwrap();
    assert!(!told.text().await.unwrap().contains("Elm"));
    assert_eq!(
        browser.send("/requests/1/hand", &[csrf, ("take", "no")]).await.status(),
        StatusCode::SEE_OTHER
    );
    assert!(numbers(&browser.get("/?mine=yes").await.1).is_empty());
    for path in ["/requests/1/hand", "/requests/1/note"] {
        assert_eq!(
            browser.send(path, &[("note", "x"), ("take", "yes")]).await.status(),
            StatusCode::FORBIDDEN
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_printed_has_nothing_to_press() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |request| request.note = "z".repeat(2_000)).await;
    let mut browser = Browser::keeper(&server).await;
    for (sheet, parts) in [
        ("packing-slip", &["No. <b>1</b>", "Larch Hollow", "TT-4180-05", "2026-05-01"][..]),
        (
            "workshop-sheet",
            &[
                "No. <b>1</b>",
                "TT-4180-05",
                "Fits",
                "head tube length",
                "112.0 ± 0.5 mm",
                "torque to the stem",
            ],
        ),
    ] {
        let (status, page) = browser.get(&format!("/requests/1/{sheet}")).await;
        assert_eq!(status, StatusCode::OK);
        for part in parts {
            assert!(page.to_lowercase().contains(&part.to_lowercase()), "{sheet}: {part}: {page}");
        }
        for never in ["<button", "<a ", "<form", "<input"] {
            assert!(!page.contains(never), "{sheet}: {never}");
        }
        assert!(!page.contains(&"z".repeat(601)), "a long text would take a second page");
        assert_eq!(browser.get(&format!("/requests/9/{sheet}")).await.0, StatusCode::NOT_FOUND);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_list_as_a_table() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |request| {
        request.contact.name = "=HYPERLINK(\"x\")".to_owned();
        request.contact.address = Some("The shed, \"left\"\nLarch Hollow".to_owned());
    })
    .await;
    send(&server, &token, |request| request.bike.name = "Blue, second".to_owned()).await;
    let mut browser = Browser::keeper(&server).await;
    let answer = browser.call(Method::GET, "/requests.csv").send().await.unwrap();
    assert_eq!(answer.headers()["content-type"], "text/csv; charset=utf-8");
    let text = answer.text().await.unwrap();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let columns = table.headers().unwrap().clone();
    let rows: Vec<_> = table.records().map(Result::unwrap).collect();
    let cell = |row: usize, name: &str| {
        rows[row][columns.iter().position(|column| column == name).unwrap()].to_owned()
    };
    assert_eq!(rows.len(), 2);
    assert_eq!((cell(0, "number"), cell(1, "number")), ("2".to_owned(), "1".to_owned()));
    assert_eq!(cell(0, "bike"), "Blue, second");
    assert_eq!(cell(1, "customer"), "'=HYPERLINK(\"x\")", "no formula");
    assert_eq!(cell(1, "phone"), "'+1 202 555 0143");
    assert_eq!(cell(1, "address"), "The shed, \"left\"\nLarch Hollow");
    assert_eq!((cell(1, "price"), cell(1, "currency")), ("99.00".to_owned(), "EUR".to_owned()));
    // The same search as the list's.
    let found = browser.get("/requests.csv?find=blue").await.1;
    assert_eq!(csv::Reader::from_reader(found.as_bytes()).records().count(), 1);
    let stranger = Browser::new(&server).call(Method::GET, "/requests.csv").send().await.unwrap();
    assert_eq!(stranger.status(), StatusCode::SEE_OTHER);
}

#[tokio::test(flavor = "multi_thread")]
async fn photos_in_large_and_nothing_kept_of_them() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    let photos: Vec<_> = (1..=3).map(|seed| jpeg(60, 40, seed)).collect();
    for photo in &photos {
        let path = format!("/v1/photos/{}", demo::sent_photo(photo, "").sha256);
        let put =
            server.call(Method::PUT, &path, &token).header("Content-Type", "image/jpeg").body(photo.clone());
        assert_eq!(put.send().await.unwrap().status(), StatusCode::CREATED);
    }
    send(&server, &token, |request| {
        request.photos = photos.iter().map(|photo| demo::sent_photo(photo, "From <below>")).collect();
    })
    .await;
    let mut browser = Browser::keeper(&server).await;
    assert!(browser.get("/requests/1").await.1.contains("href=\"/requests/1/photos/1\""));
    for (place, before, after) in [(1, None, Some(2)), (2, Some(1), Some(3)), (3, Some(2), None)] {
        let (status, page) = browser.get(&format!("/requests/1/photos/{place}")).await;
        assert_eq!(status, StatusCode::OK);
        assert!(page.contains(&format!("{place} of 3")) && page.contains("From &lt;below&gt;"));
        assert!(page.contains("href=\"/requests/1#photos\""), "a way back");
        for (word, to) in [("prev", before), ("next", after)] {
            let link = to.map(|to: i32| format!("rel=\"{word}\" href=\"/requests/1/photos/{to}\""));
            assert_eq!(page.contains(&format!("rel=\"{word}\"")), link.is_some(), "{place} {word}");
            assert!(link.is_none_or(|link| page.contains(&link)), "{place} {word}");
        }
    }
    for none in ["0", "4", "-1"] {
        assert_eq!(browser.get(&format!("/requests/1/photos/{none}")).await.0, StatusCode::NOT_FOUND);
    }
    let image = format!("/requests/1/photos/{}.jpg", demo::sent_photo(&photos[0], "").sha256);
    let answer = browser.call(Method::GET, &image).send().await.unwrap();
    assert_eq!(answer.headers()["cache-control"], "no-store");
    let form = hidden(&browser.get("/").await.1, "csrf_token");
    let out = browser.send("/logout", &[("csrf_token", &form)]).await;
    assert_eq!(out.headers()["clear-site-data"], "\"cache\"");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_owner_sees_the_state_of_things() {
    let place = Place::new().await;
    let server = place.server().await;
    let token = server.sender("crew").await;
    send(&server, &token, |_| {}).await;
    // A delivery that is refused.
    let wrong = server.post_text(&token, server.request(0).id, "{}".to_owned()).await;
    assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let mut browser = Browser::keeper(&server).await;
    assert_eq!(browser.get("/state").await.0, StatusCode::FORBIDDEN);
    assert!(!browser.get("/").await.1.contains("href=\"/state\""));
    shopkeepers::set_owner(&server.app.database, "Ash", true, server.app.now()).await.unwrap();
    assert!(browser.get("/").await.1.contains("href=\"/state\""));
    let page = browser.get("/state").await.1;
    for part in [
        "not signed",
        "MiB free for photos",
        "none: make one with",
        "POST /v1/order-requests answered 422, sender 1",
        "<b>crew</b>, requests: 1",
        "<b>Ash</b>, owner",
        "added sender crew",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    backup::note(&server.app.database, "intake.dump", server.app.now()).await.unwrap();
    let page = browser.get("/state").await.1;
    assert!(page.contains("intake.dump") && !page.contains("make another"));
    place.clock.forward(8 * 86_400_000);
    assert_eq!(browser.log_in("Ash", "twelve larches in a row").await.status(), StatusCode::SEE_OTHER);
    assert!(browser.get("/state").await.1.contains("make another"));
}

/// The same with PostgreSQL's own programs, as the README says. `tests/postgres.sh` tells where they are.
async fn pg_dump_is_restored(server: &Server, place: &Place) {
    let Ok(programs) = std::env::var("STEERWRIGHT_POSTGRES_PROGRAMS") else { return };
    let token = server.sender("crew").await;
    let sent = send(server, &token, |_| {}).await;
    let dump = place.folder.path().join("intake.dump");
    let run = |program: &str, words: &[&str]| {
        let output =
            std::process::Command::new(format!("{programs}/{program}")).args(words).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    };
    run("pg_dump", &["--format", "custom", "--file", dump.to_str().unwrap(), &place.database]);
    send(server, &token, |_| {}).await;
    let restored = Place::new().await;
    run("pg_restore", &["--clean", "--if-exists", "--dbname", &restored.database, dump.to_str().unwrap()]);
    let second = restored.server().await;
    assert_eq!(second.rows("requests").await, 1);
    assert_eq!(receipt(&second, &token, &sent).await.number, 1);
}

/// A copy is one moment's whole state, and a server on it goes on from there.
#[tokio::test(flavor = "multi_thread")]
async fn a_backup_is_restored() {
    let place = Place::new().await;
    let server = place.server().await;
    if server.app.database.kind() != "sqlite" {
        let error =
            backup::write(&server.app.database, &place.folder.path().join("copy"), server.app.now()).await;
        assert!(error.unwrap_err().to_string().contains("pg_dump"));
        return pg_dump_is_restored(&server, &place).await;
    }
    let token = server.sender("crew").await;
    let sent = send(&server, &token, |_| {}).await;
    let restored = Place::new().await;
    let copy = restored.folder.path().join("intake.sqlite");
    backup::write(&server.app.database, &copy, server.app.now()).await.unwrap();
    let again = backup::write(&server.app.database, &copy, server.app.now()).await;
    assert!(again.is_err(), "a file that is there is not written over");
    // What comes after the copy is not in it.
    send(&server, &token, |_| {}).await;
    let second = restored.server().await;
    assert_eq!(second.rows("requests").await, 1);
    assert_eq!(receipt(&second, &token, &sent).await.number, 1);
    assert_eq!(second.post(&token, &sent).await.status(), StatusCode::CREATED);
    let stored = orders::load(&second.app.database, 1).await.unwrap().unwrap();
    assert_eq!(stored.request.id, sent.id);
}
