//! Upload of a photo in parts.
//!
//! The bytes of a part are stored under a unique key. Then one transaction adds the part and advances the
//! upload's offset, provided that the offset is still where the part begins. A process killed in between
//! leaves at most an unreferenced object, and of two concurrent parts one is accepted. The offset reaches the
//! total only in the transaction that marks the photo complete, after its SHA-256 was verified.

use super::{ContentRange, JpegError, PhotoStore, PhotoStoreError, check_jpeg, check_pixels};
use crate::crypto::{RandomnessError, random_bytes, sha256};
use crate::database::{Database, DatabaseError, Statement};
use crate::senders::Sender;
use bytes::{Bytes, BytesMut};
use data_encoding::HEXLOWER;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::PhotoHash;

/// A photo of a sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Photo {
    /// The sender.
    pub sender: Sender,
    /// The SHA-256 of its bytes, which is its name.
    pub hash: PhotoHash,
}

/// Progress of an upload.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UploadProgress {
    /// Number of bytes stored, from the start of the photo.
    pub bytes: u64,
    /// Whether it is complete and verified.
    pub complete: bool,
}

/// Why a part was not stored.
#[derive(Debug, thiserror::Error)]
pub enum UploadError {
    /// The part does not begin at the current offset, which is given.
    #[error("the part does not begin at byte {0}")]
    WrongOffset(u64),
    /// The sender's photos not referenced by a request exceed the byte quota.
    #[error("too many photos are stored that no request names")]
    QuotaExceeded,
    /// The SHA-256 of the complete photo differs. Its parts were deleted.
    #[error("the bytes have another SHA-256")]
    HashMismatch,
    /// The complete photo failed the JPEG validation. Its parts were deleted.
    #[error("{0}")]
    Rejected(#[from] JpegError),
    /// Error of the database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// Error of the photo store.
    #[error(transparent)]
    PhotoStore(#[from] PhotoStoreError),
    /// The task that checks the photo panicked or was cancelled.
    #[error("the photo's task failed: {0}")]
    Task(#[from] tokio::task::JoinError),
    /// No random bytes are available.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
}

/// A unique object key. It does not contain the photo's hash, so that it can be logged. A photo uploaded again never shares
/// an object with one that is being deleted.
fn new_object_key(kind: &str, photo: Photo) -> Result<String, RandomnessError> {
    Ok(format!("{kind}/{}/{}", photo.sender.0, HEXLOWER.encode(&random_bytes::<16>()?)))
}

/// The progress of an upload, or `None` if no part of the photo is stored.
///
/// # Errors
/// The database.
pub async fn progress(database: &Database, photo: Photo) -> Result<Option<UploadProgress>, DatabaseError> {
    Ok(row(database, photo).await?.map(|(progress, _)| progress))
}

async fn row(database: &Database, photo: Photo) -> Result<Option<(UploadProgress, u64)>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT received_bytes, total_bytes, completed_at FROM photos WHERE sender = $1 AND sha256 = $2",
            [photo.sender.0.into(), photo.hash.0.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let length = |column, value| {
        u64::try_from(value).map_err(|_| DatabaseError::Domain { column, expected: "a length of at least 0" })
    };
    let bytes = length("photos.received_bytes", row.int()?)?;
    let total = length("photos.total_bytes", row.int()?)?;
    Ok(Some((UploadProgress { bytes, complete: row.maybe_int()?.is_some() }, total)))
}

/// The bytes of a complete photo, or `None` if it is not complete.
///
/// # Errors
/// The database or the photo store.
pub async fn read(
    database: &Database,
    photo_store: &PhotoStore,
    photo: Photo,
) -> Result<Option<Bytes>, UploadError> {
    let found = database
        .run_one(Statement::new(
            "SELECT object_key FROM photos WHERE sender = $1 AND sha256 = $2 AND completed_at IS NOT NULL",
            [photo.sender.0.into(), photo.hash.0.into()],
        ))
        .await?;
    match found.rows.into_iter().next() {
        Some(mut row) => Ok(photo_store.get(&row.text()?).await?),
        None => Ok(None),
    }
}

/// Stores a part, whose length has to be that of its range. `max_unreferenced_bytes` limits the sender's
/// photos that no request references yet.
///
/// # Errors
/// Why the part was not stored.
pub async fn store_part(
    database: &Database,
    photo_store: &PhotoStore,
    photo: Photo,
    range: ContentRange,
    part: Bytes,
    now: Timestamp,
    max_unreferenced_bytes: u64,
) -> Result<UploadProgress, UploadError> {
    let before = row(database, photo).await?;
    let (stored, total) = before.unwrap_or((UploadProgress { bytes: 0, complete: false }, range.total));
    if stored.complete {
        return Ok(stored);
    }
    if total != range.total {
        // Photos with the same SHA-256 have the same length, so one of the two totals is wrong: the upload starts over.
        let keys = part_keys(database, photo).await?;
        delete_rows(database, photo).await?;
        delete_objects(photo_store, &keys).await;
        return Err(UploadError::WrongOffset(0));
    }
    if stored.bytes != range.first {
        return Err(UploadError::WrongOffset(stored.bytes));
    }
    if before.is_none()
        && unreferenced_bytes(database, photo.sender).await?.saturating_add(total) > max_unreferenced_bytes
    {
        return Err(UploadError::QuotaExceeded);
    }
    if range.last + 1 == total {
        return complete(database, photo_store, photo, range, part, now).await;
    }
    let object_key = new_object_key("parts", photo)?;
    photo_store.put(&object_key, part).await?;
    let added = add_part(database, photo, range, &object_key, now).await;
    match added {
        Ok(()) => Ok(UploadProgress { bytes: range.last + 1, complete: false }),
        Err(DatabaseError::Conflict) => {
            photo_store.delete(&object_key).await?;
            Err(UploadError::WrongOffset(row(database, photo).await?.map_or(0, |(stored, _)| stored.bytes)))
        }
        Err(error) => Err(error.into()),
    }
}

/// The total size of a sender's photos that no request references, including bytes not yet received.
async fn unreferenced_bytes(database: &Database, sender: Sender) -> Result<u64, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT CAST(coalesce(sum(p.total_bytes), 0) AS BIGINT) FROM photos p WHERE p.sender = $1 AND NOT EXISTS
             (SELECT 1 FROM request_photos r WHERE r.sender = p.sender AND r.sha256 = p.sha256)",
            [sender.0.into()],
        ))
        .await?;
    let sum = found.rows.into_iter().next().map_or(Ok(0), |mut row| row.int())?;
    let expected = "lengths of at least 0";
    u64::try_from(sum).map_err(|_| DatabaseError::Domain { column: "photos.total_bytes", expected })
}

/// A length as an SQL integer. Lengths are limited by the maximum photo size, far below `i64::MAX`.
fn sql_length(length: u64) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}

async fn add_part(
    database: &Database,
    photo: Photo,
    range: ContentRange,
    object_key: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    let (first, end) = (sql_length(range.first), sql_length(range.last + 1));
    database
        .transaction(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total_bytes, received_bytes, updated_at) VALUES ($1, $2, $3, 0, $4)
                 ON CONFLICT (sender, sha256) DO NOTHING",
                [photo.sender.0.into(), photo.hash.0.into(), sql_length(range.total).into(), now.0.into()],
            ),
            Statement::new(
                "UPDATE photos SET received_bytes = $1, updated_at = $2
                 WHERE sender = $3 AND sha256 = $4 AND received_bytes = $5 AND total_bytes = $6
                 AND completed_at IS NULL",
                [
                    end.into(),
                    now.0.into(),
                    photo.sender.0.into(),
                    photo.hash.0.into(),
                    first.into(),
                    sql_length(range.total).into(),
                ],
            )
            .expecting_one_row(),
            Statement::new(
                "INSERT INTO photo_parts (sender, sha256, start, object_key) VALUES ($1, $2, $3, $4)",
                [photo.sender.0.into(), photo.hash.0.into(), first.into(), object_key.into()],
            ),
        ])
        .await?;
    Ok(())
}

async fn part_keys(database: &Database, photo: Photo) -> Result<Vec<String>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT object_key FROM photo_parts WHERE sender = $1 AND sha256 = $2 ORDER BY start",
            [photo.sender.0.into(), photo.hash.0.into()],
        ))
        .await?;
    found.rows.into_iter().map(|mut row| row.text()).collect()
}

/// Joins the parts with the last one, verifies the photo and marks it complete.
async fn complete(
    database: &Database,
    photo_store: &PhotoStore,
    photo: Photo,
    range: ContentRange,
    last: Bytes,
    now: Timestamp,
) -> Result<UploadProgress, UploadError> {
    let keys = part_keys(database, photo).await?;
    let mut whole = BytesMut::with_capacity(usize::try_from(range.total).unwrap_or_default());
    for key in &keys {
        match photo_store.get(key).await? {
            Some(bytes) => whole.extend_from_slice(&bytes),
            // A concurrent call completed or deleted the photo, or the store lost the object: the hash will differ.
            None => break,
        }
    }
    whole.extend_from_slice(&last);
    let whole = whole.freeze();
    let checked = whole.clone();
    let verified = tokio::task::spawn_blocking(move || verify(&checked, photo.hash)).await?;
    if let Err(error) = verified {
        if let Some(stored) = progress(database, photo).await?.filter(|stored| stored.complete) {
            return Ok(stored);
        }
        delete_rows(database, photo).await?;
        delete_objects(photo_store, &keys).await;
        return Err(error);
    }
    let object_key = new_object_key("whole", photo)?;
    photo_store.put(&object_key, whole).await?;
    let total = sql_length(range.total);
    let stored = database
        .transaction(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total_bytes, received_bytes, updated_at, completed_at, object_key)
                 VALUES ($1, $2, $3, $4, $5, $6, $7)
                 ON CONFLICT (sender, sha256) DO UPDATE
                 SET total_bytes = excluded.total_bytes, received_bytes = excluded.received_bytes,
                 updated_at = excluded.updated_at, completed_at = excluded.completed_at,
                 object_key = excluded.object_key
                 WHERE photos.completed_at IS NULL",
                [
                    photo.sender.0.into(),
                    photo.hash.0.into(),
                    total.into(),
                    total.into(),
                    now.0.into(),
                    now.0.into(),
                    object_key.as_str().into(),
                ],
            )
            .expecting_one_row(),
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [photo.sender.0.into(), photo.hash.0.into()],
            ),
        ])
        .await;
    match stored {
        // A concurrent call completed it first, with the same bytes.
        Err(DatabaseError::Conflict) => delete_objects(photo_store, std::slice::from_ref(&object_key)).await,
        other => drop(other?),
    }
    delete_objects(photo_store, &keys).await;
    Ok(UploadProgress { bytes: range.total, complete: true })
}

fn verify(whole: &[u8], hash: PhotoHash) -> Result<(), UploadError> {
    if sha256(whole) != hash.0 {
        return Err(UploadError::HashMismatch);
    }
    check_jpeg(whole)?;
    Ok(check_pixels(whole)?)
}

async fn delete_rows(database: &Database, photo: Photo) -> Result<(), DatabaseError> {
    database
        .transaction(vec![
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [photo.sender.0.into(), photo.hash.0.into()],
            ),
            Statement::new(
                "DELETE FROM photos WHERE sender = $1 AND sha256 = $2 AND completed_at IS NULL",
                [photo.sender.0.into(), photo.hash.0.into()],
            ),
        ])
        .await?;
    Ok(())
}

/// Deletes objects. A remaining object is unreferenced and harmless, so a failure is only logged.
async fn delete_objects(photo_store: &PhotoStore, keys: &[String]) {
    for key in keys {
        if let Err(error) = photo_store.delete(key).await {
            tracing::warn!(%error, "an object of the photo store that no row names was not deleted");
        }
    }
}

/// Deletes photos that no request references and that were not updated since `before`: unfinished uploads,
/// and photos whose request never arrived. Returns their number.
///
/// # Errors
/// The database or the photo store; photos deleted before the error stay deleted.
pub async fn delete_unreferenced(
    database: &Database,
    photo_store: &PhotoStore,
    before: Timestamp,
) -> Result<u64, UploadError> {
    let found = database
        .run_one(Statement::new(
            "SELECT p.sender, p.sha256 FROM photos p WHERE p.updated_at < $1 AND NOT EXISTS
             (SELECT 1 FROM request_photos r WHERE r.sender = p.sender AND r.sha256 = p.sha256)
             ORDER BY p.updated_at LIMIT 1000",
            [before.0.into()],
        ))
        .await?;
    let mut count = 0;
    for mut row in found.rows {
        let sender = Sender(row.int()?);
        let hash = row
            .bytes()?
            .try_into()
            .map(PhotoHash)
            .map_err(|_| DatabaseError::Domain { column: "photos.sha256", expected: "32 bytes" })?;
        let key = || [sender.0.into(), hash.0.into()];
        let deleted = database
            .transaction(vec![
                Statement::new(
                    "SELECT object_key FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                    key(),
                ),
                Statement::new("SELECT object_key FROM photos WHERE sender = $1 AND sha256 = $2", key()),
                Statement::new("DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2", key()),
                // Rows are deleted before objects, so that a concurrent request finds the photo missing, not broken.
                Statement::new(
                    "DELETE FROM photos WHERE sender = $1 AND sha256 = $2 AND updated_at < $3 AND NOT EXISTS
                     (SELECT 1 FROM request_photos r WHERE r.sender = photos.sender AND r.sha256 = photos.sha256)",
                    [sender.0.into(), hash.0.into(), before.0.into()],
                )
                .expecting_one_row(),
            ])
            .await;
        let deleted = match deleted {
            Err(DatabaseError::Conflict) => continue,
            other => other?,
        };
        for mut row in deleted.into_iter().flat_map(|outcome| outcome.rows) {
            if let Some(key) = row.maybe_text()? {
                photo_store.delete(&key).await?;
            }
        }
        count += 1;
    }
    Ok(count)
}
