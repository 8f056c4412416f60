//! Photos.

use super::args::{Photo, PhotoName};
use super::done::Done;
use super::which::{self, Named};
use crate::fault::Fault;
use crate::{input, output, text};
use serde_json::json;
use std::path::Path;
use steerwright_core::book::{BikeRow, BookError, FieldBook, NewPhoto, Op, PhotoFile, ShownPhoto};
use steerwright_core::photo::{BuiltIn, Limits, ingest};
use steerwright_core::photogrammetry::measure::Marks;

pub(super) fn run(book: &mut FieldBook, call: &Photo, json: bool) -> Result<(), Fault> {
    match call {
        Photo::Add { bike, file, note, forget_original } => {
            let new = NewPhoto { bike: None, note, forget_original: *forget_original };
            add(book, file, bike.as_deref(), new, json)
        }
        Photo::List { bike } => list(book, bike.as_deref(), json),
        Photo::Save { photo, to, thumbnail, original } => {
            let which = match (thumbnail, original) {
                (true, _) => PhotoFile::Thumbnail,
                (_, true) => PhotoFile::Original,
                _ => PhotoFile::Working,
            };
            save(book, photo, to, which, json)
        }
        Photo::Measure { bike, photo, marks, keep_taps, who } => {
            let call = PhotoName { photo: photo.clone(), bike: Some(bike.clone()) };
            let marks = marks.as_deref().map(input::marks).transpose()?;
            let marks = marks.map(|marks| if *keep_taps { marks.as_they_are() } else { marks });
            measure(book, &call, marks, who.as_deref(), json)
        }
        Photo::Remove { photo } => remove(book, photo, json),
    }
}

/// The named bike with its photos, or the photos without a bike.
fn photos(book: &FieldBook, bike: Option<&str>) -> Result<(Option<BikeRow>, Vec<ShownPhoto>), Fault> {
    Ok(match bike {
        Some(bike) => {
            let bike = which::bike(book, bike)?;
            let photos = book.read().bike_screen(bike.id)?.photos;
            (Some(bike), photos)
        }
        None => (None, book.read().loose_photos()?),
    })
}

fn find(book: &FieldBook, call: &PhotoName) -> Result<(Option<BikeRow>, usize, ShownPhoto), Fault> {
    let (bike, photos) = photos(book, call.bike.as_deref())?;
    let (number, photo) = which::numbered(&photos, |photo| photo.row.id, "photo", &call.photo)?;
    Ok((bike, number, photo.clone()))
}

fn of(bike: Option<&BikeRow>) -> String {
    bike.map_or("no bike".to_owned(), |bike| bike.name.clone())
}

/// Whether a photo can be added to a book without bikes.
pub(super) fn check(bike: Option<&str>, file: &Path) -> Result<(), Fault> {
    if let Some(bike) = bike {
        return Err(Fault::Words(format!("there is no bike {bike}: there is no field book yet")));
    }
    let limits = Limits::default();
    let (_, bytes) = input::bytes(file, limits.bytes)?;
    ingest(&bytes, &limits, &BuiltIn).map(drop).map_err(|error| BookError::Photo(error).into())
}

fn add(
    book: &mut FieldBook,
    file: &Path,
    bike: Option<&str>,
    new: NewPhoto<'_>,
    json: bool,
) -> Result<(), Fault> {
    let bike = bike.map(|bike| which::bike(book, bike)).transpose()?;
    let limits = Limits::default();
    let (_, bytes) = input::bytes(file, limits.bytes)?;
    let new = NewPhoto { bike: bike.as_ref().map(|bike| bike.id), ..new };
    let added = book.add_photo(&bytes, &limits, &BuiltIn, &new)?.output;
    let row = book.read().photo(added.id)?.row;
    let text = if added.known {
        format!("This very photo of {} was in the book already.", of(bike.as_ref()))
    } else {
        format!("A photo of {} is in the book, {} by {} pixels.", of(bike.as_ref()), row.width, row.height)
    };
    let done = Done::new(Op::AddPhoto, text).with("photo", added.id).with("known", added.known);
    bike.iter().fold(done, |done, bike| done.bike(bike)).print(json)
}

fn list(book: &FieldBook, bike: Option<&str>, json: bool) -> Result<(), Fault> {
    let (bike, photos) = photos(book, bike)?;
    if json {
        return output::print_json(&json!({"bike": bike.as_ref().map(Named::from), "photos": photos}));
    }
    output::print(&text::book::photos(&of(bike.as_ref()), &photos))
}

fn save(book: &FieldBook, photo: &PhotoName, to: &Path, which: PhotoFile, json: bool) -> Result<(), Fault> {
    let (bike, number, photo) = find(book, photo)?;
    let Some(bytes) = book.read().photo_bytes(photo.row.id, which)? else {
        let why = match which {
            PhotoFile::Original if !photo.row.original_kept => "was not kept",
            _ => "is missing or damaged",
        };
        return Err(Fault::Input(format!("photo {number} of {}: the file {why}", of(bike.as_ref()))));
    };
    output::write_file(to, &bytes)?;
    let text = format!("Photo {number} of {} was written to {}.", of(bike.as_ref()), to.display());
    if json {
        return output::print_json(
            &json!({"photo": photo.row.id, "file": to, "bytes": bytes.len(), "text": text}),
        );
    }
    output::print(&text::book::sentence(&text))
}

fn measure(
    book: &mut FieldBook,
    photo: &PhotoName,
    mut marks: Option<Marks>,
    who: Option<&str>,
    json: bool,
) -> Result<(), Fault> {
    let (bike, number, photo) = find(book, photo)?;
    let mut sure = String::new();
    if let Some(rough) = marks.as_ref().filter(|marks| marks.is_rough()) {
        let placed = book.read().place_taps(photo.row.id, rough)?;
        if let Some((what, why)) = placed.refused() {
            return Err(Fault::Input(crate::photo::refused_taps(what, why, &placed)));
        }
        for snap in &placed.snaps {
            if let Ok(placed) = snap.outcome {
                sure.push_str(&format!(" {}: {placed}.", snap.what));
            }
        }
        marks = Some(placed.marks);
    }
    let done = book.measure_photo(photo.row.id, marks.as_ref(), who)?.output;
    let mut text = format!("Photo {number} of {} gave {} readings", of(bike.as_ref()), done.added.len());
    if !done.struck.is_empty() {
        text.push_str(&format!("; {} of its earlier marks are struck out", done.struck.len()));
    }
    text.push_str(". `book undo` removes them again.");
    text.push_str(&sure);
    let done = Done::new(Op::MeasurePhoto, text)
        .with("photo", photo.row.id)
        .with("marks", done.marks)
        .with("added", done.added)
        .with("struck", done.struck);
    bike.iter().fold(done, |done, bike| done.bike(bike)).print(json)
}

fn remove(book: &mut FieldBook, photo: &PhotoName, json: bool) -> Result<(), Fault> {
    let (bike, number, photo) = find(book, photo)?;
    book.transact(Op::RemovePhoto, |work| work.remove_photo(photo.row.id))?;
    let text = format!("Photo {number} of {} is removed; `book undo` brings it back.", of(bike.as_ref()));
    let done = Done::new(Op::RemovePhoto, text).with("photo", photo.row.id);
    bike.iter().fold(done, |done, bike| done.bike(bike)).print(json)
}
