//! Text output for one bike.

use super::orders::bike_orders;
use super::photos::photo_rows;
use super::value::{day, estimate, reading, when};
use crate::text::page::{Page, QUIET, STRONG, left, right};
use serde_json::Value;
use steerwright_core::bike::Observed;
use steerwright_core::book::{BikeScreen, KeptCheck, LogEntry};
use steerwright_core::quantity::quantity_info;

/// All data of one bike.
pub(crate) fn show(screen: &BikeScreen) -> String {
    let mut page = Page::new();
    let record = &screen.record;
    let owner = record.bike.owner.as_ref().map(|owner| format!(", {owner}")).unwrap_or_default();
    page.heading(&format!("{}{owner}", record.bike.name));
    page.item("id", 10, &record.id.to_string(), QUIET);
    page.item(
        "added",
        10,
        &format!("{}, last touched {}", when(record.created_at), when(record.touched_at)),
        QUIET,
    );
    if let Some(at) = record.archived_at {
        page.item("archive", 10, &format!("since {}", when(at)), STRONG);
    }
    if !record.tags.is_empty() {
        page.item("tags", 10, &record.tags.join(", "), QUIET);
    }
    for line in record.notes.lines().filter(|line| !line.trim().is_empty()) {
        page.item("note", 10, line, QUIET);
    }
    if let Some(check) = screen.checks.iter().find(|check| check.is_fitted()) {
        let since = check.fitted_at.map(|at| format!(" since {}", when(at))).unwrap_or_default();
        page.item("kit in", 10, &format!("{}{since}", check.sku.as_deref().unwrap_or("a kit")), STRONG);
    } else if let Some(kit) = &record.bike.fitted {
        page.item("kit in", 10, &format!("{} since before it was in the book", kit.sku), STRONG);
    }
    seen(&mut page, &record.bike.observed);
    findings(&mut page, screen);
    log(&mut page, screen);
    checks(&mut page, &screen.checks);
    if !screen.photos.is_empty() {
        page.heading("Photos");
        photo_rows(&mut page, &screen.photos);
    }
    if !screen.orders.is_empty() {
        page.heading("Order requests");
        bike_orders(&mut page, &screen.orders);
    }
    page.finish()
}

fn seen(page: &mut Page, observed: &Observed) {
    // Fields in the order and with the names of the bike file.
    let Ok(Value::Object(fields)) = serde_json::to_value(observed) else { return };
    if fields.is_empty() {
        return;
    }
    page.heading("Seen");
    for (name, value) in &fields {
        let word = match value {
            Value::Bool(true) => "yes".to_owned(),
            Value::Bool(false) => "no".to_owned(),
            other => other.as_str().unwrap_or_default().replace('_', " "),
        };
        page.item(&name.replace('_', " "), 26, &word, QUIET);
    }
}

fn findings(page: &mut Page, screen: &BikeScreen) {
    let rows: Vec<_> = screen
        .findings
        .iter()
        .map(|(what, found)| {
            let readings = screen.findings.readings(what).len();
            vec![quantity_info(what).label.clone(), estimate(what, found), readings.to_string()]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    page.heading("What the readings say");
    page.table(&[left("quantity"), right("value"), right("readings")], &rows);
    page.paragraph(2, "± is the expanded uncertainty (k = 2).");
    for apart in screen.findings.disagreements() {
        let text = format!(
            "The readings of the {} do not agree: {} apart. Measure again, or strike one out.",
            quantity_info(apart.what).label,
            estimate(apart.what, apart.difference())
        );
        page.item("!", 4, &text, STRONG);
    }
}

fn log(page: &mut Page, screen: &BikeScreen) {
    let log = &screen.log;
    page.heading("Log");
    if log.is_empty() {
        page.paragraph(2, "Nothing is measured yet.");
        return;
    }
    for (number, row) in (1..).zip(log) {
        let number: usize = number;
        let style = if row.place.is_some() { QUIET } else { STRONG };
        page.item(
            &number.to_string(),
            6,
            &format!("{}{}", log_row(screen, row), of_photo(screen, row)),
            style,
        );
    }
}

/// ", photo 2", with the number in `book photo list`.
fn of_photo(screen: &BikeScreen, row: &LogEntry) -> String {
    let at = screen.photos.iter().position(|photo| Some(photo.row.id) == row.photo);
    at.map(|at| format!(", photo {}", at + 1)).unwrap_or_default()
}

/// Why a reading that is not struck out does not count: a kit changes what it measured.
fn unused(screen: &BikeScreen, row: &LogEntry) -> &'static str {
    let fitted = screen.checks.iter().any(KeptCheck::is_fitted);
    match (fitted, row.since) {
        (true, None) => "taken before this kit",
        (true, Some(_)) => "taken with another kit",
        (false, _) => "taken with a kit that is out again",
    }
}

/// A line that fits most pages: columns would not, since quantities have long names.
fn log_row(screen: &BikeScreen, row: &LogEntry) -> String {
    let mut text = match &row.struck {
        Some(struck) => {
            let who = struck.who.as_ref().map(|who| format!(" by {who}")).unwrap_or_default();
            format!("STRUCK OUT{who} ({}): ", struck.why)
        }
        None if row.place.is_none() => format!("NOT USED ({}): ", unused(screen, row)),
        None => String::new(),
    };
    text.push_str(&reading(&row.measurement));
    let taken = row.measurement.at.as_ref().and_then(|at| at.get(..10));
    text.push_str(&format!(", {}", taken.map_or_else(|| day(row.recorded_at), str::to_owned)));
    if let Some(who) = &row.who {
        text.push_str(&format!(", by {who}"));
    }
    if let Some(note) = &row.measurement.note {
        text.push_str(&format!("; {note}"));
    }
    text
}

fn checks(page: &mut Page, checks: &[KeptCheck]) {
    if checks.is_empty() {
        return;
    }
    page.heading("Checks");
    for (number, check) in (1..).zip(checks.iter().rev()) {
        let kit = check.sku.as_ref().map_or("no kit chosen".to_owned(), |sku| format!("kit {sku}"));
        let mut text = format!("{}, {kit}, {} catalogue {}", when(check.made_at), check.maker, check.number);
        if let Some(who) = &check.who {
            text.push_str(&format!(", by {who}"));
        }
        text.push('.');
        if let Some(angle) = check.predicted {
            text.push_str(&format!(" Head angle predicted: {}.", super::angle(angle)));
        }
        match (check.fitted_at, check.removed_at) {
            (Some(from), Some(to)) => text.push_str(&format!(" In from {} to {}.", when(from), when(to))),
            (Some(from), None) => text.push_str(&format!(" In since {}.", when(from))),
            _ => {}
        }
        if let Some(comparison) = &check.comparison {
            text.push_str(&format!(" {}", comparison.text));
        }
        if !check.note.is_empty() {
            text.push_str(&format!(" Note: {}", check.note));
        }
        let number: usize = number;
        page.item(&number.to_string(), 6, &text, QUIET);
    }
}
