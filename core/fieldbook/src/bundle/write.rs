//! Writing a bundle.

use super::manifest::{BundleSchema, Manifest, ManifestEntry};
use super::record::BundleBike;
use super::sticky_error::StickyErrorWriter;
use super::{Bundle, BundleProblem, name};
use crate::error::Inner;
use crate::open::{sibling_path, sync_folder};
use crate::{
    BikeId, BookError, FieldBook, NoProgress, PhotoId, PhotoRow, Progress, Reader, Timestamp, bikes, checks,
    files, log, photos, progress,
};
use data_encoding::HEXLOWER;
use rusqlite::Connection;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// The contents of a bundle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BundleScope {
    /// One bike, archived or not, with its log, checks and photos.
    Bike(BikeId),
    /// Every bike, including archived ones, and the photos of no bike.
    Book,
}

/// Summary of a written bundle.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct BundleWritten {
    /// Bikes.
    pub bikes: usize,
    /// Rows of their logs, including struck out ones.
    pub measurements: usize,
    /// Kept checks.
    pub checks: usize,
    /// Photos that were not removed.
    pub photos: usize,
    /// Photos whose files are missing or damaged; their rows are in the bundle.
    pub missing: Vec<PhotoId>,
    /// Length of the file.
    pub bytes: u64,
}

/// Any error that occurs while writing the file.
enum Failure {
    Inner(Inner),
    Io(std::io::Error),
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        Self::Io(error)
    }
}

impl From<zip::result::ZipError> for Failure {
    fn from(error: zip::result::ZipError) -> Self {
        match error {
            zip::result::ZipError::Io(error) => Self::Io(error),
            other => {
                let reason = format!("the bundle cannot be packed: {other}");
                Self::Inner(Inner::rule("bundle.not_packed", reason))
            }
        }
    }
}

impl From<Inner> for Failure {
    fn from(error: Inner) -> Self {
        Self::Inner(error)
    }
}

/// Packs entries and records them for the manifest.
struct Packer<W: Write + std::io::Seek> {
    zip: ZipWriter<W>,
    entries: Vec<ManifestEntry>,
}

impl<W: Write + std::io::Seek> Packer<W> {
    fn entry(&mut self, name: &str, bytes: &[u8], method: CompressionMethod) -> Result<(), Failure> {
        let options = SimpleFileOptions::default().compression_method(method).unix_permissions(0o644);
        self.zip.start_file(name, options)?;
        self.zip.write_all(bytes)?;
        if name != name::MANIFEST {
            self.entries.push(ManifestEntry {
                name: name.to_owned(),
                bytes: bytes.len() as u64,
                sha256: HEXLOWER.encode(&files::sha256(bytes)),
            });
        }
        Ok(())
    }

    fn json(&mut self, name: &str, value: &impl Serialize) -> Result<(), Failure> {
        self.entry(name, steerwright_input::pretty(value).as_bytes(), CompressionMethod::Deflated)
    }
}

fn ids(conn: &Connection) -> Result<Vec<BikeId>, Inner> {
    let mut rows = conn.prepare_cached("SELECT id FROM bikes ORDER BY key")?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The row of a photo for a bundle. The original file is not exported, since it may contain the location.
fn without_original(mut photo: PhotoRow) -> PhotoRow {
    photo.original_kept = false;
    photo
}

/// Everything of one bike.
fn bike(conn: &Connection, id: BikeId, what: BundleScope) -> Result<(BundleBike, Vec<PhotoRow>), Inner> {
    let (key, record) = bikes::record(conn, id)?;
    let observed_at: Timestamp =
        conn.query_row("SELECT observed_at FROM bikes WHERE key = ?1", [key], |row| row.get(0))?;
    let mut log = log::of_bike(conn, key, None)?;
    let all: Vec<PhotoRow> =
        photos::with_removed(conn, Some(key))?.into_iter().map(without_original).collect();
    let known: BTreeSet<PhotoId> = all.iter().map(|photo| photo.id).collect();
    let (own, loose): (Vec<_>, Vec<_>) = all.into_iter().partition(|photo| photo.bike == Some(id));
    for row in &mut log {
        row.place = None;
        // A photo of another bike is included only together with that bike.
        row.photo = row.photo.filter(|photo| what == BundleScope::Book || known.contains(photo));
    }
    let bundled = BundleBike {
        id,
        bike: record.bike,
        tags: record.tags,
        notes: record.notes,
        wanted: record.wanted,
        created_at: record.created_at,
        touched_at: record.touched_at,
        observed_at,
        archived_at: record.archived_at,
        log,
        photos: own,
        checks: checks::ids(conn, key)?,
    };
    Ok((bundled, loose))
}

fn pack(
    conn: &Connection,
    what: BundleScope,
    folder: &Path,
    now: Timestamp,
    file: &mut File,
    progress: &mut dyn Progress,
) -> Result<BundleWritten, Failure> {
    let mut told = BundleWritten::default();
    let zip = ZipWriter::new(StickyErrorWriter::new(BufWriter::new(&mut *file)));
    let mut packer = Packer { zip, entries: Vec::new() };
    let mut loose: BTreeMap<PhotoId, PhotoRow> = BTreeMap::new();
    let mut shown: Vec<PhotoRow> = Vec::new();
    let ids = match what {
        BundleScope::Bike(id) => vec![id],
        BundleScope::Book => ids(conn)?,
    };
    // Steps are bikes and photos; the number of photos is known once the bikes are.
    let bikes = ids.len() as u64;
    for id in ids {
        progress::step(progress, told.bikes as u64, bikes)?;
        let (bundled, others) = bike(conn, id, what)?;
        told.bikes += 1;
        told.measurements += bundled.log.len();
        told.checks += bundled.checks.len();
        packer.json(&name::of_bike(id), &bundled)?;
        // One after the other: a bike can have many, each with a report.
        for id in &bundled.checks {
            if let Some((_, check)) = checks::stored(conn, *id)? {
                packer.json(&name::of_check(*id), &check)?;
            }
        }
        shown.extend(bundled.photos);
        loose.extend(others.into_iter().map(|photo| (photo.id, photo)));
    }
    if what == BundleScope::Book {
        let others = photos::with_removed(conn, None)?.into_iter().map(without_original);
        loose.extend(others.map(|photo| (photo.id, photo)));
    }
    if !loose.is_empty() {
        let loose: Vec<PhotoRow> = loose.into_values().collect();
        packer.json(name::LOOSE, &loose)?;
        shown.extend(loose);
    }
    let mut packed: BTreeMap<[u8; 32], bool> = BTreeMap::new();
    let of = bikes + shown.iter().filter(|photo| photo.removed_at.is_none()).count() as u64;
    for photo in shown.iter().filter(|photo| photo.removed_at.is_none()) {
        progress::step(progress, bikes + told.photos as u64, of)?;
        told.photos += 1;
        let mut whole = true;
        for hash in [photo.working, photo.thumbnail] {
            let there = match packed.get(&hash) {
                Some(there) => *there,
                None => match files::get(folder, &hash, super::limits::PHOTO)? {
                    Some(bytes) => {
                        packer.entry(&name::of_photo(&hash), &bytes, CompressionMethod::Stored)?;
                        true
                    }
                    None => false,
                },
            };
            packed.insert(hash, there);
            whole &= there;
        }
        if !whole {
            told.missing.push(photo.id);
        }
    }
    progress::step(progress, of, of)?;
    let manifest = Manifest {
        schema: BundleSchema::V1,
        made_at: now.to_string(),
        made_by: env!("CARGO_PKG_VERSION").to_owned(),
        entries: std::mem::take(&mut packer.entries),
    };
    packer.json(name::MANIFEST, &manifest)?;
    let mut written = packer.zip.finish()?;
    written.flush()?;
    match written.failure() {
        Some(failure) => Err(failure.into()),
        None => Ok(told),
    }
}

fn write(
    conn: &Connection,
    what: BundleScope,
    folder: &Path,
    now: Timestamp,
    path: &Path,
    progress: &mut dyn Progress,
) -> Result<BundleWritten, Inner> {
    let mut told = BundleWritten::default();
    let result: Result<(), Failure> = files::replace(path, File::options(), |file| {
        told = pack(conn, what, folder, now, file, progress)?;
        // The bundle must be accepted by this program.
        Bundle::check(&mut *file).map_err(|problem| match problem {
            BundleProblem::Io { why } => Inner::Caller(BookError::Io {
                doing: format!("reading {} again", path.display()),
                details: why,
            }),
            problem => Inner::rule("bundle.would_be_refused", problem.to_string()),
        })?;
        told.bytes = file.metadata()?.len();
        Ok(())
    });
    result.map_err(|failure| match failure {
        Failure::Inner(inner) => inner,
        Failure::Io(error) => Inner::Io { doing: format!("writing {}", path.display()), error },
    })?;
    sync_folder(path)?;
    Ok(told)
}

impl Reader {
    /// [`FieldBook::write_bundle`] through a reader, which blocks no writer, as of `now`. `progress` can cancel it; an
    /// existing file then stays unchanged.
    ///
    /// # Errors
    /// Its own, and [`BookError::Cancelled`].
    pub fn write_bundle(
        &self,
        what: BundleScope,
        path: &Path,
        now: Timestamp,
        progress: &mut dyn Progress,
    ) -> Result<BundleWritten, BookError> {
        let folder = self.photos_folder();
        // Writing over the book's own files would destroy it.
        let of_the_book = ["", "-wal", "-shm"].map(|suffix| sibling_path(self.own_path(), suffix));
        let taken = of_the_book.iter().any(|own| same_file(own, path));
        self.read(|conn| {
            if taken {
                return Err(Inner::rule(
                    "bundle.over_the_book",
                    "a bundle cannot be written over the field book itself",
                ));
            }
            write(conn, what, &folder, now, path, progress)
        })
    }
}

impl FieldBook {
    /// Writes a bike or the whole book to one file, for another book or as an archive. An existing file is replaced
    /// only once the new one is complete and synced to the disk.
    ///
    /// Photos are included as upright copies, not as original files, which may contain the location. Catalogues,
    /// makers' keys and settings belong to this book and are not exported.
    ///
    /// # Errors
    /// No such bike, the errors of the file system, or a book too large for one file.
    pub fn write_bundle(&mut self, what: BundleScope, path: &Path) -> Result<BundleWritten, BookError> {
        let now = self.now();
        self.read().write_bundle(what, path, now, &mut NoProgress)
    }
}

fn same_file(one: &Path, other: &Path) -> bool {
    match (std::fs::canonicalize(one), std::fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
    }
}
