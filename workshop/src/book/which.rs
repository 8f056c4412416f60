//! Resolving the bike, log row, check or photo named by an argument.

use crate::fault::Fault;
use std::fmt::Display;
use steerwright_core::book::{Archived, BikeId, BikeQuery, BikeRow, FieldBook};

/// Maximum number of bikes listed in a message.
const SHOWN: usize = 8;
/// Minimum similarity of suggested names (normalised Damerau-Levenshtein similarity).
const ALIKE: f64 = 0.5;
/// Minimum number of digits of an id prefix; a shorter one is treated as a name.
const ID_DIGITS: usize = 8;

/// Finds a bike by name, by unique prefix of a name, or by id or unique prefix of an id, ignoring case. If
/// several have the name, the only one outside the archive is chosen.
pub(super) fn bike(book: &FieldBook, called: &str) -> Result<BikeRow, Fault> {
    let called = called.trim();
    if called.is_empty() {
        return Err(Fault::Words("a bike's name is needed".to_owned()));
    }
    let all = every(book)?;
    let low = called.to_lowercase();
    let digits = called.chars().filter(|c| c.is_ascii_hexdigit()).count();
    let by_id = |bike: &BikeRow| digits >= ID_DIGITS && bike.id.to_string().starts_with(&low);
    let whole = |bike: &BikeRow| bike.name.to_lowercase() == low;
    let begins = |bike: &BikeRow| bike.name.to_lowercase().starts_with(&low);
    let ways: [&dyn Fn(&BikeRow) -> bool; 3] = [&whole, &begins, &by_id];
    for way in ways {
        let found: Vec<&BikeRow> = all.iter().filter(|bike| way(bike)).collect();
        let out: Vec<&BikeRow> = found.iter().copied().filter(|bike| bike.archived_at.is_none()).collect();
        match (found.as_slice(), out.as_slice()) {
            ([], _) => {}
            ([only], _) | (_, [only]) => return Ok((*only).clone()),
            _ => return Err(Fault::Words(several(called, &found))),
        }
    }
    Err(Fault::Words(none(called, &all)))
}

/// Every bike of the book; reads all pages.
pub(super) fn every(book: &FieldBook) -> Result<Vec<BikeRow>, Fault> {
    let mut query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
    let mut all = Vec::new();
    loop {
        let page = book.read().bikes(&query)?;
        all.extend(page.rows);
        match page.next {
            Some(next) => query.after = Some(next),
            None => return Ok(all),
        }
    }
}

fn several(called: &str, found: &[&BikeRow]) -> String {
    let mut text = format!("`{called}` could be any of {} bikes:", found.len());
    for bike in found.iter().take(SHOWN) {
        let owner = bike.owner.as_deref().map(|owner| format!(", {owner}")).unwrap_or_default();
        let away = if bike.archived_at.is_some() { ", in the archive" } else { "" };
        text.push_str(&format!("\n  {}  {}{owner}{away}", bike.id, bike.name));
    }
    if found.len() > SHOWN {
        text.push_str(&format!("\n  and {} more", found.len() - SHOWN));
    }
    text.push_str("\nWrite more of the name, or the id.");
    text
}

fn none(called: &str, all: &[BikeRow]) -> String {
    if all.is_empty() {
        return format!(
            "there is no bike `{called}`: the book has none yet; `steerwright book add FILE` adds one"
        );
    }
    // Limits the cost of the distance, which is the product of the lengths; a name has at most 120 characters.
    let short: String = called.to_lowercase().chars().take(120).collect();
    let alike = |bike: &BikeRow| strsim::normalized_damerau_levenshtein(&short, &bike.name.to_lowercase());
    let mut near: Vec<(f64, &str)> = all.iter().map(|bike| (alike(bike), bike.name.as_str())).collect();
    near.retain(|(alike, _)| *alike >= ALIKE);
    near.sort_by(|one, other| other.0.total_cmp(&one.0).then(one.1.cmp(other.1)));
    near.dedup_by(|one, other| one.1 == other.1);
    let near: Vec<String> = near.iter().take(3).map(|(_, name)| format!("`{name}`")).collect();
    match near.split_last() {
        None => format!("there is no bike `{called}` in this book; `steerwright book bikes` lists them"),
        Some((last, [])) => format!("there is no bike `{called}` in this book; did you mean {last}?"),
        Some((last, front)) => {
            format!("there is no bike `{called}` in this book; did you mean {} or {last}?", front.join(", "))
        }
    }
}

/// Finds a list element by its 1-based number, as displayed, or by its id.
pub(super) fn numbered<'l, T, I: Display>(
    list: &'l [T],
    id: impl Fn(&T) -> I,
    noun: &str,
    called: &str,
) -> Result<(usize, &'l T), Fault> {
    let called = called.trim().to_lowercase();
    let number: Option<usize> = called.parse().ok();
    let mut numbered = (1..).zip(list);
    let found = numbered.find(|(place, it)| number == Some(*place) || id(it).to_string() == called);
    found.ok_or_else(|| {
        Fault::Words(match list.len() {
            0 => format!("there is no {noun} `{called}`; there are none yet"),
            1 => format!("there is no {noun} `{called}`; there is only number 1"),
            most => format!("there is no {noun} `{called}`; expected a number from 1 to {most}, or an id"),
        })
    })
}

/// Id and name of a bike, for output.
#[derive(Debug, Clone, serde::Serialize)]
pub(super) struct Named {
    pub(super) id: BikeId,
    pub(super) name: String,
}

impl From<&BikeRow> for Named {
    fn from(row: &BikeRow) -> Self {
        Self { id: row.id, name: row.name.clone() }
    }
}
