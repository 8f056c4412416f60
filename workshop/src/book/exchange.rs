//! Import and export of bundles and tables.

use super::args::{Bundle, Table};
use super::done::Done;
use super::steps::photos_without_files;
use super::which;
use crate::fault::Fault;
use crate::{input, output, text};
use serde::Serialize;
use serde_json::json;
use std::fs;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use steerwright_core::book::{
    BikeId, BookError, Bundle as BundleFile, BundleAcceptance, BundlePreview, BundleScope, CsvStyle,
    CsvTable, FieldBook, NoProgress, Op,
};

type OpenBundle = BundleFile<BufReader<File>>;

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
        if json { output::print_json(self) } else { output::print(&text::book::sentence(&self.text)) }
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
        Bundle::Read { file, preview, accept_removals, accept_changes } => {
            let accept = BundleAcceptance { removals: *accept_removals, replacements: *accept_changes };
            let mut bundle = opened(file)?;
            if *preview {
                return self::preview(book, file, &mut bundle, accept, json);
            }
            let before = photos_without_files(book)?;
            let (made_at, bikes) = of(&bundle);
            let told = book.merge(bundle, accept)?.output;
            let mut lacking = photos_without_files(book)?;
            lacking.retain(|photo| !before.contains(photo));
            let mut text =
                format!("From {}, {made_at}: {}", file.display(), text::book::merged(&told, false));
            if !lacking.is_empty() {
                text.push_str(&format!(" Not in the bundle: the file of {}.", lacking.join(", ")));
            }
            let done = Done::new(Op::Import, text).with("made_at", made_at).with("names", bikes);
            done.with("merged", told).with("photos_without_files", lacking).print(json)
        }
    }
}

/// Opens a bundle and checks all of it.
pub(super) fn opened(file: &Path) -> Result<OpenBundle, Fault> {
    let about = fs::metadata(file).map_err(|error| input::unreadable(file, error))?;
    if !about.is_file() {
        return Err(input::not_plain(file));
    }
    Ok(OpenBundle::open(file, &mut NoProgress)?)
}

/// When a bundle was made and the names of its bikes, by its own account.
fn of(bundle: &OpenBundle) -> (String, Vec<String>) {
    (bundle.manifest().made_at.clone(), bundle.bikes().map(str::to_owned).collect())
}

/// What [`preview`] found.
#[derive(Serialize)]
struct Previewed<'p> {
    file: &'p Path,
    text: String,
    #[serde(flatten)]
    preview: BundlePreview,
}

fn preview(
    book: &mut FieldBook,
    file: &Path,
    bundle: &mut OpenBundle,
    accept: BundleAcceptance,
    json: bool,
) -> Result<(), Fault> {
    let preview = book.preview(bundle, accept)?;
    let names: Vec<&str> = preview.bikes.iter().take(20).map(String::as_str).collect();
    let more = if preview.bikes.len() > names.len() { " and others" } else { "" };
    let text = format!(
        "In {}, {}: {}{more}.\nNothing was taken. It would be: {}",
        file.display(),
        preview.made_at,
        names.join(", "),
        text::book::merged(&preview.merged, true)
    );
    if json {
        return output::print_json(&Previewed { file, text, preview });
    }
    output::print(&text::book::sentence(&text))
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

/// Whether anything of a table can be taken into an empty book.
pub(super) fn check_table(file: &Path, partial: bool) -> Result<(), Fault> {
    let (_, bytes) = input::bytes(file, CsvTable::MOST_BYTES)?;
    let table = CsvTable::read(&bytes).map_err(BookError::Table)?;
    if table.errors.is_empty() || (partial && !table.rows.is_empty()) {
        return Ok(());
    }
    Err(BookError::Table(table.errors).into())
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
