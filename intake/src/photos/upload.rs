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
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::PhotoHash;

/// A photo of a sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Photo {
    /// Whose.
    pub sender: Sender,
    /// Its name.
    pub hash: PhotoHash,
}

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
    /// Too much of the sender is here that no request names.
    #[error("too many photos are here that no request names")]
    Loose,
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

/// A name on the shelf that nobody else uses. Every sender has photos of its own, so nobody learns by asking what another
/// sent; and a photo that comes again never meets the one that is being tidied away.
fn fresh(kind: &str, photo: Photo) -> Result<String, NoChance> {
    Ok(format!("{kind}/{}/{}-{}", photo.sender.0, photo.hash, HEXLOWER.encode(&random::<16>()?)))
}

/// How far a photo has got; `None` where nothing of it is here.
///
/// # Errors
/// The database.
pub async fn progress(database: &Database, photo: Photo) -> Result<Option<Here>, DatabaseError> {
    Ok(row(database, photo).await?.map(|(here, _)| here))
}

async fn row(database: &Database, photo: Photo) -> Result<Option<(Here, u64)>, DatabaseError> {
    let found = database
        .one(Statement::new(
            "SELECT here, total, whole_at FROM photos WHERE sender = $1 AND sha256 = $2",
            [photo.sender.0.into(), photo.hash.0.into()],
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
pub async fn read(database: &Database, shelf: &Shelf, photo: Photo) -> Result<Option<Bytes>, PutError> {
    let found = database
        .one(Statement::new(
            "SELECT object FROM photos WHERE sender = $1 AND sha256 = $2 AND whole_at IS NOT NULL",
            [photo.sender.0.into(), photo.hash.0.into()],
        ))
        .await?;
    match found.rows.into_iter().next() {
        Some(mut row) => Ok(shelf.get(&row.text()?).await?),
        None => Ok(None),
    }
}

/// Takes a part, whose length is the range's; `most_loose` is how many bytes of photos that no request names yet a sender
/// may have here.
///
/// # Errors
/// Why it was not taken.
pub async fn put(
    database: &Database,
    shelf: &Shelf,
    photo: Photo,
    range: ContentRange,
    part: Bytes,
    now: Timestamp,
    most_loose: u64,
) -> Result<Progress, PutError> {
    let before = row(database, photo).await?;
    let (here, total) = before.unwrap_or((Here { bytes: 0, whole: false }, range.total));
    if here.whole {
        return Ok(here);
    }
    if total != range.total {
        // One name has one length, so one of the two was wrong: the photo starts over.
        let objects = parts(database, photo).await?;
        forget(database, photo).await?;
        remove(shelf, &objects).await;
        return Err(PutError::Offset(0));
    }
    if here.bytes != range.first {
        return Err(PutError::Offset(here.bytes));
    }
    if before.is_none() && loose(database, photo.sender).await?.saturating_add(total) > most_loose {
        return Err(PutError::Loose);
    }
    if range.last + 1 == total {
        return complete(database, shelf, photo, range, part, now).await;
    }
    let object = fresh("parts", photo)?;
    shelf.put(&object, part).await?;
    let taken = take_part(database, photo, range, &object, now).await;
    match taken {
        Ok(()) => Ok(Here { bytes: range.last + 1, whole: false }),
        Err(DatabaseError::Overtaken) => {
            shelf.delete(&object).await?;
            Err(PutError::Offset(row(database, photo).await?.map_or(0, |(here, _)| here.bytes)))
        }
        Err(error) => Err(error.into()),
    }
}

/// Bytes of a sender's photos that no request names, those announced included.
async fn loose(database: &Database, sender: Sender) -> Result<u64, DatabaseError> {
    let found = database
        .one(Statement::new(
            "SELECT CAST(coalesce(sum(p.total), 0) AS BIGINT) FROM photos p WHERE p.sender = $1 AND NOT EXISTS
             (SELECT 1 FROM request_photos r WHERE r.sender = p.sender AND r.sha256 = p.sha256)",
            [sender.0.into()],
        ))
        .await?;
    let sum = found.rows.into_iter().next().map_or(Ok(0), |mut row| row.int())?;
    u64::try_from(sum).map_err(|_| DatabaseError::Row("a length"))
}

/// Lengths are below the limit of a photo, far from the ends of either type.
fn signed(length: u64) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}

async fn take_part(
    database: &Database,
    photo: Photo,
    range: ContentRange,
    object: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    let (first, end) = (signed(range.first), signed(range.last + 1));
    database
        .run(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total, here, touched_at) VALUES ($1, $2, $3, 0, $4)
                 ON CONFLICT (sender, sha256) DO NOTHING",
                [photo.sender.0.into(), photo.hash.0.into(), signed(range.total).into(), now.0.into()],
            ),
            Statement::new(
                "UPDATE photos SET here = $1, touched_at = $2
                 WHERE sender = $3 AND sha256 = $4 AND here = $5 AND total = $6 AND whole_at IS NULL",
                [
                    end.into(),
                    now.0.into(),
                    photo.sender.0.into(),
                    photo.hash.0.into(),
                    first.into(),
                    signed(range.total).into(),
                ],
            )
            .changing_one(),
            Statement::new(
                "INSERT INTO photo_parts (sender, sha256, start, object) VALUES ($1, $2, $3, $4)",
                [photo.sender.0.into(), photo.hash.0.into(), first.into(), object.into()],
            ),
        ])
        .await?;
    Ok(())
}

async fn parts(database: &Database, photo: Photo) -> Result<Vec<String>, DatabaseError> {
    let found = database
        .one(Statement::new(
            "SELECT object FROM photo_parts WHERE sender = $1 AND sha256 = $2 ORDER BY start",
            [photo.sender.0.into(), photo.hash.0.into()],
        ))
        .await?;
    found.rows.into_iter().map(|mut row| row.text()).collect()
}

/// The last part has come: everything is put together and looked at.
async fn complete(
    database: &Database,
    shelf: &Shelf,
    photo: Photo,
    range: ContentRange,
    last: Bytes,
    now: Timestamp,
) -> Result<Progress, PutError> {
    let objects = parts(database, photo).await?;
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
    let sound = if sha256(&whole) != photo.hash.0 {
        Err(PutError::Hash)
    } else {
        look(&whole).map_err(PutError::from)
    };
    if let Err(error) = sound {
        if let Some(here) = progress(database, photo).await?.filter(|here| here.whole) {
            return Ok(here);
        }
        forget(database, photo).await?;
        remove(shelf, &objects).await;
        return Err(error);
    }
    let object = fresh("whole", photo)?;
    shelf.put(&object, whole).await?;
    let total = signed(range.total);
    let stored = database
        .run(vec![
            Statement::new(
                "INSERT INTO photos (sender, sha256, total, here, touched_at, whole_at, object)
                 VALUES ($1, $2, $3, $4, $5, $6, $7)
                 ON CONFLICT (sender, sha256) DO UPDATE
                 SET total = excluded.total, here = excluded.here, touched_at = excluded.touched_at,
                 whole_at = excluded.whole_at, object = excluded.object
                 WHERE photos.whole_at IS NULL",
                [
                    photo.sender.0.into(),
                    photo.hash.0.into(),
                    total.into(),
                    total.into(),
                    now.0.into(),
                    now.0.into(),
                    object.as_str().into(),
                ],
            )
            .changing_one(),
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [photo.sender.0.into(), photo.hash.0.into()],
            ),
        ])
        .await;
    match stored {
        // Another process was first, with the same bytes.
        Err(DatabaseError::Overtaken) => remove(shelf, std::slice::from_ref(&object)).await,
        other => drop(other?),
    }
    remove(shelf, &objects).await;
    Ok(Here { bytes: range.total, whole: true })
}

async fn forget(database: &Database, photo: Photo) -> Result<(), DatabaseError> {
    database
        .run(vec![
            Statement::new(
                "DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                [photo.sender.0.into(), photo.hash.0.into()],
            ),
            Statement::new(
                "DELETE FROM photos WHERE sender = $1 AND sha256 = $2 AND whole_at IS NULL",
                [photo.sender.0.into(), photo.hash.0.into()],
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

/// Throws away what no request names and nobody has touched since `before`: photos that were never finished, or whose
/// request never came. How many.
///
/// # Errors
/// The database or the shelf; what was done until then is done.
pub async fn tidy(database: &Database, shelf: &Shelf, before: Timestamp) -> Result<u64, PutError> {
    let found = database
        .one(Statement::new(
            "SELECT p.sender, p.sha256 FROM photos p WHERE p.touched_at < $1 AND NOT EXISTS
             (SELECT 1 FROM request_photos r WHERE r.sender = p.sender AND r.sha256 = p.sha256)
             ORDER BY p.touched_at LIMIT 1000",
            [before.0.into()],
        ))
        .await?;
    let mut count = 0;
    for mut row in found.rows {
        let sender = Sender(row.int()?);
        let hash = row.bytes()?.try_into().map(PhotoHash).map_err(|_| DatabaseError::Row("a hash"))?;
        let key = || [sender.0.into(), hash.0.into()];
        let gone = database
            .run(vec![
                Statement::new(
                    "SELECT object FROM photo_parts WHERE sender = $1 AND sha256 = $2",
                    key(),
                ),
                Statement::new("SELECT object FROM photos WHERE sender = $1 AND sha256 = $2", key()),
                Statement::new("DELETE FROM photo_parts WHERE sender = $1 AND sha256 = $2", key()),
                // Rows first: a request that comes meanwhile finds the photo missing, not broken.
                Statement::new(
                    "DELETE FROM photos WHERE sender = $1 AND sha256 = $2 AND touched_at < $3 AND NOT EXISTS
                     (SELECT 1 FROM request_photos r WHERE r.sender = photos.sender AND r.sha256 = photos.sha256)",
                    [sender.0.into(), hash.0.into(), before.0.into()],
                )
                .changing_one(),
            ])
            .await;
        let gone = match gone {
            Err(DatabaseError::Overtaken) => continue,
            other => other?,
        };
        for mut row in gone.into_iter().flat_map(|outcome| outcome.rows) {
            if let Some(object) = row.maybe_text()? {
                shelf.delete(&object).await?;
            }
        }
        count += 1;
    }
    Ok(count)
}
