//! One request: what is asked, what was measured, what both programs find, and the answer.

use super::answer::MOST;
use super::frame::{Away, Page, page, refusal, secret};
use super::guard::Keeper;
use super::pictures::{Judged, judged};
use super::words;
use crate::orders::{self, Answer, Kept};
use crate::photos;
use crate::shopkeepers::Session;
use crate::state::Intake;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::bike::{Bike, Findings};
use steerwright_fit::judgement::Verdict;
use steerwright_fit::report::{KitReport, degrees, percent};
use steerwright_metrology::quantity::{Estimate, Instruments, about};
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{Contact, JPEG, OrderRequest, ShopStatus};

fn missing() -> Away {
    let text = "Perhaps the address is mistyped.";
    Away::instead(refusal(StatusCode::NOT_FOUND, "There is no such request.", text))
}

async fn find(intake: &Intake, number: &str) -> Result<Kept, Away> {
    let number: i64 = number.parse().map_err(|_| missing())?;
    orders::kept(&intake.database, number).await?.ok_or_else(missing)
}

/// The page of a request.
pub(super) async fn get(
    State(intake): State<Arc<Intake>>,
    Keeper(keeper): Keeper,
    Path(number): Path<String>,
) -> Result<Page, Away> {
    let kept = find(&intake, &number).await?;
    let judged = judged(&intake, &kept).await.ok_or(Away::Amiss)?;
    let before = orders::answers_before(&intake.database, kept.number, kept.since).await?;
    let currency = &intake.shop.catalogue.currency;
    let request = &kept.request;
    let content = html! {
        p.back { a href="/" { "All requests" } }
        h1 { (request.bike.name) }
        p.under {
            (words::state_mark(kept.state)) " "
            "No. " (kept.number) ", " (words::kind(request.kind).to_lowercase()) " from " (kept.sender_name) ", "
            (words::time(kept.received_at))
        }
        @if !kept.state.is_final() { p.jump { a href="#answer" { "To the answer" } } }
        (chain(&kept))
        div.sheet {
            div.main {
                (asked(request, currency))
                (verdicts(request, &judged, intake.shop.catalogue.number))
                (requirements(&judged))
                (drawings(&kept, &judged))
                (photographs(&kept))
                (measurements(&request.bike))
            }
            div.side {
                (answered(&kept, &before))
                @if !kept.state.is_final() { (answer_form(&kept, &keeper)) }
                (contact(&kept, &keeper))
            }
        }
    };
    Ok(Page(
        StatusCode::OK,
        page(&format!("No. {}, {}", kept.number, request.bike.name), Some(&keeper), content),
    ))
}

/// What it takes the place of, and what takes its place: before anything else, so that no kit is sent twice.
fn chain(kept: &Kept) -> Markup {
    html! {
        @if let Some(number) = kept.replaced_by {
            p.amiss role="note" {
                strong { "No longer wanted like this. " } "The sender has sent another in its place: "
                a href={ "/requests/" (number) } { "No. " (number) } "."
            }
        }
        @if let Some(number) = kept.replaces {
            p.amiss role="note" {
                strong { "In place of " a href={ "/requests/" (number) } { "No. " (number) } ". " }
                "Only one of the two is wanted: this one."
            }
        } @else if let Some(id) = kept.request.replaces {
            p.amiss role="note" {
                strong { "In place of an earlier request " } "that has not arrived here. Should it still come, only this "
                "one is wanted. It is called " span.code { (id) } "."
            }
        }
    }
}

fn asked(request: &OrderRequest, currency: &str) -> Markup {
    let kit = &request.kit;
    html! {
        section {
            h2 { "Asked for" }
            dl {
                dt { "Kit" } dd { (kit.quantity) " × " (kit.name) " " span.code { (kit.sku) } }
                dt { "Way round" } dd { (words::direction(kit.direction)) }
                dt { "Price as seen" } dd { (kit.price) " " (currency) }
                @for part in &request.parts {
                    dt { (words::part(part.what)) }
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

fn verdict_box(title: &str, verdict: Verdict, text: &str, low: f64, high: f64, by: &str) -> Markup {
    let (words, class) = words::verdict(verdict);
    html! {
        div class={ "verdict " (class) } {
            h3 { (title) }
            p.big { (words) }
            p { (text) }
            p.by { "Every requirement met: " (words::chances(low, high)) ". " (by) }
        }
    }
}

fn verdicts(request: &OrderRequest, judged: &Judged, number: u32) -> Markup {
    let found = &request.found;
    let sent_by = format!(
        "Engine {}, catalogue {} of {}.",
        found.engine, found.catalogue.number, found.catalogue.issued
    );
    let here_by = format!("Engine {}, catalogue {number}.", env!("CARGO_PKG_VERSION"));
    html! {
        section {
            h2 { "Does it go in?" }
            (agreement(request, judged, number))
            div.two {
                (verdict_box("As it was sent", found.verdict, &found.text, found.p_low, found.p_high, &sent_by))
                @match &judged.kit {
                    Ok(kit) => (verdict_box("Judged here", kit.verdict, &kit.text, kit.p_low, kit.p_high, &here_by)),
                    Err(why) => div.verdict.open { h3 { "Judged here" } p.big { "Not judged" } p { (why) } },
                }
            }
            @for caution in &judged.cautions { p.amiss { (caution) } }
        }
    }
}

/// Whether the bike, judged here from what was sent, comes to what the sender was told.
fn agreement(request: &OrderRequest, judged: &Judged, number: u32) -> Markup {
    let found = &request.found;
    let Ok(kit) = &judged.kit else { return html! {} };
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
        @if same { p { "Both come to the same from the same readings." } }
        @else if kit.verdict == found.verdict { p.amiss { "The same verdict, with another probability. " (why) } }
        @else { p.amiss role="note" { strong { "The verdicts differ. " } (why) } }
    }
}

fn requirements(judged: &Judged) -> Markup {
    let Ok(KitReport { requirements, work, tilt_deg, change, notes, .. }) = &judged.kit else {
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
                            @let (words, class) = words::met(row.state);
                            tr {
                                th scope="row" { (words::plain(row.requirement.name())) }
                                td { span class={ "says " (class) } { (words) } }
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

fn drawings(kept: &Kept, judged: &Judged) -> Markup {
    html! {
        @if !judged.drawings.is_empty() {
            section {
                h2 { "Drawings" }
                div.pictures {
                    @for picture in &judged.drawings {
                        @let address = format!("/requests/{}/drawings/{}.svg", kept.number, picture.name);
                        figure {
                            a href=(address) { img src=(address) alt=(picture.description) loading="lazy"; }
                            figcaption { (picture.title) }
                        }
                    }
                }
            }
        }
    }
}

fn photographs(kept: &Kept) -> Markup {
    html! {
        @if !kept.request.photos.is_empty() {
            section {
                h2 { "Photos" }
                div.pictures {
                    @for (place, photo) in kept.request.photos.iter().enumerate() {
                        @let address = format!("/requests/{}/photos/{}.jpg", kept.number, photo.sha256);
                        @let alt = if photo.note.is_empty() { format!("Photo {}", place + 1) } else { photo.note.clone() };
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
                                th scope="row" { (about(what).label) }
                                td.number { (words::estimate(what, estimate)) }
                                td { @for row in bike.measured.iter().filter(|row| row.what == what) {
                                    div {
                                        (row.value) " " (row.unit)
                                        @if let Some(plus_minus) = row.plus_minus { " ± " (plus_minus) }
                                        " with " (words::plain(row.with.name()))
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
                    p.amiss { "Two readings of the " (about(apart.what).label) " do not go together." }
                }
            }
            @if let Some(seen) = observed.as_object().filter(|seen| !seen.is_empty()) {
                h3 { "Seen" }
                dl { @for (name, value) in seen {
                    dt { (words::plain(name)) }
                    dd { @match value {
                        serde_json::Value::Bool(true) => "yes",
                        serde_json::Value::Bool(false) => "no",
                        other => (words::plain(other.as_str().unwrap_or_default())),
                    } }
                } }
            }
        }
    }
}

fn answered(kept: &Kept, before: &[Answer]) -> Markup {
    let Some(who) = &kept.answered_by else { return html! {} };
    html! {
        section.answered {
            h2 { "Answered" }
            p { (words::state_mark(kept.state)) " by " (who) ", " (words::time(kept.since)) }
            @if let Some(text) = &kept.message { blockquote { (text) } }
            @if !before.is_empty() {
                h3 { "Before" }
                @for answer in before {
                    p { (words::state_mark(answer.state)) " by " (answer.who) ", " (words::time(answer.at)) }
                    @if let Some(text) = &answer.message { blockquote { (text) } }
                }
            }
        }
    }
}

fn answer_form(kept: &Kept, keeper: &Session) -> Markup {
    let choices = [
        (ShopStatus::Accepted, "Accept", "It will be delivered."),
        (ShopStatus::Question, "Ask back", "The sender reads the question and sends again."),
        (ShopStatus::Refused, "Refuse", "It needs a reason."),
    ];
    html! {
        section {
            h2 #answer { "Answer" }
            form.answer method="post" action={ "/requests/" (kept.number) "/answer" } {
                (secret(keeper))
                input type="hidden" name="since" value=(kept.since.0);
                fieldset {
                    legend { "The answer goes back when the sender next asks." }
                    @for (state, name, text) in choices {
                        label.choice {
                            input type="radio" name="state" value=(state.name()) required;
                            span { strong { (name) } " " (text) }
                        }
                    }
                }
                label for="message" { "Question, reason or greeting" }
                textarea #message name="message" rows="5" maxlength=(MOST) {}
                button type="submit" { "Send the answer" }
            }
        }
    }
}

fn contact(kept: &Kept, keeper: &Session) -> Markup {
    let Some(Contact { name, email, phone, address }) = &kept.contact else {
        return html! {
            section {
                h2 { "Who asks" }
                p { "Erased" @if let Some(at) = kept.erased_at { " on " (words::time(at)) } "." }
            }
        };
    };
    html! {
        section {
            h2 { "Who asks" }
            p { (name) }
            @if let Some(email) = email { p { a href={ "mailto:" (email) } { (email) } } }
            @if let Some(phone) = phone { p { a href={ "tel:" (dialled(phone)) } { (phone) } } }
            @if let Some(address) = address { p.lines { (address) } }
            details {
                summary { "Erase who asks" }
                form method="post" action={ "/requests/" (kept.number) "/erase" } {
                    (secret(keeper))
                    p { "The contact, the notes and the bike's owner go for good; the kit, the readings and the photos stay." }
                    label.choice { input type="checkbox" name="sure" value="yes" required; span { "Yes, erase it" } }
                    button.danger type="submit" { "Erase" }
                }
            }
        }
    }
}

/// What RFC 3966, 3 allows in a number.
fn dialled(phone: &str) -> String {
    phone.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect()
}

/// A photo of a request.
pub(super) async fn photo(
    State(intake): State<Arc<Intake>>,
    _: Keeper,
    Path((number, name)): Path<(String, String)>,
) -> Result<Response, Away> {
    let kept = find(&intake, &number).await?;
    let hash: PhotoHash = name.strip_suffix(".jpg").and_then(|hash| hash.parse().ok()).ok_or_else(missing)?;
    if kept.request.photos.iter().all(|photo| photo.sha256 != hash) {
        return Err(missing());
    }
    let bytes =
        photos::read(&intake.database, &intake.shelf, photos::Photo { sender: kept.sender, hash }).await?;
    let bytes = bytes.ok_or_else(missing)?;
    // The name is the bytes' own hash, so they never change.
    let headers = [(header::CONTENT_TYPE, JPEG), (header::CACHE_CONTROL, "private, max-age=3600, immutable")];
    Ok((headers, bytes).into_response())
}

/// A drawing of a request.
pub(super) async fn drawing(
    State(intake): State<Arc<Intake>>,
    _: Keeper,
    Path((number, name)): Path<(String, String)>,
) -> Result<Response, Away> {
    let kept = find(&intake, &number).await?;
    let judged = judged(&intake, &kept).await.ok_or(Away::Amiss)?;
    let name = name.strip_suffix(".svg").unwrap_or_default();
    let picture = judged.drawings.iter().find(|picture| picture.name == name).ok_or_else(missing)?;
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        // A drawing brings its own style sheet within, and nothing else.
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'; sandbox"),
    ];
    Ok((headers, picture.svg.clone()).into_response())
}
