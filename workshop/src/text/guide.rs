//! Text output of the measuring guide.

use super::page::{Page, QUIET, left, right};
use crate::guide::Entry;
use steerwright_core::quantity::ForkPosition;

/// Guide entries in full.
pub(crate) fn guide(entries: &[Entry]) -> String {
    let mut page = Page::new();
    for entry in entries {
        page.heading(&format!("{}  ({})", capital(entry.label), entry.what));
        page.item("tool", 9, &tool(entry), QUIET);
        page.item("fork", 9, fork(entry.fork), QUIET);
        page.item("bike", 9, &entry.state.row().label, QUIET);
        page.item("takes", 9, &format!("about {:.0} min", entry.minutes), QUIET);
        if !entry.reach.is_empty() {
            page.item("first", 9, &entry.reach, QUIET);
        }
        page.item("where", 9, entry.place, QUIET);
        page.item("note", 9, entry.trap, QUIET);
    }
    page.finish()
}

/// Names of everything that can be measured or observed.
pub(crate) fn guide_names(entries: &[Entry]) -> String {
    let mut page = Page::new();
    page.heading("What can be measured or looked at");
    let rows: Vec<_> = entries
        .iter()
        .map(|entry| {
            vec![
                entry.what.to_owned(),
                tool(entry),
                format!("{:.0}", entry.minutes),
                entry.state.row().label.clone(),
            ]
        })
        .collect();
    page.table(&[left("name in the bike file"), left("tool"), right("minutes"), left("bike")], &rows);
    page.blank();
    page.paragraph(0, "`steerwright guide NAME` says where to put the tool, and the usual mistake.");
    page.finish()
}

fn tool(entry: &Entry) -> String {
    entry.with.map_or("eyes".to_owned(), |tool| tool.name().replace('_', " "))
}

fn fork(fork: ForkPosition) -> &'static str {
    match fork {
        ForkPosition::In => "in",
        ForkPosition::Out => "out",
        ForkPosition::Either => "in or out",
    }
}

fn capital(text: &str) -> String {
    let mut characters = text.chars();
    match characters.next() {
        Some(first) => first.to_uppercase().chain(characters).collect(),
        None => String::new(),
    }
}
