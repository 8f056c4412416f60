//! Listing, showing and exporting bikes.

use super::args::{Bikes, Export};
use super::which;
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use serde_json::json;
use steerwright_core::book::{Archived, BikePage, BikeQuery, BikeRow, FieldBook};

/// One page of the list, as JSON.
#[derive(Serialize)]
struct Listed<'p> {
    page: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    next_page: Option<u32>,
    bikes: &'p [BikeRow],
}

pub(super) fn list(book: &FieldBook, call: &Bikes, json: bool) -> Result<(), Fault> {
    let mut query = BikeQuery {
        text: call.words.join(" "),
        tag: call.tag.clone(),
        archived: match (call.archived, call.all) {
            (true, _) => Archived::Only,
            (_, true) => Archived::Too,
            _ => Archived::Not,
        },
        sort: call.sort.into(),
        limit: usize::try_from(call.limit).unwrap_or(usize::MAX),
        ..BikeQuery::default()
    };
    let mut page = book.read().bikes(&query)?;
    for number in 1..call.page {
        let Some(next) = page.next else {
            return Err(Fault::Words(format!("there is no page {}; the last is {number}", call.page)));
        };
        query.after = Some(next);
        page = book.read().bikes(&query)?;
    }
    let BikePage { rows, next } = page;
    let next_page = next.map(|_| call.page + 1);
    if json {
        return output::print_json(&Listed { page: call.page, next_page, bikes: &rows });
    }
    let asked = !call.words.is_empty() || call.tag.is_some() || call.archived;
    output::print(&text::book::bikes(&rows, next_page, asked))
}

pub(super) fn tags(book: &FieldBook, json: bool) -> Result<(), Fault> {
    let tags = book.read().tags()?;
    if json {
        let tags: Vec<_> = tags.iter().map(|(tag, bikes)| json!({"tag": tag, "bikes": bikes})).collect();
        return output::print_json(&json!({ "tags": tags }));
    }
    output::print(&text::book::tags(&tags))
}

pub(super) fn show(book: &FieldBook, bike: &str, json: bool) -> Result<(), Fault> {
    let id = which::bike(book, bike)?.id;
    let screen = book.read().bike_screen(id)?;
    if !json {
        return output::print(&text::book::show(&screen));
    }
    let findings: Vec<_> = screen
        .findings
        .iter()
        .map(|(what, it)| json!({"what": what, "value": it.value, "u": it.u, "unit": text::book::unit(what)}))
        .collect();
    // Checks in display order, so that their index is the number shown in the text report.
    let checks: Vec<_> = screen.checks.iter().rev().collect();
    output::print_json(&json!({
        "bike": screen.record,
        "findings": findings,
        "log": screen.log,
        "checks": checks,
        "photos": screen.photos,
        "orders": book.read().orders(Some(id))?,
    }))
}

pub(super) fn export(book: &FieldBook, call: &Export, json: bool) -> Result<(), Fault> {
    let id = which::bike(book, &call.bike)?.id;
    let bike = book.read().bike_screen(id)?.record.bike;
    let text = bike.to_json();
    match &call.to {
        None => output::print_bytes(text.as_bytes()),
        Some(path) => {
            output::write_file(path, text.as_bytes())?;
            let text = format!("{} was written to {}.", bike.name, path.display());
            if json {
                return output::print_json(&json!({"file": path, "text": text}));
            }
            output::print(&text::book::sentence(&text))
        }
    }
}
