//! Requests as they are kept: claimed by their key, stored once, answered, erased.

use crate::database::{Database, DatabaseError, Row, Statement, Value};
use crate::secret::{NoChance, random};
use crate::senders::Sender;
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{Contact, OrderRequest, Receipt, ReceiptSchema, ShopStatus};

/// What a key stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Claimed {
    /// The first with this key, or one whose first try came to nothing: go on.
    Ours(Claim),
    /// Done before; the body of the answer that was given.
    Answered(String),
    /// Somebody is at it.
    InProgress,
    /// The key came before with another body.
    OtherBody,
}

/// The right to work on a key, until it expires.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    sender: Sender,
    id: OrderId,
    mark: [u8; 16],
}

/// Why nothing came of a request. Told to the log, never with a value of it.
#[derive(Debug, thiserror::Error)]
pub enum OrdersError {
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// No random bytes.
    #[error(transparent)]
    Chance(#[from] NoChance),
    /// What is kept cannot be read, or what came cannot be written.
    #[error("a request that is kept cannot be read")]
    Kept,
}

/// Claims a key for the work on a body: one transaction, so of any number of processes one gets it. A claim older than
/// `expires_ms` was left by a process that is gone, and nothing was stored under it.
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
) -> Result<Claimed, OrdersError> {
    let mark = random::<16>()?;
    let outcomes = database
        .run(vec![
            Statement::new(
                "INSERT INTO claims (sender, id, body_hash, claim, claimed_at) VALUES ($1, $2, $3, $4, $5)
                 ON CONFLICT (sender, id) DO UPDATE
                 SET body_hash = excluded.body_hash, claim = excluded.claim, claimed_at = excluded.claimed_at
                 WHERE claims.answer IS NULL AND claims.claimed_at <= $6",
                [
                    sender.0.into(),
                    id.to_string().into(),
                    body_hash.into(),
                    mark.as_slice().into(),
                    now.0.into(),
                    now.0.saturating_sub(expires_ms).into(),
                ],
            ),
            Statement::new(
                "SELECT body_hash, claim, answer FROM claims WHERE sender = $1 AND id = $2",
                [sender.0.into(), id.to_string().into()],
            ),
        ])
        .await?;
    let row = outcomes.into_iter().nth(1).and_then(|outcome| outcome.rows.into_iter().next());
    let mut row = row.ok_or(OrdersError::Kept)?;
    let (kept_hash, kept_mark, answer) = (row.bytes()?, row.bytes()?, row.maybe_text()?);
    Ok(match answer {
        _ if kept_mark == mark => Claimed::Ours(Claim { sender, id, mark }),
        _ if kept_hash != body_hash => Claimed::OtherBody,
        Some(answer) => Claimed::Answered(answer),
        None => Claimed::InProgress,
    })
}

/// Gives a key back: the request was refused, and may come again once it is mended.
///
/// # Errors
/// The database.
pub async fn release(database: &Database, claim: &Claim) -> Result<(), DatabaseError> {
    database
        .one(Statement::new(
            "DELETE FROM claims WHERE sender = $1 AND id = $2 AND claim = $3 AND answer IS NULL",
            [claim.sender.0.into(), claim.id.to_string().into(), claim.mark.as_slice().into()],
        ))
        .await?;
    Ok(())
}

/// Stores a request and the answer to it in one transaction, and gives the answer's body.
///
/// # Errors
/// [`DatabaseError::Overtaken`] where the claim expired meanwhile and another took it; the database.
pub async fn store(
    database: &Database,
    claim: &Claim,
    request: OrderRequest,
    now: Timestamp,
) -> Result<String, OrdersError> {
    let receipt = Receipt {
        schema: ReceiptSchema::V1,
        id: claim.id,
        received_at: now,
        state: ShopStatus::Waiting,
        since: now,
        message: None,
    };
    let answer = serde_json::to_string(&receipt).map_err(|_| OrdersError::Kept)?;
    let OrderRequest { contact, .. } = &request;
    let contact = serde_json::to_string(contact).map_err(|_| OrdersError::Kept)?;
    let verdict = serde_json::to_value(request.found.verdict).map_err(|_| OrdersError::Kept)?;
    let (kind, sku, quantity) = (request.kind, request.kit.sku.clone(), request.kit.quantity);
    let (bike, replaces) = (request.bike.name.clone(), request.replaces.map(|id| id.to_string()));
    let without = OrderRequest { contact: Contact::default(), ..request };
    let body = serde_json::to_string(&without).map_err(|_| OrdersError::Kept)?;
    let photos: Vec<_> = without.photos.iter().map(|photo| photo.sha256).collect();
    let mut statements = vec![
            Statement::new(
                "UPDATE claims SET answer = $1 WHERE sender = $2 AND id = $3 AND claim = $4 AND answer IS NULL",
                [
                    answer.as_str().into(),
                    claim.sender.0.into(),
                    claim.id.to_string().into(),
                    claim.mark.as_slice().into(),
                ],
            )
            .changing_one(),
            Statement::new(
                "INSERT INTO requests (sender, id, received_at, state, since, kind, sku, quantity, bike, verdict, replaces,
                 body, contact) VALUES ($1, $2, $3, 'waiting', $4, $5, $6, $7, $8, $9, $10, $11, $12)
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
                ],
            )
            .changing_one(),
        ];
    // A photo that was tidied away since it was looked for makes the whole transaction fail.
    statements.extend(photos.into_iter().map(|photo| {
        Statement::new(
            "INSERT INTO request_photos (request, sender, sha256)
             SELECT number, sender, $1 FROM requests WHERE sender = $2 AND id = $3",
            [photo.0.into(), claim.sender.0.into(), claim.id.to_string().into()],
        )
        .changing_one()
    }));
    database.run(statements).await?;
    Ok(answer)
}

/// What the sender of a request is told of it now.
///
/// # Errors
/// The database.
pub async fn receipt(
    database: &Database,
    sender: Sender,
    id: OrderId,
) -> Result<Option<Receipt>, OrdersError> {
    let found = database
        .one(Statement::new(
            "SELECT received_at, state, since, message FROM requests WHERE sender = $1 AND id = $2",
            [sender.0.into(), id.to_string().into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    Ok(Some(Receipt {
        schema: ReceiptSchema::V1,
        id,
        received_at: Timestamp(row.int()?),
        state: word(&row.text()?)?,
        since: Timestamp(row.int()?),
        message: row.maybe_text()?,
    }))
}

/// The shop's own number of a sender's request.
///
/// # Errors
/// The database.
pub async fn number(database: &Database, sender: Sender, id: OrderId) -> Result<Option<i64>, DatabaseError> {
    let statement = Statement::new(
        "SELECT number FROM requests WHERE sender = $1 AND id = $2",
        [sender.0.into(), id.to_string().into()],
    );
    let found = database.one(statement).await?;
    found.rows.into_iter().next().map(|mut row| row.int()).transpose()
}

fn word(name: &str) -> Result<ShopStatus, OrdersError> {
    [ShopStatus::Waiting, ShopStatus::Question, ShopStatus::Accepted, ShopStatus::Refused]
        .into_iter()
        .find(|word| word.name() == name)
        .ok_or(OrdersError::Kept)
}

/// A request in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// The shop's own number of it.
    pub number: i64,
    /// When it came in.
    pub received_at: Timestamp,
    /// How it stands.
    pub state: ShopStatus,
    /// `order` or `question`.
    pub kind: String,
    /// The kit's order code.
    pub sku: String,
    /// How many.
    pub quantity: i64,
    /// The bike's name.
    pub bike: String,
    /// The verdict that was sent, as in the format.
    pub verdict: String,
    /// The sender's name.
    pub sender: String,
    /// The number of the request that this one takes the place of, if it came here.
    pub replaces: Option<i64>,
    /// The number of the request that takes the place of this one.
    pub replaced_by: Option<i64>,
}

/// Requests with a state, or all; the newest first, those before a number; at most `most`.
///
/// # Errors
/// The database.
pub async fn list(
    database: &Database,
    state: Option<ShopStatus>,
    before: i64,
    most: i64,
) -> Result<Vec<Line>, OrdersError> {
    const SELECT: &str =
        "SELECT r.number, r.received_at, r.state, r.kind, r.sku, r.quantity, r.bike, r.verdict, s.name,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.id = r.replaces),
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id)
         FROM requests r JOIN senders s ON s.number = r.sender
         WHERE r.number < $1 ORDER BY r.number DESC LIMIT $2";
    const SELECT_STATE: &str =
        "SELECT r.number, r.received_at, r.state, r.kind, r.sku, r.quantity, r.bike, r.verdict, s.name,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.id = r.replaces),
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id)
         FROM requests r JOIN senders s ON s.number = r.sender
         WHERE r.number < $1 AND r.state = $2 ORDER BY r.number DESC LIMIT $3";
    let statement = match state {
        None => Statement::new(SELECT, [before.into(), most.into()]),
        Some(state) => Statement::new(SELECT_STATE, [before.into(), state.name().into(), most.into()]),
    };
    let line = |mut row: Row| {
        Ok(Line {
            number: row.int()?,
            received_at: Timestamp(row.int()?),
            state: word(&row.text()?)?,
            kind: row.text()?,
            sku: row.text()?,
            quantity: row.int()?,
            bike: row.text()?,
            verdict: row.text()?,
            sender: row.text()?,
            replaces: row.maybe_int()?,
            replaced_by: row.maybe_int()?,
        })
    };
    database.one(statement).await?.rows.into_iter().map(line).collect()
}

/// How many requests stand how.
///
/// # Errors
/// The database.
pub async fn counts(database: &Database) -> Result<Vec<(ShopStatus, i64)>, OrdersError> {
    let statement = Statement::new("SELECT state, count(*) FROM requests GROUP BY state", []);
    let rows = database.one(statement).await?.rows;
    rows.into_iter().map(|mut row| Ok((word(&row.text()?)?, row.int()?))).collect()
}

/// A request as the shop sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The shop's own number of it.
    pub number: i64,
    /// Whose.
    pub sender: Sender,
    /// The sender's name.
    pub sender_name: String,
    /// When it came in.
    pub received_at: Timestamp,
    /// How it stands.
    pub state: ShopStatus,
    /// Since when.
    pub since: Timestamp,
    /// What was answered.
    pub message: Option<String>,
    /// Who answered.
    pub answered_by: Option<String>,
    /// What was sent; its contact is empty.
    pub request: OrderRequest,
    /// Who asked; nothing once it is erased.
    pub contact: Option<Contact>,
    /// When that was.
    pub erased_at: Option<Timestamp>,
    /// The number of the request that this one takes the place of, if it came here.
    pub replaces: Option<i64>,
    /// The number of the request that takes the place of this one.
    pub replaced_by: Option<i64>,
}

/// One request, whosever it is.
///
/// # Errors
/// The database, or a row that cannot be read.
pub async fn kept(database: &Database, number: i64) -> Result<Option<Kept>, OrdersError> {
    let found = database
        .one(Statement::new(
            "SELECT r.number, r.sender, s.name, r.received_at, r.state, r.since, r.message, r.answered_by, r.body, r.contact,
             r.erased_at,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.id = r.replaces),
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id)
             FROM requests r JOIN senders s ON s.number = r.sender WHERE r.number = $1",
            [number.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    Ok(Some(Kept {
        number: row.int()?,
        sender: Sender(row.int()?),
        sender_name: row.text()?,
        received_at: Timestamp(row.int()?),
        state: word(&row.text()?)?,
        since: Timestamp(row.int()?),
        message: row.maybe_text()?,
        answered_by: row.maybe_text()?,
        request: serde_json::from_str(&row.text()?).map_err(|_| OrdersError::Kept)?,
        contact: match row.maybe_text()? {
            Some(text) => Some(serde_json::from_str(&text).map_err(|_| OrdersError::Kept)?),
            None => None,
        },
        erased_at: row.maybe_int()?.map(Timestamp),
        replaces: row.maybe_int()?,
        replaced_by: row.maybe_int()?,
    }))
}

/// Answers a request that stands as it did `since`; a final answer stays.
///
/// # Errors
/// [`DatabaseError::Overtaken`] where it has been answered since; the database.
pub async fn answer(
    database: &Database,
    number: i64,
    since: Timestamp,
    state: ShopStatus,
    message: Option<&str>,
    who: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    // Two answers within a millisecond must not look like one.
    let at = now.0.max(since.0.saturating_add(1));
    database
        .run(vec![
            Statement::new(
                "UPDATE requests SET state = $1, since = $2, message = $3, answered_by = $4
                 WHERE number = $5 AND since = $6 AND state IN ('waiting', 'question')",
                [state.name().into(), at.into(), message.into(), who.into(), number.into(), since.0.into()],
            )
            .changing_one(),
            Statement::new(
                "INSERT INTO answers (request, state, message, answered_by, at) VALUES ($1, $2, $3, $4, $5)",
                [number.into(), state.name().into(), message.into(), who.into(), at.into()],
            ),
        ])
        .await?;
    Ok(())
}

/// An answer that was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// What it was.
    pub state: ShopStatus,
    /// In which words.
    pub message: Option<String>,
    /// Whose.
    pub who: String,
    /// When.
    pub at: Timestamp,
}

/// The answers given before the present one, which stands `since`; the newest first.
///
/// # Errors
/// The database.
pub async fn answers_before(
    database: &Database,
    number: i64,
    since: Timestamp,
) -> Result<Vec<Answer>, OrdersError> {
    let found = database
        .one(Statement::new(
            "SELECT state, message, answered_by, at FROM answers WHERE request = $1 AND at < $2 ORDER BY number DESC",
            [number.into(), since.0.into()],
        ))
        .await?;
    let answer = |mut row: Row| {
        Ok(Answer {
            state: word(&row.text()?)?,
            message: row.maybe_text()?,
            who: row.text()?,
            at: Timestamp(row.int()?),
        })
    };
    found.rows.into_iter().map(answer).collect()
}

/// Erases who asked: the contact, the note, the bike's owner, notes of photos and readings, and what the shop wrote to
/// them. What was asked for and measured stays.
///
/// # Errors
/// The database, or a row that cannot be read.
pub async fn erase(database: &Database, number: i64, now: Timestamp) -> Result<bool, OrdersError> {
    let Some(Kept { mut request, erased_at: None, .. }) = kept(database, number).await? else {
        return Ok(false);
    };
    request.note.clear();
    request.bike.owner = None;
    request.photos.iter_mut().for_each(|photo| photo.note.clear());
    request.bike.measured.iter_mut().for_each(|row| row.note = None);
    let body = serde_json::to_string(&request).map_err(|_| OrdersError::Kept)?;
    database
        .run(vec![
            Statement::new(
                "UPDATE requests SET contact = NULL, message = NULL, body = $1, erased_at = $2 WHERE number = $3",
                [body.into(), now.0.into(), number.into()],
            ),
            Statement::new("UPDATE answers SET message = NULL WHERE request = $1", [Value::Int(number)]),
        ])
        .await?;
    database.wipe_traces().await?;
    Ok(true)
}
