//! Text output for the integrity check.

use super::value::when;
use crate::book::Health;
use crate::text::page::{Page, QUIET, STRONG};

/// Result of the integrity check.
pub(crate) fn health(health: &Health) -> String {
    let mut page = Page::new();
    let bikes = if health.bikes == 1 { "bike" } else { "bikes" };
    let state = if health.sound { "The book is sound" } else { "Something is wrong with the book" };
    page.heading(&format!("{state} ({} {bikes}).", health.bikes));
    for line in &health.problems {
        page.item("!", 4, line, STRONG);
    }
    for photo in &health.photos_without_files {
        page.item("!", 4, &format!("The file of {photo} is missing."), STRONG);
    }
    if !health.problems.is_empty() {
        page.paragraph(
            2,
            "The next call saves what can be read into a new file and keeps this one beside it.",
        );
    }
    if !health.recoveries.is_empty() {
        page.heading("Earlier damage");
        for recovered in &health.recoveries {
            page.item("-", 4, &format!("{}: {}", when(recovered.at), recovered.text), QUIET);
        }
    }
    page.finish()
}
