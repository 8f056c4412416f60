//! What senders say about requests that are stored: messages, and withdrawals.

use crate::crypto::random_bytes;
use crate::database::{Database, DatabaseError, Statement};
use crate::orders::{OrdersError, receipt};
use crate::senders::Sender;
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{Cancellation, CancellationOutcome, CancellationSchema, OrderMessage};

/// The result of storing a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MessageOutcome {
    /// It is stored, now or before.
    Stored,
    /// The sender has no such request here, or its contact is erased.
    NoRequest,
    /// The id was used earlier with another body.
    BodyMismatch,
}

/// Stores a message once. A request that waited for the sender waits for the shop again.
///
/// # Errors
/// The database.
pub async fn store(
    database: &Database,
    sender: Sender,
    message: &OrderMessage,
    body_hash: [u8; 32],
    now: Timestamp,
) -> Result<MessageOutcome, DatabaseError> {
    let (id, request) = (message.id.to_string(), message.request.to_string());
    let outcomes = database
        .transaction(vec![
            Statement::new(
                "INSERT INTO messages (sender, id, request, body_hash, text, changed, received_at)
                 SELECT r.sender, $1, r.number, $2, $3, $4, $5 FROM requests r
                 WHERE r.sender = $6 AND r.id = $7 AND r.erased_at IS NULL
                 ON CONFLICT (sender, id) DO NOTHING",
                [
                    id.as_str().into(),
                    body_hash.into(),
                    message.text.as_str().into(),
                    message.changed.map(|id| id.to_string()).into(),
                    now.0.into(),
                    sender.0.into(),
                    request.as_str().into(),
                ],
            ),
            // A repeated message answers no later question: only one that is newer than the question counts.
            Statement::new(
                "UPDATE requests SET status = 'waiting', message = NULL, answered_by = NULL,
                     status_since = (SELECT max(m.received_at) FROM messages m WHERE m.request = requests.number) + 1
                 WHERE sender = $1 AND id = $2 AND status = 'question' AND status_since <=
                     (SELECT max(m.received_at) FROM messages m WHERE m.request = requests.number)",
                [sender.0.into(), request.as_str().into()],
            ),
            Statement::new(
                "SELECT body_hash FROM messages WHERE sender = $1 AND id = $2",
                [sender.0.into(), id.as_str().into()],
            ),
        ])
        .await?;
    let stored = outcomes.into_iter().nth(2).and_then(|outcome| outcome.rows.into_iter().next());
    Ok(match stored.map(|mut row| row.bytes()).transpose()? {
        None => MessageOutcome::NoRequest,
        Some(hash) if hash != body_hash => MessageOutcome::BodyMismatch,
        Some(_) => MessageOutcome::Stored,
    })
}

/// Withdraws a request for its sender, as often as it is asked for. One that is not stored is refused from then on.
///
/// # Errors
/// The database, no random bytes, or an unreadable row.
pub async fn cancel(
    database: &Database,
    sender: Sender,
    id: OrderId,
    contact: Option<&str>,
    now: Timestamp,
) -> Result<Cancellation, OrdersError> {
    let name = id.to_string();
    database
        .transaction(vec![
            // Locks the key's row, so that the request is stored before this transaction or not at all.
            Statement::new(
                "INSERT INTO claims (sender, id, body_hash, nonce, claimed_at, cancelled_at)
                 VALUES ($1, $2, $3, $4, 0, $5)
                 ON CONFLICT (sender, id) DO UPDATE
                 SET cancelled_at = coalesce(claims.cancelled_at, excluded.cancelled_at)",
                [
                    sender.0.into(),
                    name.as_str().into(),
                    [0; 32].into(),
                    random_bytes::<16>()?.as_slice().into(),
                    now.0.into(),
                ],
            ),
            Statement::new(
                "UPDATE requests SET cancelled_at = $1 WHERE sender = $2 AND id = $3 AND cancelled_at IS NULL",
                [now.0.into(), sender.0.into(), name.as_str().into()],
            ),
            Statement::new(
                "UPDATE requests SET status = 'withdrawn', message = NULL, answered_by = NULL,
                     status_since = CASE WHEN status_since < $1 THEN $1 ELSE status_since + 1 END
                 WHERE sender = $2 AND id = $3 AND status IN ('waiting', 'question')",
                [now.0.into(), sender.0.into(), name.as_str().into()],
            ),
        ])
        .await?;
    let receipt = receipt(database, sender, id, contact).await?;
    let outcome = match receipt.as_ref().map(|receipt| receipt.state) {
        None => CancellationOutcome::Unknown,
        Some(status) if status.delivers() => CancellationOutcome::TooLate,
        Some(_) => CancellationOutcome::Accepted,
    };
    Ok(Cancellation { schema: CancellationSchema::V1, outcome, receipt })
}

/// A message as the page shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredMessage {
    /// The text; `None` once it is erased.
    pub text: Option<String>,
    /// The changed request that comes with it.
    pub changed: Option<String>,
    /// Its number, if it is stored.
    pub changed_number: Option<i64>,
    /// When it came.
    pub received_at: Timestamp,
}

/// The messages about a request, newest first.
///
/// # Errors
/// The database.
pub async fn of_request(database: &Database, number: i64) -> Result<Vec<StoredMessage>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT m.text, m.changed,
                 (SELECT max(o.number) FROM requests o WHERE o.sender = m.sender AND o.id = m.changed), m.received_at
             FROM messages m WHERE m.request = $1 ORDER BY m.number DESC",
            [number.into()],
        ))
        .await?;
    let message = |mut row: crate::database::Row| {
        Ok(StoredMessage {
            text: row.maybe_text()?,
            changed: row.maybe_text()?,
            changed_number: row.maybe_int()?,
            received_at: Timestamp(row.int()?),
        })
    };
    found.rows.into_iter().map(message).collect()
}
