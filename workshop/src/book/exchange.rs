//! Import and export of bundles and tables.

use super::args::{Bundle, Table};
use super::done::Done;
use super::steps::photos_without_files;
use super::which;
use crate::fault::Fault;
use crate::{input, output};
use serde::Serialize;
use serde_json::json;
use std::fs;
use std::path::Path;
use steerwright_core::book::{BikeId, BundleScope, CsvStyle, CsvTable, FieldBook, Op};

/// "1 bike", "3 bikes".
fn count(number: usize, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}

/// Result of writing an export file.
#[derive(Serialize)]
struct Written<'w, T> {
    file: &'w Path,
    text: String,
    #[serde(flatten)]
    told: T,
}

impl<T: Serialize> Written<'_, T> {
    fn print(&self, json: bool) -> Result<(), Fault> {
        if json { output::print_json(self) } else { output::print(&crate::text::book::sentence(&self.text)) }
    }
}

pub(super) fn bundle(book: &mut FieldBook, call: &Bundle, json: bool) -> Result<(), Fault> {
    match call {
        Bundle::Write { bike, file } => {
            let what = match bike {
                Some(bike) => BundleScope::Bike(which::bike(book, bike)?.id),
                None => BundleScope::Book,
            };
            output::may_write(file, None)?;
            let told = book.write_bundle(what, file)?;
            let mut text = format!(
                "Written to {}: {}, {}, {}, {}.",
                file.display(),
                count(told.bikes, "bike"),
                count(told.measurements, "measurement"),
                count(told.checks, "check"),
                count(told.photos, "photo")
            );
            if !told.missing.is_empty() {
                text.push_str(&format!(
                    " Left out: the files of {}, which are missing, damaged or too large.",
                    count(told.missing.len(), "photo")
                ));
            }
            text.push_str(&left_out(book, what)?);
            Written { file, text, told }.print(json)
        }
        Bundle::Read { file } => {
            fs::metadata(file).map_err(|error| input::unreadable(file, error))?;
            let before = photos_without_files(book)?;
            let told = book.read_bundle(file)?.output;
            let mut lacking = photos_without_files(book)?;
            lacking.retain(|photo| !before.contains(photo));
            let mut text = format!(
                "From {}: {} new, {} known already; {} new, {} known already; {} and {} new.",
                file.display(),
                count(told.bikes_added, "bike"),
                told.bikes_known,
                count(told.measurements_added, "measurement"),
                told.measurements_known,
                count(told.checks_added, "check"),
                count(told.photos_added, "photo")
            );
            if !lacking.is_empty() {
                text.push_str(&format!(" Not in the bundle: the file of {}.", lacking.join(", ")));
            }
            Done::new(Op::Import, text).with("merged", told).with("photos_without_files", lacking).print(json)
        }
    }
}

/// What a bundle never holds and this book has, in a sentence.
fn left_out(book: &FieldBook, what: BundleScope) -> Result<String, Fault> {
    let reader = book.read();
    let mut photos = Vec::new();
    let bike = match what {
        BundleScope::Bike(id) => {
            photos.extend(reader.bike_screen(id)?.photos);
            Some(id)
        }
        BundleScope::Book => {
            photos.extend(reader.loose_photos()?);
            for bike in which::every(book)? {
                photos.extend(reader.bike_screen(bike.id)?.photos);
            }
            None
        }
    };
    let originals = photos.iter().filter(|photo| photo.row.original_kept).count();
    let orders = reader.orders(bike)?.len();
    let catalogues: usize = reader.makers()?.iter().map(|maker| maker.catalogues.len()).sum();
    let mut parts = Vec::new();
    if originals > 0 {
        parts.push(format!(
            "the original files of {}, which may tell where they were taken (the upright copies are in it)",
            count(originals, "photo")
        ));
    }
    if orders > 0 {
        parts.push(count(orders, "order request"));
    }
    if catalogues > 0 && bike.is_none() {
        parts.push(count(catalogues, "catalogue"));
    }
    Ok(if parts.is_empty() { String::new() } else { format!(" Not in a bundle: {}.", parts.join("; ")) })
}

pub(super) fn table(book: &mut FieldBook, call: &Table, json: bool) -> Result<(), Fault> {
    match call {
        Table::Write { bikes_and_file, style } => {
            let (file, bikes) = bikes_and_file
                .split_last()
                .ok_or_else(|| Fault::Words("the file to write is missing".to_owned()))?;
            write(book, Path::new(file), bikes, (*style).into(), json)
        }
        Table::Read { file, partial, who } => read(book, file, *partial, who.as_deref(), json),
    }
}

fn write(book: &FieldBook, file: &Path, bikes: &[String], style: CsvStyle, json: bool) -> Result<(), Fault> {
    let to_stdout = input::is_stdin(file);
    if to_stdout && json {
        return Err(Fault::Words(
            "a table on standard output is no JSON; name a file, or leave --json out".to_owned(),
        ));
    }
    let ids: Vec<BikeId> =
        bikes.iter().map(|bike| Ok(which::bike(book, bike)?.id)).collect::<Result<_, Fault>>()?;
    let csv = if ids.is_empty() { book.read().csv_of_all(style)? } else { book.read().csv(&ids, style)? };
    if to_stdout {
        return output::print_bytes(csv.as_bytes());
    }
    output::write_file(file, csv.as_bytes())?;
    let text = format!("The table was written to {}.", file.display());
    Written { file, text, told: json!({ "bytes": csv.len() }) }.print(json)
}

fn read(
    book: &mut FieldBook,
    file: &Path,
    partial: bool,
    who: Option<&str>,
    json: bool,
) -> Result<(), Fault> {
    let (name, bytes) = input::bytes(file, CsvTable::MOST_BYTES)?;
    let told = book.read_csv(&bytes, who, partial)?.output;
    let mut text = format!(
        "From {name}: {} new, {} known already; {} new, {} known already; something new seen on {}.",
        count(told.bikes_added, "bike"),
        told.bikes_known,
        count(told.measurements_added, "measurement"),
        told.measurements_known,
        count(told.observed, "bike")
    );
    if told.left_out > 0 {
        text.push_str(&format!(" Rows left out: {}.", told.left_out));
        output::remark(&told.errors.to_string());
    }
    Done::new(Op::Import, text).with("imported", told).print(json)
}
