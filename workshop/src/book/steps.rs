//! Undo, redo and integrity checks.

use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use steerwright_core::book::{ActionSummary, FieldBook, Outcome, ShownPhoto, Timestamp};

pub(super) fn undo(book: &mut FieldBook, json: bool) -> Result<(), Fault> {
    let outcome = book.undo()?;
    told(outcome, "Undone", "there is nothing to undo", json)
}

pub(super) fn redo(book: &mut FieldBook, json: bool) -> Result<(), Fault> {
    let outcome = book.redo()?;
    told(outcome, "Done again", "there is nothing to redo", json)
}

fn told(outcome: Option<Outcome<ActionSummary>>, how: &str, nothing: &str, json: bool) -> Result<(), Fault> {
    let Some(Outcome { output, .. }) = outcome else { return Err(Fault::Words(nothing.to_owned())) };
    let bikes: Vec<_> =
        output.bikes.iter().map(|(id, name)| which::Named { id: *id, name: name.clone() }).collect();
    let text = format!("{how}: {}.", output.description());
    let done = Done::new(output.op, text).with("how", how.to_lowercase()).with("bikes", bikes);
    done.with("things", output.things).print(json)
}

/// Result of the integrity check.
#[derive(Debug, Serialize)]
pub(crate) struct Health {
    /// Whether no problem was found.
    pub(crate) sound: bool,
    pub(crate) bikes: usize,
    /// Problems of the database file, one per line.
    pub(crate) problems: Vec<String>,
    /// Photos with a missing file.
    pub(crate) photos_without_files: Vec<String>,
    /// Earlier recoveries from damage, latest first.
    pub(crate) recoveries: Vec<Recovered>,
}

#[derive(Debug, Serialize)]
pub(crate) struct Recovered {
    pub(crate) at: Timestamp,
    pub(crate) text: String,
}

/// The photos of which a file is missing, by the names of the pages.
pub(super) fn photos_without_files(book: &FieldBook) -> Result<Vec<String>, Fault> {
    let reader = book.read();
    let lacking = |of: &str, photos: &[ShownPhoto]| -> Vec<String> {
        (1..)
            .zip(photos)
            .filter(|(_, photo)| {
                let original = photo.original_file.is_some() || !photo.row.original_kept;
                photo.working_file.is_none() || photo.thumbnail_file.is_none() || !original
            })
            .map(|(number, _): (usize, _)| format!("photo {number} of {of}"))
            .collect()
    };
    let mut found = lacking("no bike", &reader.loose_photos()?);
    for bike in which::every(book)? {
        found.extend(lacking(&bike.name, &reader.bike_screen(bike.id)?.photos));
    }
    Ok(found)
}

pub(super) fn examine(book: &FieldBook, json: bool) -> Result<(), Fault> {
    let reader = book.read();
    let problems = reader.examine()?;
    let photos_without_files = photos_without_files(book)?;
    let all = which::every(book)?;
    let recoveries = reader.recoveries()?;
    let recoveries = recoveries.iter().map(|it| Recovered { at: it.at(), text: it.description() }).collect();
    let health = Health {
        sound: problems.is_empty() && photos_without_files.is_empty(),
        bikes: all.len(),
        problems,
        photos_without_files,
        recoveries,
    };
    if json { output::print_json(&health) } else { output::print(&text::book::health(&health)) }
}
