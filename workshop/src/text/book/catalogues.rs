//! Text output for makers and catalogues.

use super::value::day;
use crate::text::page::{Page, QUIET, left, right};
use steerwright_core::book::MakerRow;

/// The catalogues of every maker.
pub(crate) fn catalogues(makers: &[MakerRow]) -> String {
    let mut page = Page::new();
    if makers.is_empty() {
        page.paragraph(
            0,
            "The book has no catalogue yet; `steerwright book catalogue import FILE` imports one.",
        );
    }
    for maker in makers {
        page.heading(&maker.maker);
        let key = maker.pinned.map_or("none trusted".to_owned(), |key| key.to_string());
        page.item("key", 8, &key, QUIET);
        if maker.catalogues.is_empty() {
            page.paragraph(2, "No catalogue of this maker yet.");
            continue;
        }
        let rows: Vec<_> = maker
            .catalogues
            .iter()
            .map(|row| {
                let used = if row.in_use { "In use. " } else { "" };
                vec![
                    row.number.to_string(),
                    row.issued.clone(),
                    row.kits.to_string(),
                    day(row.imported_at),
                    format!("{used}{}", row.signature_status.description()),
                ]
            })
            .collect();
        let columns =
            [right("number"), left("issued"), right("kits"), left("imported"), left("signature_status")];
        page.table(&columns, &rows);
    }
    page.finish()
}
