//! The state of things, for the owner.

use super::labels;
use super::layout::{Page, PageError, error_page, page};
use super::session::LoggedIn;
use crate::state::AppState;
use crate::{audit, backup, senders, shopkeepers};
use axum::extract::State;
use axum::http::StatusCode;
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_metrology::timestamp::Timestamp;

/// Days after which a backup is old.
const BACKUP_DAYS: i64 = 7;
/// Free space below which the disk is nearly full, bytes.
const LITTLE_SPACE: u64 = 1 << 30;
/// Lines of the audit log that are shown.
const AUDIT_LINES: i64 = 30;

/// `GET /state`.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
) -> Result<Page, PageError> {
    if !session.owner {
        let message = "An owner is named on the command line: steerwright-intake shopkeeper owner NAME.";
        return Err(PageError::response(error_page(
            StatusCode::FORBIDDEN,
            "This page is for the owner.",
            message,
        )));
    }
    let senders = senders::list(&app.database).await?;
    let staff = shopkeepers::list(&app.database).await?;
    let noted = audit::entries(&app.database, AUDIT_LINES).await?;
    let content = html! {
        h1 { "The state of things" }
        (machine(&app).await?)
        (failures(&app))
        section {
            h2 { "Senders" }
            ul { @for sender in &senders { li {
                b { (sender.name) } ", requests: " (sender.requests)
                @if let Some(at) = sender.last_at { ", the last " (labels::time(&app, at)) }
                ", since " (labels::time(&app, sender.added_at))
                @if sender.closed_at.is_some() { ", closed" }
            } } }
        }
        section {
            h2 { "Staff" }
            ul { @for keeper in &staff { li {
                b { (keeper.name) } @if keeper.owner { ", owner" }
                @if let Some(at) = keeper.seen_at { ", at the page " (labels::time(&app, at)) } @else { ", no session" }
            } } }
        }
        section {
            h2 { "Done" }
            ul { @for entry in &noted { li { (labels::time(&app, entry.at)) ": " (entry.who) " " (entry.did) " " (entry.about) } } }
        }
    };
    Ok(Page(StatusCode::OK, page("The state of things", Some(&session), content)))
}

async fn machine(app: &AppState) -> Result<Markup, PageError> {
    let catalogue = &app.published.catalogue;
    let last = backup::last(&app.database).await?;
    let old = |at: Timestamp| app.now().0.saturating_sub(at.0) > BACKUP_DAYS * 86_400_000;
    let free = app.photo_store.free_bytes();
    Ok(html! {
        section {
            h2 { "Now" }
            dl {
                dt { "Catalogue" }
                dd {
                    (catalogue.maker) ", number " (catalogue.number) ", " (catalogue.kits.len()) " kits, "
                    @if app.published.signature.is_some() { "signed" } @else { "not signed: senders cannot tell that it is the maker's" }
                }
                dt { "Database" }
                dd { (app.database.kind()) }
                dt { "Disk" }
                dd {
                    @match free {
                        Some(bytes) => {
                            (bytes >> 20) " MiB free for photos"
                            @if bytes < LITTLE_SPACE { span.tag.bad { ": make room, or set how long photos are kept" } }
                        },
                        None => "photos are in a bucket",
                    }
                }
                dt { "Last backup" }
                dd {
                    @match last {
                        Some(backup) => {
                            (labels::time(app, backup.at)) ", " (backup.file)
                            @if old(backup.at) { span.tag.bad { ": make another" } }
                        },
                        None => span.tag.bad { "none: make one with steerwright-intake backup FILE" },
                    }
                }
            }
        }
    })
}

fn failures(app: &AppState) -> Markup {
    let failures = app.failures();
    html! {
        section {
            h2 { "Refused deliveries since this process began" }
            @if failures.is_empty() { p { "None." } }
            ul { @for failure in failures.iter().rev() { li {
                (labels::time(app, failure.at)) ": " (failure.method) " " (failure.route) " answered " (failure.status)
                @if let Some(sender) = failure.sender { ", sender " (sender.0) }
            } } }
        }
    }
}
