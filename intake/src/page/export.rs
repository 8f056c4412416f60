//! The list as a table: CSV (RFC 4180).

use super::labels;
use super::layout::PageError;
use super::list::{ListQuery, reader};
use super::session::LoggedIn;
use crate::listing;
use crate::orders;
use crate::state::AppState;
use axum::extract::State;
use axum::http::{Uri, header};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// Requests that are read at a time.
const AT_ONCE: i64 = 200;
/// The most requests in a table.
const MOST: i64 = 20_000;

const COLUMNS: [&str; 19] = [
    "number", "received", "status", "since", "kind", "kit", "kit name", "quantity", "price", "currency",
    "bike", "verdict", "customer", "email", "phone", "address", "sender", "in hand", "id",
];

/// A cell that no spreadsheet takes for a formula: one that begins like one has an apostrophe before it (common practice).
fn cell(text: &str) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r') => format!("'{text}"),
        _ => text.to_owned(),
    }
}

/// `GET /requests.csv`: the requests that the list of the same query shows.
pub(super) async fn csv(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    uri: Uri,
) -> Result<Response, PageError> {
    let query = ListQuery::parse(uri.query().unwrap_or_default());
    let mut table = ::csv::Writer::from_writer(Vec::new());
    table.write_record(COLUMNS).map_err(|_| PageError::Internal)?;
    let mut skip = 0;
    while skip < MOST {
        let found = listing::list(&app.database, reader(&session), &query.filter, skip, AT_ONCE).await?;
        let last = (found.len() as i64) < AT_ONCE;
        for summary in found {
            // One that was deleted since has no row.
            let Some(stored) = orders::load(&app.database, summary.number).await? else { continue };
            let (request, contact) = (&stored.request, stored.contact.unwrap_or_default());
            let local = |at| labels::local(&app, at, "%Y-%m-%d %H:%M");
            let row = [
                stored.number.to_string(),
                local(stored.received_at),
                stored.status.name().to_owned(),
                local(stored.status_since),
                summary.kind,
                request.kit.sku.clone(),
                request.kit.name.clone(),
                request.kit.quantity.to_string(),
                request.kit.price.to_string(),
                app.published.catalogue.currency.to_string(),
                request.bike.name.clone(),
                labels::verdict(request.found.verdict).0.to_lowercase(),
                contact.name,
                contact.email.unwrap_or_default(),
                contact.phone.unwrap_or_default(),
                contact.address.unwrap_or_default(),
                stored.sender_name,
                stored.in_hand.unwrap_or_default(),
                request.id.to_string(),
            ];
            table.write_record(row.iter().map(|text| cell(text))).map_err(|_| PageError::Internal)?;
        }
        if last {
            break;
        }
        skip += AT_ONCE;
    }
    let bytes = table.into_inner().map_err(|_| PageError::Internal)?;
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"requests.csv\""),
    ];
    Ok((headers, bytes).into_response())
}
