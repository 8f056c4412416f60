//! What is printed, one page each: the packing slip and the workshop sheet.

use super::labels;
use super::layout::{Page, PageError, printed};
use super::report::report_on;
use super::request::find;
use super::session::LoggedIn;
use crate::orders::StoredRequest;
use crate::state::AppState;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::bike::Findings;
use steerwright_metrology::quantity::{Instruments, quantity_info};

/// The most characters of a text of the sender's on a sheet; more would take a second page.
const MOST_NOTE: usize = 600;

fn shortened(text: &str) -> String {
    match text.char_indices().nth(MOST_NOTE) {
        Some((end, _)) => format!("{}… (more on the request's page)", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

fn head(app: &AppState, stored: &StoredRequest, title: &str) -> Markup {
    html! {
        header.sheet-head {
            div {
                h1 { (title) }
                p { "No. " b { (stored.number) } ", " (labels::local(app, stored.received_at, "%Y-%m-%d")) }
            }
            @if let Some(contact) = &app.contact { p.lines { (contact) } }
        }
    }
}

fn parts(stored: &StoredRequest) -> Markup {
    let request = &stored.request;
    html! {
        table.parts {
            thead { tr { th.number scope="col" { "Pieces" } th scope="col" { "What" } th scope="col" { "Code" } } }
            tbody {
                tr { td.number { (request.kit.quantity) } td { (request.kit.name) } td { (request.kit.sku) } }
                @for part in &request.parts {
                    tr {
                        td.number { (part.quantity) }
                        td {
                            (labels::part(part.what)) ": " (part.text)
                            @if let Some(height) = part.height_mm { ", " (height) " mm in all" }
                        }
                        td { @if let Some(sku) = &part.sku { (sku) } }
                    }
                }
            }
        }
    }
}

/// `GET /requests/{number}/packing-slip`.
pub(super) async fn packing_slip(
    State(app): State<Arc<AppState>>,
    _: LoggedIn,
    Path(number): Path<String>,
) -> Result<Page, PageError> {
    let stored = find(&app, &number).await?;
    let content = html! {
        (head(&app, &stored, "Packing slip"))
        @match &stored.contact {
            Some(contact) => div.address {
                p { b { (contact.name) } }
                @if let Some(address) = &contact.address { p.lines { (address) } }
                @if let Some(phone) = &contact.phone { p { (phone) } }
            },
            None => p { "Who asked is erased." },
        }
        p { "For: " b { (stored.request.bike.name) } ", " (labels::direction(stored.request.kit.direction)) }
        (parts(&stored))
        @if let Some(message) = &stored.message { p.lines { (shortened(message)) } }
        p.sign { "Packed by" span {} "on" span {} }
    };
    Ok(Page(StatusCode::OK, printed(&format!("Packing slip No. {}", stored.number), content)))
}

/// `GET /requests/{number}/workshop-sheet`.
pub(super) async fn workshop_sheet(
    State(app): State<Arc<AppState>>,
    _: LoggedIn,
    Path(number): Path<String>,
) -> Result<Page, PageError> {
    let stored = find(&app, &number).await?;
    let report = report_on(&app, &stored).await?;
    let request = &stored.request;
    let findings = Findings::new(&request.bike, &Instruments::default());
    let content = html! {
        (head(&app, &stored, "Workshop sheet"))
        p {
            b { (request.bike.name) }
            @if let Some(owner) = &request.bike.owner { " of " (owner) }
            @if let Some(contact) = &stored.contact { ", for " (contact.name) }
        }
        (parts(&stored))
        p { (labels::direction(request.kit.direction)) }
        @match &report.kit {
            Ok(kit) => {
                p.stand { (labels::mark(kit.verdict)) " " b { (labels::verdict(kit.verdict).0) } " " (kit.text) }
                @if !kit.work.is_empty() {
                    h2 { "Work" }
                    ul.work { @for work in &kit.work { li { span.box {} (work.text) } } }
                }
                @if !kit.notes.is_empty() { ul.notes { @for note in &kit.notes { li { (note) } } } }
                div.beside {
                    @if let Some(drawing) = report.drawings.first() {
                        figure { img src={ "/requests/" (stored.number) "/drawings/" (drawing.name) ".svg" } alt=(drawing.description); }
                    }
                    ul.requirements {
                        @for row in &kit.requirements {
                            li { (labels::words(row.requirement.name())) ": " b { (labels::requirement_state(row.state).0) } }
                        }
                    }
                }
            },
            Err(why) => p { "Not judged here: " (why) },
        }
        h2 { "Measured" }
        ul.readings {
            @for (what, estimate) in findings.iter() {
                li { (quantity_info(what).label) " " b { (labels::estimate(what, estimate)) } }
            }
        }
        @if !request.note.is_empty() { p.lines { (shortened(&request.note)) } }
        @for caution in &report.cautions { p.caution { (caution) } }
        p.sign { "Done by" span {} "on" span {} }
    };
    Ok(Page(StatusCode::OK, printed(&format!("Workshop sheet No. {}", stored.number), content)))
}

/// The style sheet of what is printed.
pub(super) const STYLE: &str = include_str!("print.css");
