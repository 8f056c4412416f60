//! The page of one request: its content, the reports of the sender and of this server, the readings, and the answer.

use super::answer::MAX_MESSAGE_CHARS;
use super::layout::{Page, PageError, csrf_field, error_page, page};
use super::report::{RequestReport, report_on};
use super::session::LoggedIn;
use super::{conversation, labels};
use crate::orders::{self, StoredRequest};
use crate::photos;
use crate::shopkeepers::Session;
use crate::state::AppState;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::bike::{Bike, Findings};
use steerwright_fit::judgement::Verdict;
use steerwright_fit::report::{KitReport, degrees, percent};
use steerwright_metrology::quantity::{Estimate, Instruments, quantity_info};
use steerwright_protocol::wire::{Contact, JPEG, OrderRequest, ShopStatus};
use steerwright_protocol::{PhotoHash, mailto};

fn not_found() -> PageError {
    let message = "Perhaps the address is mistyped.";
    PageError::response(error_page(StatusCode::NOT_FOUND, "There is no such request.", message))
}

async fn find(app: &AppState, number: &str) -> Result<StoredRequest, PageError> {
    let number: i64 = number.parse().map_err(|_| not_found())?;
    orders::load(&app.database, number).await?.ok_or_else(not_found)
}

/// `GET /requests/{number}`.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<String>,
) -> Result<Page, PageError> {
    let stored = find(&app, &number).await?;
    let report = report_on(&app, &stored).await?;
    let said = conversation::of(&app.database, stored.number).await?;
    let currency = &app.published.catalogue.currency;
    let request = &stored.request;
    let content = html! {
        p.back { a href="/" { "All requests" } }
        h1 { (request.bike.name) }
        p.under {
            (labels::status_badge(stored.status)) " "
            "No. " (stored.number) ", " (labels::kind(request.kind).to_lowercase()) " from " (stored.sender_name) ", "
            (labels::time(stored.received_at))
        }
        @if !stored.status.is_final() { p.jump { a href="#answer" { "To the answer" } } }
        (conversation::withdrawal(&stored))
        (replacements(&stored))
        div.sheet {
            div.main {
                (ordered(request, currency))
                (verdicts(request, &report, app.published.catalogue.number))
                (requirements(&report))
                (drawings(&stored, &report))
                (photographs(&stored))
                (measurements(&request.bike))
            }
            div.side {
                (conversation::section(&said))
                @if !stored.status.is_final() { (answer_form(&stored, &session)) }
                (contact(&stored, &session))
            }
        }
    };
    Ok(Page(
        StatusCode::OK,
        page(&format!("No. {}, {}", stored.number, request.bike.name), Some(&session), content),
    ))
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
            p.big { (label) }
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
                h2 { "Photos" }
                div.pictures {
                    @for (index, photo) in stored.request.photos.iter().enumerate() {
                        @let address = format!("/requests/{}/photos/{}.jpg", stored.number, photo.sha256);
                        @let alt = if photo.note.is_empty() { format!("Photo {}", index + 1) } else { photo.note.clone() };
                        figure {
                            a href=(address) { img src=(address) alt=(alt) loading="lazy"; }
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

fn answer_form(stored: &StoredRequest, session: &Session) -> Markup {
    let choices = [
        (ShopStatus::Accepted, "Accept", "It will be delivered."),
        (ShopStatus::Question, "Ask a question", "The sender reads the question and answers here."),
        (ShopStatus::Refused, "Refuse", "It needs a reason."),
    ];
    html! {
        section {
            h2 #answer { "Answer" }
            form.answer method="post" action={ "/requests/" (stored.number) "/answer" } {
                (csrf_field(session))
                input type="hidden" name="status_since" value=(stored.status_since.0);
                fieldset {
                    legend { "The answer goes back when the sender next asks." }
                    @for (status, name, explanation) in choices {
                        label.choice {
                            input type="radio" name="status" value=(status.name()) required;
                            span { strong { (name) } " " (explanation) }
                        }
                    }
                }
                label for="message" { "Question, reason or greeting" }
                textarea #message name="message" rows="5" maxlength=(MAX_MESSAGE_CHARS) {}
                button type="submit" { "Send the answer" }
            }
        }
    }
}

fn contact(stored: &StoredRequest, session: &Session) -> Markup {
    let Some(Contact { name, email, phone, address }) = &stored.contact else {
        return html! {
            section {
                h2 { "Who asks" }
                p { "Erased" @if let Some(at) = stored.erased_at { " on " (labels::time(at)) } "." }
                (deletion(stored, session))
            }
        };
    };
    html! {
        section {
            h2 { "Who asks" }
            p { (name) }
            @if let Some(email) = email { p { a href=(mailto(email)) { (email) } } }
            @if let Some(phone) = phone { p { a href={ "tel:" (tel_number(phone)) } { (phone) } } }
            @if let Some(address) = address { p.lines { (address) } }
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
            (deletion(stored, session))
        }
    }
}

fn deletion(stored: &StoredRequest, session: &Session) -> Markup {
    html! {
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

/// The characters of a phone number that a `tel` URI permits (RFC 3966, 3).
fn tel_number(phone: &str) -> String {
    phone.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect()
}

/// `GET /requests/{number}/photos/{name}`.
pub(super) async fn photo(
    State(app): State<Arc<AppState>>,
    _: LoggedIn,
    Path((number, name)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let stored = find(&app, &number).await?;
    let hash: PhotoHash =
        name.strip_suffix(".jpg").and_then(|hash| hash.parse().ok()).ok_or_else(not_found)?;
    if stored.request.photos.iter().all(|photo| photo.sha256 != hash) {
        return Err(not_found());
    }
    let bytes =
        photos::read(&app.database, &app.photo_store, photos::Photo { sender: stored.sender, hash }).await?;
    let bytes = bytes.ok_or_else(not_found)?;
    // The name is the hash of the bytes, so the content never changes.
    let headers = [(header::CONTENT_TYPE, JPEG), (header::CACHE_CONTROL, "private, max-age=3600, immutable")];
    Ok((headers, bytes).into_response())
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
