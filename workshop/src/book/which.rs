//! Resolving the bike, log row, check or photo named by an argument.

use crate::fault::Fault;
use std::fmt::Display;
use std::path::Path;
use steerwright_core::bike::Bike;
use steerwright_core::book::{Archived, BikeId, BikeQuery, BikeRow, FieldBook, PhotoFile};
use steerwright_core::photogrammetry::measure::Marks;

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

/// Whether a text that is no file's path may be a bike's name.
fn may_be_a_name(path: &Path) -> Option<&str> {
    let text = path.to_str()?;
    let is_file = path.extension().is_some_and(|ending| {
        ["json", "csv", "jpg", "jpeg", "png", "webp"].iter().any(|known| ending.eq_ignore_ascii_case(known))
    });
    (!is_file && path.components().count() == 1).then_some(text)
}

/// The book and the bike in it that stands where a file was expected and no such file is; `None` where it cannot be a
/// bike's name, or there is no book.
fn instead_of_a_file(path: &Path) -> Result<Option<(FieldBook, BikeRow)>, Fault> {
    let Some(name) = may_be_a_name(path) else { return Ok(None) };
    let Some(book) = super::place::open_if_there()? else { return Ok(None) };
    let bike = bike(&book, name)
        .map_err(|fault| Fault::Words(format!("there is no file {}, and {fault}", path.display())))?;
    Ok(Some((book, bike)))
}

/// The bike of the book that is named where a bike's file was expected.
pub(crate) fn bike_named(path: &Path) -> Result<Option<Bike>, Fault> {
    let Some((book, bike)) = instead_of_a_file(path)? else { return Ok(None) };
    Ok(Some(book.read().bike_screen(bike.id)?.record.bike))
}

/// A photo of the book with its latest marks.
pub(crate) struct MarkedPhoto {
    pub(crate) marks: Marks,
    /// The upright copy, if its file is there.
    pub(crate) picture: Option<Vec<u8>>,
}

/// The photo with the latest marks, of the bike of the book that is named where a file of marks was expected.
pub(crate) fn photo_of_bike(path: &Path) -> Result<Option<MarkedPhoto>, Fault> {
    let Some((book, bike)) = instead_of_a_file(path)? else { return Ok(None) };
    let photos = book.read().bike_screen(bike.id)?.photos;
    let marked = photos.iter().filter_map(|photo| Some((photo, photo.row.marks.last()?)));
    let Some((photo, marks)) = marked.max_by_key(|(_, marks)| marks.set_at) else {
        return Err(Fault::Words(format!(
            "there is no file {}, and no photo of {} has marks yet; `steerwright book photo measure` sets them",
            path.display(),
            bike.name
        )));
    };
    let picture = book.read().photo_bytes(photo.row.id, PhotoFile::Working)?;
    Ok(Some(MarkedPhoto { marks: marks.marks.clone(), picture }))
}

/// Every bike of the book, page after page.
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
            "there is no bike `{called}`: the book has none yet; `steerwright book new NAME` begins one"
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
