//! Rows of photos.

use super::error::Inner;
use super::{BikeId, Moment, PhotoId};
use rusqlite::{Connection, OptionalExtension, Row};
use serde::{Serialize, Serializer};

/// A photo as the book knows it; its files lie in [`Reader::photos_folder`](super::Reader::photos_folder).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotoRow {
    /// Its name in the book.
    pub id: PhotoId,
    /// The bike it shows.
    pub bike: Option<BikeId>,
    /// SHA-256 of the file as it came in.
    #[serde(serialize_with = "hex")]
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
    #[serde(serialize_with = "hex")]
    pub working: [u8; 32],
    /// SHA-256 of the thumbnail.
    #[serde(serialize_with = "hex")]
    pub thumbnail: [u8; 32],
    /// Anything worth remembering.
    pub note: String,
    /// When it was added.
    pub added_at: Moment,
}

fn hex<S: Serializer>(hash: &[u8; 32], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&data_encoding::HEXLOWER.encode(hash))
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
