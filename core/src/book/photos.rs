//! Rows of photos.

use super::error::Inner;
use super::{BikeId, Moment, PhotoId};
use rusqlite::{Connection, OptionalExtension, Row};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A photo as the book knows it; its files lie in [`Reader::photos_folder`](super::Reader::photos_folder).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoRow {
    /// Its name in the book.
    pub id: PhotoId,
    /// The bike it shows.
    pub bike: Option<BikeId>,
    /// SHA-256 of the file as it came in.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub sha256: [u8; 32],
    /// The file's format: `jpeg`, `png`, `webp`.
    pub kind: String,
    /// Length of the file as it came in.
    pub bytes: u64,
    /// Pixels across, upright.
    pub width: u32,
    /// Pixels down, upright.
    pub height: u32,
    /// When it was taken, as the camera wrote it.
    pub taken_at: Option<String>,
    /// Focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// Focal length as of a 35 mm film camera, mm.
    pub focal_length_35mm: Option<f64>,
    /// The camera.
    pub camera: Option<String>,
    /// Whether the file as it came in was kept.
    pub original_kept: bool,
    /// SHA-256 of the working copy.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub working: [u8; 32],
    /// SHA-256 of the thumbnail.
    #[serde(serialize_with = "hex", deserialize_with = "unhex")]
    pub thumbnail: [u8; 32],
    /// Anything worth remembering.
    pub note: String,
    /// When it was added.
    pub added_at: Moment,
    /// When it was removed, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_at: Option<Moment>,
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
    })
}

/// The row's number of a photo that was not removed.
pub(super) fn key_of(conn: &Connection, id: PhotoId) -> Result<i64, Inner> {
    let key = conn
        .prepare_cached("SELECT key FROM photos WHERE id = ?1 AND removed_at IS NULL")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    key.ok_or_else(|| id.missing())
}

/// A bike's photos, oldest first.
pub(super) fn of_bike(conn: &Connection, bike: i64) -> Result<Vec<PhotoRow>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike
         WHERE p.bike = ?1 AND p.removed_at IS NULL ORDER BY p.key",
    )?;
    let rows = rows.query_map([bike], photo)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Photos, those that were removed too, oldest first: a bike's own and those its log refers to, or with no bike all
/// that belong to none.
pub(super) fn with_removed(conn: &Connection, bike: Option<i64>) -> Result<Vec<PhotoRow>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike
         WHERE p.bike IS ?1
             OR p.bike IS NULL AND p.key IN (SELECT photo FROM measurements WHERE bike = ?1)
         ORDER BY p.key",
    )?;
    let rows = rows.query_map([bike], photo)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The row's number and the row of a photo, removed or not.
pub(super) fn find(conn: &Connection, id: PhotoId) -> Result<Option<(i64, PhotoRow)>, Inner> {
    let row = conn
        .prepare_cached(
            "SELECT p.*, b.id AS bike_id FROM photos p LEFT JOIN bikes b ON b.key = p.bike WHERE p.id = ?1",
        )?
        .query_row([id], |row| Ok((row.get("key")?, photo(row)?)))
        .optional()?;
    Ok(row)
}
