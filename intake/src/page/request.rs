//! The page of one request: its content, the reports of the sender and of this server, the readings, and the answer.

use super::layout::{Page, PageError, csrf_field, error_page, page};
use super::report::{RequestReport, report_on};
use super::session::LoggedIn;
use super::{conversation, labels, reply};
use crate::desk;
use crate::orders::{self, StoredRequest};
use crate::photos;
use crate::shopkeepers::Session;
use crate::state::AppState;
use axum::extract::{Path, State};
use axum::http::{StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::bike::{Bike, Findings};
use steerwright_fit::judgement::Verdict;
use steerwright_fit::report::{KitReport, degrees, percent};
use steerwright_metrology::quantity::{Estimate, Instruments, quantity_info};
use steerwright_protocol::wire::{Contact, JPEG, OrderRequest};
use steerwright_protocol::{PhotoHash, mailto};
use url::form_urlencoded;

fn not_found() -> PageError {
    let message = "Perhaps the address is mistyped.";
    PageError::response(error_page(StatusCode::NOT_FOUND, "There is no such request.", message))
}

pub(super) async fn find(app: &AppState, number: &str) -> Result<StoredRequest, PageError> {
    let number: i64 = number.parse().map_err(|_| not_found())?;
    orders::load(&app.database, number).await?.ok_or_else(not_found)
}

/// `GET /requests/{number}`.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<String>,
    uri: Uri,
) -> Result<Page, PageError> {
    let stored = find(&app, &number).await?;
    let report = report_on(&app, &stored).await?;
    let said = conversation::of(&app.database, stored.number).await?;
    desk::look(&app.database, session.number, stored.number, app.now()).await?;
    let texts = desk::templates(&app.database).await?;
    let chosen = uri.query().and_then(|query| {
        let mut pairs = form_urlencoded::parse(query.as_bytes());
        let name = pairs.find_map(|(name, value)| (name == "text").then_some(value))?;
        texts.iter().find(|text| text.name == name)
    });
    let request = &stored.request;
    let content = html! {
        (heading(&app, &stored))
        (conversation::withdrawal(&app, &stored))
        (replacements(&stored))
        div.sheet {
            div.side {
                (contact(&stored))
                @if stored.status.is_final() {
                    section { h2 #answer { "Answer" } p { "It is " (labels::status(stored.status).0.to_lowercase()) "; nothing is left to be told." } }
                } @else {
                    (reply::form(&app, &stored, &session, &texts, chosen))
                }
                (desk_work(&stored, &session))
            }
            div.main {
                (ordered(request, &app.published.catalogue.currency))
                (conversation::section(&app, &stored, &said))
                (verdicts(request, &report, app.published.catalogue.number))
                (requirements(&report))
                (drawings(&stored, &report))
                (photographs(&stored))
                (measurements(&request.bike))
                (removal(&app, &stored, &session))
            }
        }
    };
    Ok(Page(
        StatusCode::OK,
        page(&format!("No. {}, {}", stored.number, request.bike.name), Some(&session), content),
    ))
}

/// The answer first: what is wanted, whether it fits, and how it stands.
fn heading(app: &AppState, stored: &StoredRequest) -> Markup {
    let request = &stored.request;
    let verdict = request.found.verdict;
    html! {
        div.top-of-request {
            a.back href="/" aria-label="All requests" { "‹" }
            h1 { (request.bike.name) }
            span.number { "No. " (stored.number) }
        }
        p.stand {
            (labels::mark(verdict)) " " b { (labels::verdict(verdict).0) } " " (labels::status_badge(stored.status))
            span.line {
                (labels::kind(request.kind)) ": " (request.kit.quantity) " × " span.code { (request.kit.sku) } ", "
                span.code { (request.kit.price) " " (app.published.catalogue.currency) }
            }
            @if let Some(who) = &stored.in_hand { " " span.tag { "in hand: " (who) } }
        }
    }
}

/// Who has it in hand, notes, and what is printed.
fn desk_work(stored: &StoredRequest, session: &Session) -> Markup {
    let mine = stored.in_hand.as_deref() == Some(&session.name);
    html! {
        section {
            h2 { "At the counter" }
            form.inline method="post" action={ "/requests/" (stored.number) "/hand" } {
                (csrf_field(session))
                @if mine {
                    input type="hidden" name="take" value="no";
                    button.quiet type="submit" { "Put it down" }
                } @else {
                    input type="hidden" name="take" value="yes";
                    button.quiet type="submit" { "Take it in hand" }
                }
                a.quiet href={ "/requests/" (stored.number) "/packing-slip" } { "Packing slip" }
                a.quiet href={ "/requests/" (stored.number) "/workshop-sheet" } { "Workshop sheet" }
            }
            @if stored.erased_at.is_none() {
                form.fields method="post" action={ "/requests/" (stored.number) "/note" } {
                    (csrf_field(session))
                    label for="note" { "Note for the shop alone" }
                    textarea #note name="note" rows="2" maxlength=(desk::MOST_CHARS) required {}
                    button.quiet type="submit" { "Keep the note" }
                }
            }
        }
    }
}

/// The request that replaces this one, and the one it replaces. Shown first, so that no kit is delivered twice.
fn replacements(stored: &StoredRequest) -> Markup {
    html! {
        @if let Some(number) = stored.replaced_by {
            p.notice role="note" {
                strong { "No longer wanted like this. " } "The sender has sent another in its place: "
                a href={ "/requests/" (number) } { "No. " (number) } "."
            }
        }
        @if let Some(number) = stored.replaces {
            p.notice role="note" {
                strong { "In place of " a href={ "/requests/" (number) } { "No. " (number) } ". " }
                "Only one of the two is wanted: this one."
            }
        } @else if let Some(id) = stored.request.replaces {
            p.notice role="note" {
                strong { "In place of an earlier request " } "that has not arrived here. Should it still come, only this "
                "one is wanted. It is called " span.code { (id) } "."
            }
        }
    }
}

fn ordered(request: &OrderRequest, currency: &str) -> Markup {
    let kit = &request.kit;
    html! {
        section {
            h2 { "Asked for" }
            dl {
                dt { "Kit" } dd { (kit.quantity) " × " (kit.name) " " span.code { (kit.sku) } }
                dt { "Way round" } dd { (labels::direction(kit.direction)) }
                dt { "Price as seen" } dd { (kit.price) " " (currency) }
                @for part in &request.parts {
                    dt { (labels::part(part.what)) }
                    dd {
                        (part.quantity) " × "
                        @if let Some(sku) = &part.sku { span.code { (sku) } " " }
                        @if let Some(height) = part.height_mm { (height) " mm in all. " }
                        (part.text)
                    }
                }
            }
            @if !request.note.is_empty() { blockquote { (request.note) } }
        }
    }
}

fn verdict_box(title: &str, verdict: Verdict, sentence: &str, low: f64, high: f64, by: &str) -> Markup {
    let (label, class) = labels::verdict(verdict);
    html! {
        div class={ "verdict " (class) } {
            h3 { (title) }
            p.big { (labels::mark(verdict)) " " (label) }
            p { (sentence) }
            p.by { "Every requirement met: " (labels::probability_range(low, high)) ". " (by) }
        }
    }
}

fn verdicts(request: &OrderRequest, report: &RequestReport, number: u32) -> Markup {
    let found = &request.found;
    let sent_by = format!(
        "Engine {}, catalogue {} of {}.",
        found.engine, found.catalogue.number, found.catalogue.issued
    );
    let here_by = format!("Engine {}, catalogue {number}.", env!("CARGO_PKG_VERSION"));
    html! {
        section {
            h2 { "Does it fit?" }
            (agreement(request, report, number))
            div.two {
                (verdict_box("As it was sent", found.verdict, &found.text, found.p_low, found.p_high, &sent_by))
                @match &report.kit {
                    Ok(kit) => (verdict_box("Judged here", kit.verdict, &kit.text, kit.p_low, kit.p_high, &here_by)),
                    Err(why) => div.verdict.open { h3 { "Judged here" } p.big { "Not judged" } p { (why) } },
                }
            }
            @for caution in &report.cautions { p.notice { (caution) } }
        }
    }
}

/// Whether the report computed here agrees with the one that was sent.
fn agreement(request: &OrderRequest, report: &RequestReport, number: u32) -> Markup {
    let found = &request.found;
    let Ok(kit) = &report.kit else { return html! {} };
    let same_chance = |one: f64, other: f64| (one - other).abs() < 0.005;
    let same = kit.verdict == found.verdict
        && same_chance(kit.p_low, found.p_low)
        && same_chance(kit.p_high, found.p_high);
    let why = if found.catalogue.number == number {
        "The catalogue is the same, so the sender's program or what it sent differs."
    } else {
        "The sender judged by another catalogue."
    };
    html! {
        @if same { p { "Both give the same result from the same readings." } }
        @else if kit.verdict == found.verdict { p.notice { "The same verdict, with another probability. " (why) } }
        @else { p.notice role="note" { strong { "The verdicts differ. " } (why) } }
    }
}

fn requirements(report: &RequestReport) -> Markup {
    let Ok(KitReport { requirements, work, tilt_deg, change, notes, .. }) = &report.kit else {
        return html! {};
    };
    html! {
        section {
            h2 { "Requirement by requirement" }
            div.wide tabindex="0" role="region" aria-label="Requirements" {
                table {
                    thead { tr { th scope="col" { "What" } th scope="col" { "Answer" } th.number scope="col" { "As it is" } th scope="col" { "Why" } } }
                    tbody {
                        @for row in requirements {
                            @let (label, class) = labels::requirement_state(row.state);
                            tr {
                                th scope="row" { (labels::words(row.requirement.name())) }
                                td { span class={ "tag " (class) } { (label) } }
                                td.number { @match row.p { Some(p) => (percent(p)), None => "unknown" } }
                                td { (row.text) }
                            }
                        }
                    }
                }
            }
            dl {
                dt { "Tilt" }
                dd {
                    (tilt_deg.nominal) "° made for"
                    @if let Some(real) = tilt_deg.real { ", " (format!("{real:.2}")) "° in this bike" }
                }
                @if let Some(angle) = &change.head_angle {
                    dt { "Head angle" }
                    dd { (format!("{:.1}°", angle.before)) " becomes " (degrees(Estimate::new(angle.after, angle.u))) }
                }
                @for work in work { dt { "Work" } dd { (work.text) } }
                @for note in notes { dt { "Note" } dd { (note) } }
            }
        }
    }
}

fn drawings(stored: &StoredRequest, report: &RequestReport) -> Markup {
    html! {
        @if !report.drawings.is_empty() {
            section {
                h2 { "Drawings" }
                div.pictures {
                    @for drawing in &report.drawings {
                        @let address = format!("/requests/{}/drawings/{}.svg", stored.number, drawing.name);
                        figure {
                            a href=(address) { img src=(address) alt=(drawing.description) loading="lazy"; }
                            figcaption { (drawing.title) }
                        }
                    }
                }
            }
        }
    }
}

fn photographs(stored: &StoredRequest) -> Markup {
    html! {
        @if !stored.request.photos.is_empty() {
            section {
                h2 #photos { "Photos" }
                div.pictures {
                    @for (index, photo) in stored.request.photos.iter().enumerate() {
                        @let address = format!("/requests/{}/photos/{}.jpg", stored.number, photo.sha256);
                        @let alt = if photo.note.is_empty() { format!("Photo {}", index + 1) } else { photo.note.clone() };
                        figure {
                            a href={ "/requests/" (stored.number) "/photos/" (index + 1) } { img src=(address) alt=(alt) loading="lazy"; }
                            @if !photo.note.is_empty() { figcaption { (photo.note) } }
                        }
                    }
                }
            }
        }
    }
}

fn measurements(bike: &Bike) -> Markup {
    let instruments = Instruments::default();
    let findings = Findings::new(bike, &instruments);
    let observed = serde_json::to_value(&bike.observed).unwrap_or_default();
    html! {
        section {
            h2 { "Measured" }
            p { "Each with its uncertainty: the true value lies within with 95 % (k = 2)." }
            div.wide tabindex="0" role="region" aria-label="Readings" {
                table {
                    thead { tr { th scope="col" { "What" } th.number scope="col" { "Found" } th scope="col" { "Read" } } }
                    tbody {
                        @for (what, estimate) in findings.iter() {
                            tr {
                                th scope="row" { (quantity_info(what).label) }
                                td.number { (labels::estimate(what, estimate)) }
                                td { @for row in bike.measured.iter().filter(|row| row.what == what) {
                                    div {
                                        (row.value) " " (row.unit)
                                        @if let Some(plus_minus) = row.plus_minus { " ± " (plus_minus) }
                                        " with " (labels::words(row.with.name()))
                                        @if let Some(at) = &row.at { ", " (at) }
                                        @if let Some(note) = &row.note { ". " (note) }
                                    }
                                } }
                            }
                        }
                    }
                }
            }
            @if !findings.disagreements().is_empty() {
                @for apart in findings.disagreements() {
                    p.notice { "Two readings of the " (quantity_info(apart.what).label) " contradict each other." }
                }
            }
            @if let Some(seen) = observed.as_object().filter(|seen| !seen.is_empty()) {
                h3 { "Seen" }
                dl { @for (name, value) in seen {
                    dt { (labels::words(name)) }
                    dd { @match value {
                        serde_json::Value::Bool(true) => "yes",
                        serde_json::Value::Bool(false) => "no",
                        other => (labels::words(other.as_str().unwrap_or_default())),
                    } }
                } }
            }
        }
    }
}

fn contact(stored: &StoredRequest) -> Markup {
    let Some(Contact { name, email, phone, address }) = &stored.contact else {
        return html! { section { h2 { "Who asks" } p { "Erased." } } };
    };
    html! {
        section.contact {
            h2 { (name) }
            @if let Some(address) = address { p.lines { (address) } }
            p {
                @if let Some(phone) = phone { a.plain href={ "tel:" (tel_number(phone)) } { (phone) } " " }
                @if let Some(email) = email { a.plain href=(mailto(email)) { (email) } }
            }
        }
    }
}

/// Erasing who asked, and deleting the request.
fn removal(app: &AppState, stored: &StoredRequest, session: &Session) -> Markup {
    html! {
        section {
            h2 { "Erase or delete" }
            @if let Some(at) = stored.erased_at { p { "Who asked was erased on " (labels::time(app, at)) "." } }
            details {
                summary { "Erase who asks" }
                form method="post" action={ "/requests/" (stored.number) "/erase" } {
                    (csrf_field(session))
                    p { "The contact, the notes, all that was said and the bike's owner are erased for good; the kit and the readings stay." }
                    label.choice { input type="checkbox" name="photos" value="yes"; span { "The photos, too" } }
                    label.choice { input type="checkbox" name="bike" value="yes"; span { "The bike's name, too" } }
                    label.choice { input type="checkbox" name="sure" value="yes" required; span { "Yes, erase it" } }
                    button.danger type="submit" { "Erase" }
                }
            }
            details {
                summary { "Delete the request" }
                form method="post" action={ "/requests/" (stored.number) "/delete" } {
                    (csrf_field(session))
                    p { "The request, its photos and all that was said are deleted for good. The sender is told nothing." }
                    label.choice { input type="checkbox" name="sure" value="yes" required; span { "Yes, delete it" } }
                    button.danger type="submit" { "Delete" }
                }
            }
        }
    }
}

/// The characters of a phone number that a `tel` URI permits (RFC 3966, 3).
fn tel_number(phone: &str) -> String {
    phone.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect()
}

/// `GET /requests/{number}/photos/{name}`: a photo by its hash, or the page that shows the photo of a place, from 1.
pub(super) async fn photo(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path((number, name)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let stored = find(&app, &number).await?;
    if let Ok(place) = name.parse() {
        return Ok(large_photo(&stored, &session, place).ok_or_else(not_found)?.into_response());
    }
    let hash: PhotoHash =
        name.strip_suffix(".jpg").and_then(|hash| hash.parse().ok()).ok_or_else(not_found)?;
    if stored.request.photos.iter().all(|photo| photo.sha256 != hash) {
        return Err(not_found());
    }
    let bytes =
        photos::read(&app.database, &app.photo_store, photos::Photo { sender: stored.sender, hash }).await?;
    let bytes = bytes.ok_or_else(not_found)?;
    // Nothing of it stays in the browser after a logout.
    let headers = [(header::CONTENT_TYPE, JPEG), (header::CACHE_CONTROL, "no-store")];
    Ok((headers, bytes).into_response())
}

/// A photo in large, with the way to the others and back.
fn large_photo(stored: &StoredRequest, session: &Session, number: usize) -> Option<Page> {
    let photos = &stored.request.photos;
    let photo = photos.get(number.checked_sub(1)?)?;
    let at = |number: usize| format!("/requests/{}/photos/{number}", stored.number);
    let title = if photo.note.is_empty() { format!("Photo {number}") } else { photo.note.clone() };
    let content = html! {
        div.top-of-request {
            a.back href={ "/requests/" (stored.number) "#photos" } aria-label={ "Back to No. " (stored.number) } { "‹" }
            h1 { (title) }
            span.number { (number) " of " (photos.len()) }
        }
        figure.large { img src={ "/requests/" (stored.number) "/photos/" (photo.sha256) ".jpg" } alt=(title); }
        nav.pages aria-label="Photos" {
            @if number > 1 { a rel="prev" href=(at(number - 1)) { "‹ Previous" } }
            @if number < photos.len() { a rel="next" href=(at(number + 1)) { "Next ›" } }
        }
    };
    Some(Page(StatusCode::OK, page(&title, Some(session), content)))
}

/// `GET /requests/{number}/drawings/{name}`.
pub(super) async fn drawing(
    State(app): State<Arc<AppState>>,
    _: LoggedIn,
    Path((number, name)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let stored = find(&app, &number).await?;
    let report = report_on(&app, &stored).await?;
    let name = name.strip_suffix(".svg").unwrap_or_default();
    let drawing = report.drawings.iter().find(|drawing| drawing.name == name).ok_or_else(not_found)?;
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        // A drawing contains its own style sheet and loads nothing.
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'; sandbox"),
    ];
    Ok((headers, drawing.svg.clone()).into_response())
}
