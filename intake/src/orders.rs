//! Stored order requests: idempotency keys, storing, answering, erasing contacts.

use crate::crypto::{RandomnessError, random_bytes};
use crate::database::{Database, DatabaseError, Row, Statement};
use crate::senders::Sender;
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{Contact, OrderRequest, Receipt, ReceiptSchema, ShopStatus};

/// How far the clocks of several processes may be apart, ms; a claim that is further in the future counts as expired.
const CLOCKS_APART_MS: i64 = 10_000;

/// The result of claiming an idempotency key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ClaimOutcome {
    /// The key was free or its claim had expired. The caller owns it and handles the request.
    Acquired(Claim),
    /// The request is already stored; contains the body of the earlier response.
    AlreadyAnswered(String),
    /// Another call is handling the request.
    InProgress,
    /// The key was used earlier with another body.
    BodyMismatch,
    /// The sender withdrew the request before it arrived.
    Cancelled,
    /// The contact was erased before the request arrived.
    Erased,
}

/// Ownership of an idempotency key until it expires.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    sender: Sender,
    id: OrderId,
    nonce: [u8; 16],
}

/// Why an operation on order requests failed. The messages contain no request values.
#[derive(Debug, thiserror::Error)]
pub enum OrdersError {
    /// Error of the database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// No random bytes are available.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// A stored column cannot be parsed.
    #[error("column {0} of a stored request cannot be parsed")]
    Parse(&'static str),
    /// A value cannot be serialized.
    #[error("{0} cannot be written as JSON")]
    Serialize(&'static str),
    /// The row of a claim is missing in the transaction that wrote it.
    #[error("the row of a claim is missing in the transaction that wrote it")]
    ClaimMissing,
}

/// Claims an idempotency key for a body, in one transaction, so that exactly one of any number of processes
/// obtains it. A claim older than `expires_ms` belongs to a process that ended without storing anything, and
/// is replaced; so is one of the future, made before the clock was set back.
///
/// # Errors
/// The database, or no random bytes.
pub async fn claim(
    database: &Database,
    sender: Sender,
    id: OrderId,
    body_hash: [u8; 32],
    now: Timestamp,
    expires_ms: i64,
) -> Result<ClaimOutcome, OrdersError> {
    let nonce = random_bytes::<16>()?;
    let outcomes = database
        .transaction(vec![
            Statement::new(
                "INSERT INTO claims (sender, id, body_hash, nonce, claimed_at) VALUES ($1, $2, $3, $4, $5)
                 ON CONFLICT (sender, id) DO UPDATE
                 SET body_hash = excluded.body_hash, nonce = excluded.nonce, claimed_at = excluded.claimed_at
                 WHERE claims.answer IS NULL AND claims.cancelled_at IS NULL AND claims.erased_at IS NULL
                 AND (claims.claimed_at <= $6 OR claims.claimed_at > $7)",
                [
                    sender.0.into(),
                    id.to_string().into(),
                    body_hash.into(),
                    nonce.as_slice().into(),
                    now.0.into(),
                    now.0.saturating_sub(expires_ms).into(),
                    now.0.saturating_add(CLOCKS_APART_MS).into(),
                ],
            ),
            Statement::new(
                "SELECT body_hash, nonce, answer, cancelled_at, erased_at FROM claims WHERE sender = $1 AND id = $2",
                [sender.0.into(), id.to_string().into()],
            ),
        ])
        .await?;
    let row = outcomes.into_iter().nth(1).and_then(|outcome| outcome.rows.into_iter().next());
    let mut row = row.ok_or(OrdersError::ClaimMissing)?;
    let (stored_hash, stored_nonce, answer) = (row.bytes()?, row.bytes()?, row.maybe_text()?);
    let (cancelled, erased) = (row.maybe_int()?.is_some(), row.maybe_int()?.is_some());
    Ok(match answer {
        None if cancelled => ClaimOutcome::Cancelled,
        None if erased => ClaimOutcome::Erased,
        _ if stored_nonce == nonce => ClaimOutcome::Acquired(Claim { sender, id, nonce }),
        _ if stored_hash != body_hash => ClaimOutcome::BodyMismatch,
        Some(answer) => ClaimOutcome::AlreadyAnswered(answer),
        None => ClaimOutcome::InProgress,
    })
}

/// Releases a claim, so that a corrected request can use the key.
///
/// # Errors
/// The database.
pub async fn release(database: &Database, claim: &Claim) -> Result<(), DatabaseError> {
    database
        .run_one(Statement::new(
            "DELETE FROM claims WHERE sender = $1 AND id = $2 AND nonce = $3 AND answer IS NULL AND cancelled_at IS NULL
             AND erased_at IS NULL",
            [claim.sender.0.into(), claim.id.to_string().into(), claim.nonce.as_slice().into()],
        ))
        .await?;
    Ok(())
}

/// Stores a request and its response in one transaction, and returns the response body: a [`Receipt`] as JSON, with the
/// shop's `contact`.
///
/// # Errors
/// [`DatabaseError::Conflict`] if the claim expired and another call took it, the request was withdrawn meanwhile, or a
/// photo was deleted; the database.
pub async fn store(
    database: &Database,
    claim: &Claim,
    request: OrderRequest,
    contact: Option<&str>,
    now: Timestamp,
) -> Result<String, OrdersError> {
    let [before_number, after_number] = first_receipt(claim.id, contact, now)?;
    let OrderRequest { contact, .. } = &request;
    let contact = serde_json::to_string(contact).map_err(|_| OrdersError::Serialize("a contact"))?;
    let verdict =
        serde_json::to_value(request.found.verdict).map_err(|_| OrdersError::Serialize("a verdict"))?;
    let (kind, sku, quantity) = (request.kind, request.kit.sku.clone(), request.kit.quantity);
    let (bike, replaces) = (request.bike.name.clone(), request.replaces.map(|id| id.to_string()));
    let (customer, search) = (request.contact.name.clone(), search_text(&request, &request.contact));
    let without_contact = OrderRequest { contact: Contact::default(), ..request };
    let body = serde_json::to_string(&without_contact).map_err(|_| OrdersError::Serialize("a request"))?;
    let photos: Vec<_> = without_contact.photos.iter().map(|photo| photo.sha256).collect();
    let mut statements = vec![
            // Locks the key's row: a withdrawal of the same request comes before this transaction or after it.
            Statement::new(
                "UPDATE claims SET claimed_at = claimed_at
                 WHERE sender = $1 AND id = $2 AND nonce = $3 AND answer IS NULL AND cancelled_at IS NULL
                 AND erased_at IS NULL",
                [
                    claim.sender.0.into(),
                    claim.id.to_string().into(),
                    claim.nonce.as_slice().into(),
                ],
            )
            .expecting_one_row(),
            Statement::new(
                "INSERT INTO requests (sender, id, received_at, status, status_since, kind, sku, quantity, bike, verdict, replaces,
                 body, contact, customer, search)
                 VALUES ($1, $2, $3, 'waiting', $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
                 ON CONFLICT (sender, id) DO NOTHING",
                [
                    claim.sender.0.into(),
                    claim.id.to_string().into(),
                    now.0.into(),
                    now.0.into(),
                    kind.name().into(),
                    sku.into(),
                    i64::from(quantity).into(),
                    bike.into(),
                    verdict.as_str().unwrap_or_default().into(),
                    replaces.into(),
                    body.into(),
                    contact.into(),
                    customer.into(),
                    search.into(),
                ],
            )
            .expecting_one_row(),
        ];
    // If a photo was deleted after its check, the foreign key fails the whole transaction.
    statements.extend(photos.into_iter().map(|photo| {
        Statement::new(
            "INSERT INTO request_photos (request, sender, sha256)
             SELECT number, sender, $1 FROM requests WHERE sender = $2 AND id = $3",
            [photo.0.into(), claim.sender.0.into(), claim.id.to_string().into()],
        )
        .expecting_one_row()
    }));
    // The database gives out the number, so the receipt is put together there.
    statements.push(
        Statement::new(
            "UPDATE claims SET answer = CAST($1 AS TEXT) || (SELECT CAST(number AS TEXT) FROM requests
                 WHERE sender = $2 AND id = $3) || CAST($4 AS TEXT)
             WHERE sender = $2 AND id = $3",
            [before_number.into(), claim.sender.0.into(), claim.id.to_string().into(), after_number.into()],
        )
        .expecting_one_row(),
    );
    statements.push(Statement::new(
        "SELECT answer FROM claims WHERE sender = $1 AND id = $2",
        [claim.sender.0.into(), claim.id.to_string().into()],
    ));
    let last = database.transaction(statements).await?.pop();
    let mut row = last.and_then(|last| last.rows.into_iter().next()).ok_or(OrdersError::ClaimMissing)?;
    Ok(row.text()?)
}

/// What a search looks at, in lower case, line by line.
pub(crate) fn search_text(request: &OrderRequest, contact: &Contact) -> String {
    let Contact { name, email, phone, .. } = contact;
    // A telephone number is found however it is grouped.
    let digits = phone.as_deref().map(|phone| phone.chars().filter(char::is_ascii_digit).collect::<String>());
    let owner = request.bike.owner.as_deref();
    let parts = [request.bike.name.as_str(), &request.kit.sku, &request.kit.name, name];
    let others = [email.as_deref(), phone.as_deref(), digits.as_deref(), owner];
    let lines: Vec<&str> = parts.into_iter().chain(others.into_iter().flatten()).collect();
    lines.join("\n").to_lowercase()
}

/// The first receipt of a request in JSON: the text before its number, and the text after it.
fn first_receipt(id: OrderId, contact: Option<&str>, now: Timestamp) -> Result<[String; 2], OrdersError> {
    let receipt = Receipt {
        schema: ReceiptSchema::V1,
        id,
        number: 0,
        received_at: now,
        state: ShopStatus::Waiting,
        since: now,
        message: None,
        contact: contact.map(str::to_owned),
    };
    let text = serde_json::to_string(&receipt).map_err(|_| OrdersError::Serialize("a receipt"))?;
    // The fields before it hold no text of anybody's choosing.
    let (before, after) = text.split_once("\"number\":0").ok_or(OrdersError::Serialize("a receipt"))?;
    Ok([format!("{before}\"number\":"), after.to_owned()])
}

/// The current receipt of a sender's request with the shop's `contact`, or `None` if the request is not stored.
///
/// # Errors
/// The database.
pub async fn receipt(
    database: &Database,
    sender: Sender,
    id: OrderId,
    contact: Option<&str>,
) -> Result<Option<Receipt>, OrdersError> {
    let found = database
        .run_one(Statement::new(
            "SELECT number, received_at, status, status_since, message FROM requests WHERE sender = $1 AND id = $2",
            [sender.0.into(), id.to_string().into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    Ok(Some(Receipt {
        schema: ReceiptSchema::V1,
        id,
        number: u64::try_from(row.int()?).map_err(|_| OrdersError::Parse("number"))?,
        received_at: Timestamp(row.int()?),
        state: parse_status(&row.text()?)?,
        since: Timestamp(row.int()?),
        message: row.maybe_text()?,
        contact: contact.map(str::to_owned),
    }))
}

/// The number of a sender's request: the key of [`load`].
///
/// # Errors
/// The database.
pub async fn request_number(
    database: &Database,
    sender: Sender,
    id: OrderId,
) -> Result<Option<i64>, DatabaseError> {
    let statement = Statement::new(
        "SELECT number FROM requests WHERE sender = $1 AND id = $2",
        [sender.0.into(), id.to_string().into()],
    );
    let found = database.run_one(statement).await?;
    found.rows.into_iter().next().map(|mut row| row.int()).transpose()
}

pub(crate) fn parse_status(name: &str) -> Result<ShopStatus, OrdersError> {
    ShopStatus::ALL.into_iter().find(|status| status.name() == name).ok_or(OrdersError::Parse("status"))
}

/// A stored order request.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredRequest {
    /// The shop's number of the request, from 1.
    pub number: i64,
    /// The sender.
    pub sender: Sender,
    /// The sender's name.
    pub sender_name: String,
    /// When the request was stored.
    pub received_at: Timestamp,
    /// The current status.
    pub status: ShopStatus,
    /// When the current status was set.
    pub status_since: Timestamp,
    /// The shop's message with its answer.
    pub message: Option<String>,
    /// The shopkeeper who answered.
    pub answered_by: Option<String>,
    /// The content, with an empty contact.
    pub request: OrderRequest,
    /// The contact; `None` once it is erased.
    pub contact: Option<Contact>,
    /// The shopkeeper who has it in hand.
    pub in_hand: Option<String>,
    /// When the contact was erased.
    pub erased_at: Option<Timestamp>,
    /// When the sender withdrew it.
    pub cancelled_at: Option<Timestamp>,
    /// The number of the request that this one replaces, if stored.
    pub replaces: Option<i64>,
    /// The number of the request that replaces this one.
    pub replaced_by: Option<i64>,
}

/// The request with the given number, from any sender.
///
/// # Errors
/// The database, or an unreadable row.
pub async fn load(database: &Database, number: i64) -> Result<Option<StoredRequest>, OrdersError> {
    let found = database
        .run_one(Statement::new(
            "SELECT r.number, r.sender, s.name, r.received_at, r.status, r.status_since, r.message, r.answered_by, r.body, r.contact,
             r.in_hand, r.erased_at, r.cancelled_at,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.id = r.replaces),
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id)
             FROM requests r JOIN senders s ON s.number = r.sender WHERE r.number = $1",
            [number.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    Ok(Some(StoredRequest {
        number: row.int()?,
        sender: Sender(row.int()?),
        sender_name: row.text()?,
        received_at: Timestamp(row.int()?),
        status: parse_status(&row.text()?)?,
        status_since: Timestamp(row.int()?),
        message: row.maybe_text()?,
        answered_by: row.maybe_text()?,
        request: serde_json::from_str(&row.text()?).map_err(|_| OrdersError::Parse("body"))?,
        contact: match row.maybe_text()? {
            Some(text) => Some(serde_json::from_str(&text).map_err(|_| OrdersError::Parse("contact"))?),
            None => None,
        },
        in_hand: row.maybe_text()?,
        erased_at: row.maybe_int()?.map(Timestamp),
        cancelled_at: row.maybe_int()?.map(Timestamp),
        replaces: row.maybe_int()?,
        replaced_by: row.maybe_int()?,
    }))
}

/// The statuses that a shopkeeper may give a request now: until it is collected an answer can be corrected; how far the
/// delivery is can be told of what was accepted.
pub fn may_follow(status: ShopStatus) -> &'static [ShopStatus] {
    use ShopStatus::{Accepted, Cancelled, Collected, Paid, Question, Refused, Sent};
    match status {
        _ if status.is_final() => &[],
        Accepted | Paid | Sent => &[Accepted, Question, Refused, Paid, Sent, Collected, Cancelled],
        _ => &[Accepted, Question, Refused],
    }
}

/// Answers a request whose status has not changed since `status_since`. A final status cannot be changed.
///
/// # Errors
/// [`DatabaseError::Conflict`] if the status has changed since, or is final; the database.
pub async fn answer(
    database: &Database,
    number: i64,
    status_since: Timestamp,
    status: ShopStatus,
    message: Option<&str>,
    answered_by: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    // `status_since` identifies an answer, so two answers within a millisecond must get different values.
    let at = now.0.max(status_since.0.saturating_add(1));
    database
        .transaction(vec![
            Statement::new(
                "UPDATE requests SET status = $1, status_since = $2, message = $3, answered_by = $4
                 WHERE number = $5 AND status_since = $6 AND status NOT IN ('collected', 'withdrawn', 'cancelled')",
                [
                    status.name().into(),
                    at.into(),
                    message.into(),
                    answered_by.into(),
                    number.into(),
                    status_since.0.into(),
                ],
            )
            .expecting_one_row(),
            Statement::new(
                "INSERT INTO answers (request, status, message, answered_by, at) VALUES ($1, $2, $3, $4, $5)",
                [number.into(), status.name().into(), message.into(), answered_by.into(), at.into()],
            ),
        ])
        .await?;
    Ok(())
}

/// An answer of a shopkeeper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The status it set.
    pub status: ShopStatus,
    /// The message to the sender.
    pub message: Option<String>,
    /// The shopkeeper's name.
    pub answered_by: String,
    /// The time of the answer.
    pub at: Timestamp,
}

/// The answers to a request, newest first.
///
/// # Errors
/// The database.
pub async fn answers(database: &Database, number: i64) -> Result<Vec<Answer>, OrdersError> {
    let found = database
        .run_one(Statement::new(
            "SELECT status, message, answered_by, at FROM answers WHERE request = $1 ORDER BY number DESC",
            [number.into()],
        ))
        .await?;
    let answer = |mut row: Row| {
        Ok(Answer {
            status: parse_status(&row.text()?)?,
            message: row.maybe_text()?,
            answered_by: row.text()?,
            at: Timestamp(row.int()?),
        })
    };
    found.rows.into_iter().map(answer).collect()
}
