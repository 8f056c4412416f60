//! Text output for the list of bikes.

use super::value::day;
use crate::text::page::{Page, left, right};
use steerwright_core::book::BikeRow;

/// One page of bikes. `asked`: whether the list is filtered.
pub(crate) fn bikes(rows: &[BikeRow], next_page: Option<u32>, asked: bool) -> String {
    let mut page = Page::new();
    if rows.is_empty() {
        page.paragraph(
            0,
            match asked {
                true => "No bike of the book is like that.",
                false => "The book has no bikes yet; `steerwright book add FILE` adds one.",
            },
        );
        return page.finish();
    }
    let cells: Vec<_> = rows
        .iter()
        .map(|bike| {
            let mut tags = bike.tags.join(", ");
            if bike.archived_at.is_some() {
                tags = if tags.is_empty() { "(archive)".to_owned() } else { format!("(archive) {tags}") };
            }
            // A bundle can bring a bike of the same name: only the id tells the two apart.
            let same =
                rows.iter().filter(|other| other.name.to_lowercase() == bike.name.to_lowercase()).count();
            let name = if same > 1 { format!("{} ({})", bike.name, bike.id) } else { bike.name.clone() };
            vec![
                name,
                bike.owner.clone().unwrap_or_default(),
                bike.measured.to_string(),
                day(bike.touched_at),
                tags,
            ]
        })
        .collect();
    page.table(&[left("bike"), left("owner"), right("readings"), left("touched"), left("tags")], &cells);
    if let Some(next) = next_page {
        page.blank();
        page.paragraph(0, &format!("There are more: --page {next}."));
    }
    page.finish()
}

/// Every tag with its number of bikes.
pub(crate) fn tags(tags: &[(String, u64)]) -> String {
    let mut page = Page::new();
    if tags.is_empty() {
        page.paragraph(0, "No bike has a tag yet; `steerwright book tag BIKE TAG` gives one.");
        return page.finish();
    }
    let rows: Vec<_> = tags.iter().map(|(tag, bikes)| vec![tag.clone(), bikes.to_string()]).collect();
    page.table(&[left("tag"), right("bikes")], &rows);
    page.finish()
}
