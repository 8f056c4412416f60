//! Photos: adding, showing, removing.

use super::error::Inner;
use super::text::{self, Lines};
use super::{
    BikeId, BookError, FieldBook, MarksRow, Op, Outcome, PhotoId, Reader, Timestamp, Work, bikes, files,
    marks,
};
use crate::error::Missing as _;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::path::{Path, PathBuf};
use steerwright_photo::{Format, IngestedPhoto, Limits, PixelSource, TakenAt, ingest};

/// A photo's row; its files are in [`Reader::photos_folder`](super::Reader::photos_folder).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoRow {
    /// Its id in the book.
    pub id: PhotoId,
    /// The bike it shows.
    pub bike: Option<BikeId>,
    /// SHA-256 of the original file.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub sha256: [u8; 32],
    /// The file's format: `jpeg`, `png`, `webp`.
    pub kind: String,
    /// Length of the original file.
    pub bytes: u64,
    /// Pixels across, upright.
    pub width: u32,
    /// Pixels down, upright.
    pub height: u32,
    /// When it was taken, by the camera's clock.
    pub taken_at: Option<String>,
    /// Focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// 35 mm equivalent focal length, mm.
    pub focal_length_35mm: Option<f64>,
    /// The camera.
    pub camera: Option<String>,
    /// Whether the original file was kept.
    pub original_kept: bool,
    /// SHA-256 of the working copy.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub working: [u8; 32],
    /// SHA-256 of the thumbnail.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub thumbnail: [u8; 32],
    /// Free text.
    pub note: String,
    /// When it was added.
    pub added_at: Timestamp,
    /// When it was removed, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_at: Option<Timestamp>,
    /// Marks that were set on it, oldest first. The last are used; readings recorded at `set_at` were made from them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarksRow>,
}

/// A photo with its existing files.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShownPhoto {
    /// Its row.
    #[serde(flatten)]
    pub row: PhotoRow,
    /// Path of the thumbnail; `None` if it is missing, which a screen indicates.
    pub thumbnail_file: Option<PathBuf>,
    /// Path of the upright working copy; `None` if it is missing.
    pub working_file: Option<PathBuf>,
    /// Path of the original file; `None` if it was not kept or is missing. It may contain the location.
    pub original_file: Option<PathBuf>,
}

impl ShownPhoto {
    fn new(row: PhotoRow, folder: &Path) -> Self {
        let there = |hash: &[u8; 32]| Some(files::path(folder, hash)).filter(|path| path.is_file());
        Self {
            thumbnail_file: there(&row.thumbnail),
            working_file: there(&row.working),
            original_file: row.original_kept.then(|| there(&row.sha256)).flatten(),
            row,
        }
    }
}

/// Selects one of a photo's files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoFile {
    /// The small copy, for lists.
    Thumbnail,
    /// The upright copy, for viewing, measuring and sending: it contains only pixels.
    Working,
    /// The original file, if it was kept. It may contain the location and the camera's serial number.
    Original,
}

/// Data stored with a new photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NewPhoto<'a> {
    /// The bike it shows.
    pub bike: Option<BikeId>,
    /// Free text; may have several lines.
    pub note: &'a str,
    /// Whether only the copies are kept, not the original file.
    pub forget_original: bool,
}

/// The result of adding a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct PhotoAdded {
    /// Its id in the book.
    pub id: PhotoId,
    /// Whether the same file was stored with the same bike already; then nothing was added.
    pub known: bool,
}

/// An edit of a photo; `None` leaves a field unchanged.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PhotoEdit {
    /// The bike it shows, or none.
    pub bike: Option<Option<BikeId>>,
    /// The complete note.
    pub note: Option<String>,
}

fn hex<S: Serializer>(hash: &[u8; 32], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&data_encoding::HEXLOWER.encode(hash))
}

fn unhex<'de, D: Deserializer<'de>>(deserializer: D) -> Result<[u8; 32], D::Error> {
    let text = String::deserialize(deserializer)?;
    let bytes = data_encoding::HEXLOWER.decode(text.as_bytes()).ok();
    let hash = bytes.and_then(|bytes| <[u8; 32]>::try_from(bytes).ok());
    hash.ok_or_else(|| de::Error::custom("a SHA-256 has 64 digits 0-9 a-f"))
}

fn photo(row: &Row<'_>) -> rusqlite::Result<PhotoRow> {
    Ok(PhotoRow {
        id: row.get("id")?,
        bike: row.get("bike_id")?,
        sha256: row.get("sha256")?,
        kind: row.get("kind")?,
        bytes: row.get("bytes")?,
        width: row.get("width")?,
        height: row.get("height")?,
        taken_at: row.get("taken_at")?,
        focal_length_mm: row.get("focal_length_mm")?,
        focal_length_35mm: row.get("focal_length_35mm")?,
        camera: row.get("camera")?,
        original_kept: row.get("original_kept")?,
        working: row.get("working")?,
        thumbnail: row.get("thumbnail")?,
        note: row.get("note")?,
        added_at: row.get("added_at")?,
        removed_at: row.get("removed_at")?,
        marks: Vec::new(),
    })
}

/// Rows of photos with their marks.
fn with_marks(
    conn: &Connection,
    rows: impl Iterator<Item = rusqlite::Result<(i64, PhotoRow)>>,
) -> Result<Vec<PhotoRow>, Inner> {
    rows.map(|row| {
        let (key, row) = row?;
        Ok(PhotoRow { marks: marks::of_photo(conn, key)?, ..row })
    })
    .collect()
}

fn keyed(row: &Row<'_>) -> rusqlite::Result<(i64, PhotoRow)> {
    Ok((row.get("key")?, photo(row)?))
}

/// The row key of a photo that was not removed.
pub(super) fn key_of(conn: &Connection, id: PhotoId) -> Result<i64, Inner> {
    let key = conn
        .prepare_cached("SELECT key FROM photos WHERE id = ?1 AND removed_at IS NULL")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    key.ok_or_else(|| id.missing())
}

/// The photos of a bike, or of none, oldest first.
pub(super) fn of_bike(conn: &Connection, bike: Option<i64>, folder: &Path) -> Result<Vec<ShownPhoto>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike
         WHERE p.bike IS ?1 AND p.removed_at IS NULL ORDER BY p.key",
    )?;
    let rows = with_marks(conn, rows.query_map([bike], keyed)?)?;
    Ok(rows.into_iter().map(|row| ShownPhoto::new(row, folder)).collect())
}

/// Photos, including removed ones, oldest first: a bike's own and those its log refers to, or without a bike all that
/// belong to none.
pub(super) fn with_removed(conn: &Connection, bike: Option<i64>) -> Result<Vec<PhotoRow>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike
         WHERE p.bike IS ?1
             OR p.bike IS NULL AND p.key IN (SELECT photo FROM measurements WHERE bike = ?1)
         ORDER BY p.key",
    )?;
    with_marks(conn, rows.query_map([bike], keyed)?)
}

/// The row key and the row of a photo, removed or not.
pub(crate) fn find(conn: &Connection, id: PhotoId) -> Result<Option<(i64, PhotoRow)>, Inner> {
    let row = conn
        .prepare_cached(
            "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike WHERE p.id = ?1",
        )?
        .query_row([id], keyed)
        .optional()?;
    row.map(|(key, row)| Ok((key, PhotoRow { marks: marks::of_photo(conn, key)?, ..row }))).transpose()
}

/// Writes a row without its marks.
pub(super) fn insert(conn: &Connection, it: &PhotoRow) -> Result<(), Inner> {
    conn.prepare_cached(
        "INSERT INTO photos (id, bike, sha256, kind, bytes, width, height, taken_at, focal_length_mm,
             focal_length_35mm, camera, original_kept, working, thumbnail, note, added_at, removed_at)
         VALUES (?1, (SELECT key FROM bikes WHERE id = ?2), ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14,
             ?15, ?16, ?17)",
    )?
    .execute(params![
        it.id,
        it.bike,
        it.sha256.as_slice(),
        it.kind,
        it.bytes,
        it.width,
        it.height,
        it.taken_at,
        it.focal_length_mm,
        it.focal_length_35mm,
        it.camera,
        it.original_kept,
        it.working.as_slice(),
        it.thumbnail.as_slice(),
        it.note,
        it.added_at,
        it.removed_at
    ])?;
    Ok(())
}

/// The format's name in the database.
fn kind(format: Format) -> &'static str {
    match format {
        Format::Jpeg => "jpeg",
        Format::Png => "png",
        Format::WebP => "webp",
        Format::Heic => "heic",
    }
}

/// As RFC 3339, without an offset if the camera gives none.
fn written(taken: &TakenAt) -> String {
    let (date, (hour, minute, second)) = (taken.local.date(), taken.local.time().as_hms());
    let offset = taken.offset.map_or_else(String::new, |offset| {
        let (hours, minutes, _) = offset.as_hms();
        let sign = if offset.is_negative() { '-' } else { '+' };
        format!("{sign}{:02}:{:02}", hours.unsigned_abs(), minutes.unsigned_abs())
    });
    format!("{date}T{hour:02}:{minute:02}:{second:02}{offset}")
}

fn add(
    work: &mut Work<'_>,
    intake: &IngestedPhoto,
    original: &[u8],
    new: &NewPhoto<'_>,
) -> Result<PhotoAdded, Inner> {
    text::check("the photo's note", new.note, text::NOTE, Lines::Many)?;
    let bike = new.bike.map(|bike| bikes::key_of(work.tx(), bike)).transpose()?;
    let known = work
        .tx()
        .prepare_cached("SELECT id FROM photos WHERE sha256 = ?1 AND bike IS ?2 AND removed_at IS NULL")?
        .query_row(params![intake.sha256.as_slice(), bike], |row| row.get(0))
        .optional()?;
    if let Some(id) = known {
        return Ok(PhotoAdded { id, known: true });
    }
    let facts = &intake.facts;
    let row = PhotoRow {
        id: PhotoId(work.fresh_id()),
        bike: new.bike,
        sha256: intake.sha256,
        kind: kind(facts.format).to_owned(),
        bytes: original.len() as u64,
        width: facts.width,
        height: facts.height,
        taken_at: facts.taken_at.as_ref().map(written),
        focal_length_mm: facts.focal_length_mm,
        focal_length_35mm: facts.focal_length_35mm,
        camera: facts.camera.clone(),
        original_kept: !new.forget_original,
        working: files::sha256(&intake.working),
        thumbnail: files::sha256(&intake.thumbnail),
        note: new.note.to_owned(),
        added_at: work.now(),
        removed_at: None,
        marks: Vec::new(),
    };
    work.put(&row.working, &intake.working)?;
    work.put(&row.thumbnail, &intake.thumbnail)?;
    if row.original_kept {
        work.put(&row.sha256, original)?;
    }
    insert(work.tx(), &row)?;
    if let Some(bike) = bike {
        bikes::touch(work, bike)?;
    }
    Ok(PhotoAdded { id: row.id, known: false })
}

fn edit(work: &mut Work<'_>, id: PhotoId, edit: &PhotoEdit) -> Result<(), Inner> {
    let key = key_of(work.tx(), id)?;
    if let Some(note) = &edit.note {
        text::check("the photo's note", note, text::NOTE, Lines::Many)?;
        work.tx()
            .prepare_cached("UPDATE photos SET note = ?2 WHERE key = ?1 AND note <> ?2")?
            .execute(params![key, note])?;
    }
    if let Some(bike) = edit.bike {
        let bike = bike.map(|bike| bikes::key_of(work.tx(), bike)).transpose()?;
        work.tx()
            .prepare_cached("UPDATE photos SET bike = ?2 WHERE key = ?1 AND bike IS NOT ?2")?
            .execute(params![key, bike])?;
    }
    Ok(())
}

fn remove(work: &mut Work<'_>, id: PhotoId) -> Result<(), Inner> {
    let key = key_of(work.tx(), id)?;
    work.tx()
        .prepare_cached("UPDATE photos SET removed_at = ?2 WHERE key = ?1")?
        .execute(params![key, work.now()])?;
    Ok(())
}

impl Work<'_> {
    /// Adds a decoded photo with its files. The same file with the same bike is stored once.
    ///
    /// # Errors
    /// No such bike, a note too long, and those of writing files.
    pub fn add_photo(
        &mut self,
        intake: &IngestedPhoto,
        original: &[u8],
        new: &NewPhoto<'_>,
    ) -> Result<PhotoAdded, BookError> {
        self.step(|work| add(work, intake, original, new))
    }

    /// Changes a photo's note, or which bike it shows.
    ///
    /// # Errors
    /// No such photo or bike, or a note too long.
    pub fn edit_photo(&mut self, id: PhotoId, change: &PhotoEdit) -> Result<(), BookError> {
        self.step(|work| edit(work, id, change))
    }

    /// Removes a photo. Readings taken from it stay; its files are deleted once this can no longer be undone.
    ///
    /// # Errors
    /// No such photo.
    pub fn remove_photo(&mut self, id: PhotoId) -> Result<(), BookError> {
        self.step(|work| remove(work, id))
    }
}

impl FieldBook {
    /// Decodes a photo and adds it, as one step to undo. Decoding does not block other writers.
    ///
    /// # Errors
    /// [`BookError::Photo`] for data that are not a photo or exceed `limits`, and those of [`Work::add_photo`].
    pub fn add_photo(
        &mut self,
        bytes: &[u8],
        limits: &Limits,
        source: &dyn PixelSource,
        new: &NewPhoto<'_>,
    ) -> Result<Outcome<PhotoAdded>, BookError> {
        let intake = ingest(bytes, limits, source).map_err(BookError::Photo)?;
        self.transact(Op::AddPhoto, |work| work.add_photo(&intake, bytes, new))
    }
}

impl Reader {
    /// One photo.
    ///
    /// # Errors
    /// No such photo.
    pub fn photo(&self, id: PhotoId) -> Result<ShownPhoto, BookError> {
        let folder = self.photos_folder();
        self.read(|conn| {
            let found = find(conn, id)?.filter(|(_, row)| row.removed_at.is_none());
            let (_, row) = found.ok_or_else(|| id.missing())?;
            Ok(ShownPhoto::new(row, &folder))
        })
    }

    /// The photos of no bike, oldest first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn loose_photos(&self) -> Result<Vec<ShownPhoto>, BookError> {
        let folder = self.photos_folder();
        self.read(|conn| of_bike(conn, None, &folder))
    }

    /// The bytes of one of a photo's files, compared with its hash; `None` if it was not kept, is missing or does not
    /// match. The working copy is the one that may leave the device: it was encoded from the pixels alone.
    ///
    /// # Errors
    /// No such photo, or the file system's.
    pub fn photo_bytes(&self, id: PhotoId, which: PhotoFile) -> Result<Option<Vec<u8>>, BookError> {
        let row = self.photo(id)?.row;
        let hash = match which {
            PhotoFile::Thumbnail => row.thumbnail,
            PhotoFile::Working => row.working,
            PhotoFile::Original if row.original_kept => row.sha256,
            PhotoFile::Original => return Ok(None),
        };
        Ok(files::get(&self.photos_folder(), &hash, Limits::default().bytes as u64)?)
    }
}
