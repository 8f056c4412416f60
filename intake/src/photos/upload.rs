//! A photo on its way in.
//!
//! A part's bytes are put on the shelf under a name nobody else uses, then one transaction adds the part and moves the
//! mark of how far the photo has got, if that still is where the part begins. So a process killed in between leaves at
//! most an unnamed object behind, and of two parts that race one is taken. The mark reaches the whole length only
//! together with the words that the photo is whole and is what its name says.

use super::{ContentRange, Refused, Shelf, ShelfError, look};
use crate::database::{Database, DatabaseError, Statement};
use crate::secret::{NoChance, random, sha256};
use crate::senders::Sender;
use bytes::{Bytes, BytesMut};
use data_encoding::HEXLOWER;
use steerwright_core::book::Moment;
use steerwright_core::orders::PhotoHash;

/// How much of a photo is here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Here {
    /// Bytes from its start.
    pub bytes: u64,
    /// Whether that is all, and checked.
    pub whole: bool,
}

/// What came of a part.
pub type Progress = Here;

/// Why a part was not taken.
#[derive(Debug, thiserror::Error)]
pub enum PutError {
    /// It does not begin where the one before ended, which was here.
    #[error("the part does not begin at byte {0}")]
    Offset(u64),
    /// The whole is not what its name says; its parts were thrown away.
    #[error("the bytes are not those of this name")]
    Hash,
    /// The whole is what its name says, but is not taken; its parts were thrown away.
    #[error("{0}")]
    Refused(#[from] Refused),
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// The shelf.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// No random bytes.
    #[error(transparent)]
    Chance(#[from] NoChance),
}

/// A sender's photo; every sender has its own, so nobody learns by asking what another sent.
fn name(sender: Sender, hash: PhotoHash) -> String {
    format!("whole/{}/{hash}.jpg", sender.0)
}

/// How far a photo has got; `None` where nothing of it is here.
///
/// # Errors
/// The database.
pub async fn progress(
    database: &Database,
    sender: Sender,
    hash: PhotoHash,
) -> Result<Option<Here>, DatabaseError> {
    Ok(row(database, sender, hash).await?.map(|(here, _)| here))
}

async fn row(
    database: &Database,
    sender: Sender,
    hash: PhotoHash,
) -> Result<Option<(Here, u64)>, DatabaseError> {
    let found = database
        .one(Statement::new(
            "SELECT here, total, whole_at FROM photos WHERE sender = $1 AND sha256 = $2",
            [sender.0.into(), hash.0.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let length = |value| u64::try_from(value).map_err(|_| DatabaseError::Row("a length"));
    let (here, total) = (length(row.int()?)?, length(row.int()?)?);
    Ok(Some((Here { bytes: here, whole: row.maybe_int()?.is_some() }, total)))
}

/// The bytes of a whole photo.
///
/// # Errors
/// The database or the shelf.
pub async fn read(
    database: &Database,
    shelf: &Shelf,
    sender: Sender,
    hash: PhotoHash,
) -> Result<Option<Bytes>, PutError> {
    match progress(database, sender, hash).await? {
        Some(Here { whole: true, .. }) => Ok(shelf.get(&name(sender, hash)).await?),
        _ => Ok(None),
    }
}

/// Takes a part, whose length is the range's.
///
/// # Errors
/// Why it was not taken.
pub async fn put(
    database: &Database,
    shelf: &Shelf,
    sender: Sender,
    hash: PhotoHash,
    range: ContentRange,
    part: Bytes,
    now: Moment,
) -> Result<Progress, PutError> {
    let before = row(database, sender, hash).await?;
    let (here, total) = before.unwrap_or((Here { bytes: 0, whole: false }, range.total));
    if here.whole {
        return Ok(here);
    }
    if total != range.total {
        // One name has one length, so one of the two was wrong: the photo starts over.
        let objects = parts(database, sender, hash).await?;
        forget(database, sender, hash).await?;
        remove(shelf, &objects).await;
        return Err(PutError::Offset(0));
    }
    if here.bytes != range.first {
        return Err(PutError::Offset(here.bytes));
    }
    if range.last + 1 == total {
        return complete(database, shelf, sender, hash, range, part, now).await;
    }
    let object = format!("parts/{}/{hash}/{}", sender.0, HEXLOWER.encode(&random::<16>()?));
    shelf.put(&object, part).await?;
    let taken = take_part(database, sender, hash, range, &object, now).await;
    match taken {
        Ok(()) => Ok(Here { bytes: range.last + 1, whole: false }),
        Err(DatabaseError::Overtaken) => {
            shelf.delete(&object).await?;
            Err(PutError::Offset(row(database, sender, hash).await?.map_or(0, |(here, _)| here.bytes)))
        }
        Err(error) => Err(error.into()),
    }
}

/// Lengths are below the limit of a photo, far from the ends of either type.
fn signed(length: u64) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}

async fn take_part(
    database: &Database,
    sender: Sender,
    hash: PhotoHash,
    range: ContentRange,
    object: &str,
    now: Moment,
) -> Result<(), DatabaseError> {
    let (first, end) = (signed(range.first), signed(range.last + 1));
    database
        .run(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total, here, touched_at) VALUES ($1, $2, $3, 0, $4)
                 ON CONFLICT (sender, sha256) DO NOTHING",
                [sender.0.into(), hash.0.into(), signed(range.total).into(), now.0.into()],
            ),
            Statement::new(
                "UPDATE photos SET here = $1, touched_at = $2
                 WHERE sender = $3 AND sha256 = $4 AND here = $5 AND total = $6 AND whole_at IS NULL",
                [
                    end.into(),
                    now.0.into(),
                    sender.0.into(),
                    hash.0.into(),
                    first.into(),
                    signed(range.total).into(),
                ],
            )
            .changing_one(),
            Statement::new(
                "INSERT INTO photo_parts (sender, sha256, start, object) VALUES ($1, $2, $3, $4)",
                [sender.0.into(), hash.0.into(), first.into(), object.into()],
            ),
        ])
        .await?;
    Ok(())
}

async fn parts(database: &Database, sender: Sender, hash: PhotoHash) -> Result<Vec<String>, DatabaseError> {
    let found = database
        .one(Statement::new(
            "SELECT object FROM photo_parts WHERE sender = $1 AND sha256 = $2 ORDER BY start",
            [sender.0.into(), hash.0.into()],
        ))
        .await?;
    found.rows.into_iter().map(|mut row| row.text()).collect()
}

/// The last part has come: everything is put together and looked at.
async fn complete(
    database: &Database,
    shelf: &Shelf,
    sender: Sender,
    hash: PhotoHash,
    range: ContentRange,
    last: Bytes,
    now: Moment,
) -> Result<Progress, PutError> {
    let objects = parts(database, sender, hash).await?;
    let mut whole = BytesMut::with_capacity(usize::try_from(range.total).unwrap_or_default());
    for object in &objects {
        match shelf.get(object).await? {
            Some(bytes) => whole.extend_from_slice(&bytes),
            // Another process has put it together or thrown it away; or somebody emptied the shelf.
            None => break,
        }
    }
    whole.extend_from_slice(&last);
    let whole = whole.freeze();
    let sound =
        if sha256(&whole) != hash.0 { Err(PutError::Hash) } else { look(&whole).map_err(PutError::from) };
    if let Err(error) = sound {
        if let Some(here) = progress(database, sender, hash).await?.filter(|here| here.whole) {
            return Ok(here);
        }
        forget(database, sender, hash).await?;
        remove(shelf, &objects).await;
        return Err(error);
    }
    // The same bytes whoever puts them, so it does no harm if two do.
    shelf.put(&name(sender, hash), whole).await?;
    let total = signed(range.total);
    database
        .run(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total, here, touched_at, whole_at) VALUES ($1, $2, $3, $4, $5, $6)
                 ON CONFLICT (sender, sha256) DO UPDATE
                 SET total = excluded.total, here = excluded.here, touched_at = excluded.touched_at,
                 whole_at = excluded.whole_at",
                [
                    sender.0.into(),
                    hash.0.into(),
                    total.into(),
                    total.into(),
                    now.0.into(),
                    now.0.into(),
                ],
            ),
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [sender.0.into(), hash.0.into()],
            ),
        ])
        .await?;
    remove(shelf, &objects).await;
    Ok(Here { bytes: range.total, whole: true })
}

async fn forget(database: &Database, sender: Sender, hash: PhotoHash) -> Result<(), DatabaseError> {
    database
        .run(vec![
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [sender.0.into(), hash.0.into()],
            ),
            Statement::new(
                "DELETE FROM photos WHERE sender = $1 AND sha256 = $2 AND whole_at IS NULL",
                [sender.0.into(), hash.0.into()],
            ),
        ])
        .await?;
    Ok(())
}

/// What stays behind if this fails is unnamed and harmless, so the photo is taken all the same.
async fn remove(shelf: &Shelf, objects: &[String]) {
    for object in objects {
        if let Err(error) = shelf.delete(object).await {
            tracing::warn!(%error, "a part of a photo that is no longer needed was left on the shelf");
        }
    }
}
