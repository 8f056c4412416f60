//! Erasing personal data, and deleting requests and photos.

use crate::audit;
use crate::crypto::random_bytes;
use crate::database::{Database, DatabaseError, Statement};
use crate::orders::{OrdersError, StoredRequest, load, request_number, search_text};
use crate::photos::{PhotoStore, UploadError, delete_unreferenced};
use crate::senders::Sender;
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{Contact, OrderRequest};

/// What is erased beside the contact, the notes and all that was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Also {
    /// The photos.
    pub photos: bool,
    /// The bike's name.
    pub bike: bool,
}

/// The name of a bike whose name is erased.
const NAMELESS: &str = "A bike";

/// The time that photos to be deleted at once are given, before that of any other.
const AT_ONCE: i64 = -1;

/// Erases personal data: the contact, the note, the bike's owner, the notes of photos and readings, the shop's own notes, and
/// the shop's and the sender's messages; and what `also` names. The kit and the readings stay. Returns whether there was
/// something to erase. It is gone from the rows on return; see [`Database::purge_erased`] for the files.
///
/// # Errors
/// The database, or an unreadable row.
pub async fn erase(
    database: &Database,
    number: i64,
    also: Also,
    who: &str,
    now: Timestamp,
) -> Result<bool, OrdersError> {
    let Some(StoredRequest { mut request, erased_at, .. }) = load(database, number).await? else {
        return Ok(false);
    };
    if erased_at.is_some() && also == Also::default() {
        return Ok(false);
    }
    request.note.clear();
    request.bike.owner = None;
    request.photos.iter_mut().for_each(|photo| photo.note.clear());
    request.bike.measured.iter_mut().for_each(|row| row.note = None);
    if also.photos {
        request.photos.clear();
    }
    if also.bike {
        request.bike.name = NAMELESS.to_owned();
    }
    let search = search_text(&request, &Contact::default());
    let bike = request.bike.name.clone();
    let body = body(&request)?;
    let of = |sql| Statement::new(sql, [number.into()]);
    let mut statements = vec![
        Statement::new(
            "UPDATE requests SET contact = NULL, customer = NULL, message = NULL, body = $1, bike = $2, search = $3,
                 erased_at = coalesce(erased_at, $4) WHERE number = $5",
            [body.into(), bike.into(), search.into(), now.0.into(), number.into()],
        ),
        of("UPDATE answers SET message = NULL WHERE request = $1"),
        of("UPDATE messages SET text = NULL WHERE request = $1"),
        of("DELETE FROM notes WHERE request = $1"),
        audit::note(who, "erased who asked in request", number.to_string(), now),
    ];
    if also.photos {
        statements.extend(without_photos(number));
    }
    database.transaction(statements).await?;
    Ok(true)
}

fn body(request: &OrderRequest) -> Result<String, OrdersError> {
    serde_json::to_string(request).map_err(|_| OrdersError::Serialize("a request"))
}

/// Statements that take a request's photos away, so that those that no other request names are deleted next.
fn without_photos(number: i64) -> [Statement; 2] {
    [
        Statement::new(
            "UPDATE photos SET updated_at = $1 WHERE EXISTS (SELECT 1 FROM request_photos r
                 WHERE r.request = $2 AND r.sender = photos.sender AND r.sha256 = photos.sha256)",
            [AT_ONCE.into(), number.into()],
        ),
        Statement::new("DELETE FROM request_photos WHERE request = $1", [number.into()]),
    ]
}

/// Erases for a sender, as the shop's page does. A request that is not stored is refused from then on, so that one that
/// arrives late stays erased.
///
/// # Errors
/// The database, no random bytes, or an unreadable row.
pub async fn erase_for_sender(
    database: &Database,
    sender: Sender,
    id: OrderId,
    now: Timestamp,
) -> Result<(), OrdersError> {
    // First the key: a request that is being stored at this moment comes before this statement, or not at all.
    database
        .run_one(Statement::new(
            "INSERT INTO claims (sender, id, body_hash, nonce, claimed_at, erased_at) VALUES ($1, $2, $3, $4, 0, $5)
             ON CONFLICT (sender, id) DO UPDATE SET erased_at = coalesce(claims.erased_at, excluded.erased_at)
             WHERE claims.answer IS NULL",
            [
                sender.0.into(),
                id.to_string().into(),
                [0; 32].into(),
                random_bytes::<16>()?.as_slice().into(),
                now.0.into(),
            ],
        ))
        .await?;
    if let Some(number) = request_number(database, sender, id).await? {
        erase(database, number, Also::default(), "its sender", now).await?;
    }
    Ok(())
}

/// Deletes a request with everything said about it. Its key stays, so that it is not stored again. Returns whether it was
/// there.
///
/// # Errors
/// The database.
pub async fn delete_request(
    database: &Database,
    number: i64,
    who: &str,
    now: Timestamp,
) -> Result<bool, DatabaseError> {
    let of = |sql| Statement::new(sql, [number.into()]);
    let mut statements = Vec::from(without_photos(number));
    statements.extend([
        of("DELETE FROM answers WHERE request = $1"),
        of("DELETE FROM messages WHERE request = $1"),
        of("DELETE FROM notes WHERE request = $1"),
        of("DELETE FROM requests WHERE number = $1").expecting_one_row(),
        audit::note(who, "deleted request", number.to_string(), now),
    ]);
    match database.transaction(statements).await {
        Ok(_) => Ok(true),
        Err(DatabaseError::Conflict) => Ok(false),
        Err(error) => Err(error),
    }
}

/// Deletes the photos that [`erase`] and [`delete_request`] took away from their requests. Returns their number.
///
/// # Errors
/// The database or the photo store.
pub async fn delete_loose_photos(database: &Database, photo_store: &PhotoStore) -> Result<u64, UploadError> {
    delete_unreferenced(database, photo_store, Timestamp(AT_ONCE + 1)).await
}

/// Deletes decided requests that were not changed since `before`. Returns their number.
///
/// # Errors
/// The database; requests deleted before the error stay deleted.
pub async fn expire_requests(
    database: &Database,
    before: Timestamp,
    now: Timestamp,
) -> Result<u64, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT number FROM requests WHERE status NOT IN ('waiting', 'question') AND status_since < $1
             ORDER BY number LIMIT 1000",
            [before.0.into()],
        ))
        .await?;
    let mut count = 0;
    for mut row in found.rows {
        count += u64::from(delete_request(database, row.int()?, audit::SETTING, now).await?);
    }
    Ok(count)
}

/// Takes the photos of decided requests away that were not changed since `before`. Returns the number of requests.
///
/// # Errors
/// The database, or an unreadable row.
pub async fn expire_photos(
    database: &Database,
    before: Timestamp,
    now: Timestamp,
) -> Result<u64, OrdersError> {
    let found = database
        .run_one(Statement::new(
            "SELECT number FROM requests WHERE status NOT IN ('waiting', 'question') AND status_since < $1
             AND EXISTS (SELECT 1 FROM request_photos p WHERE p.request = number) ORDER BY number LIMIT 1000",
            [before.0.into()],
        ))
        .await?;
    let mut count = 0;
    for mut row in found.rows {
        let number = row.int()?;
        let Some(StoredRequest { mut request, .. }) = load(database, number).await? else { continue };
        request.photos.clear();
        let mut statements = Vec::from(without_photos(number));
        statements.push(Statement::new(
            "UPDATE requests SET body = $1 WHERE number = $2",
            [body(&request)?.into(), number.into()],
        ));
        statements.push(audit::note(
            audit::SETTING,
            "deleted the photos of request",
            number.to_string(),
            now,
        ));
        database.transaction(statements).await?;
        count += 1;
    }
    Ok(count)
}
