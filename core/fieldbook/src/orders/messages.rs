//! What the user tells a shop about a request, as stored.

use super::state::Reason;
use crate::error::Missing as _;
use crate::{EnumText, Inner, JsonText, MessageId, OrderId, Timestamp};
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use steerwright_protocol::wire::{CancellationOutcome, OrderMessage};

/// What is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MessageKind {
    /// A text.
    Message,
    /// That the request is withdrawn.
    Withdrawal,
}

impl MessageKind {
    /// Every kind.
    pub const ALL: [Self; 2] = [Self::Message, Self::Withdrawal];

    /// The word in the database.
    pub fn name(self) -> &'static str {
        match self {
            Self::Message => "message",
            Self::Withdrawal => "withdrawal",
        }
    }
}

/// Whether the shop was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MessageState {
    /// Waits to be sent, or is being sent.
    Queued,
    /// The shop has it.
    Sent,
    /// Rejected permanently; the reason states what to do.
    Rejected,
    /// Taken back by the user.
    TakenBack,
}

impl MessageState {
    /// Every state.
    pub const ALL: [Self; 4] = [Self::Queued, Self::Sent, Self::Rejected, Self::TakenBack];

    /// The word in the database.
    pub fn name(self) -> &'static str {
        match self {
            Self::Queued => "queued",
            Self::Sent => "sent",
            Self::Rejected => "rejected",
            Self::TakenBack => "taken_back",
        }
    }

    /// For the user, in a few words.
    pub fn description(self) -> &'static str {
        match self {
            Self::Queued => "waits to be sent",
            Self::Sent => "is with the shop",
            Self::Rejected => "could not be sent",
            Self::TakenBack => "is taken back",
        }
    }
}

/// Something that the user tells a shop about a request.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShopMessage {
    /// Its id, here and at the shop.
    pub id: MessageId,
    /// The request that it is about.
    pub order: OrderId,
    /// What it is.
    pub kind: MessageKind,
    /// When it was queued.
    pub made_at: Timestamp,
    /// Its text; absent for a withdrawal, and once it is erased.
    pub text: Option<String>,
    /// The changed request that goes with it.
    pub changed: Option<OrderId>,
    /// Its state.
    pub state: MessageState,
    /// Why it was rejected.
    pub reason: Option<Reason>,
    /// The shop's answer to a withdrawal.
    pub outcome: Option<CancellationOutcome>,
    /// When the shop got it, or rejected it.
    pub ended_at: Option<Timestamp>,
}

/// A message with what its sending needs.
pub(super) struct MessageEntry {
    pub(super) key: i64,
    pub(super) in_doubt: bool,
    pub(super) body: Option<String>,
    pub(super) told: ShopMessage,
}

const MESSAGE: &str = "SELECT m.*, o.id AS order_id FROM order_messages m JOIN orders o ON o.key = m.request";

fn entry(row: &Row<'_>) -> rusqlite::Result<MessageEntry> {
    let (EnumText(kind), EnumText(state)) = (row.get("kind")?, row.get("state")?);
    let reason: Option<JsonText<Reason>> = row.get("reason")?;
    let outcome: Option<EnumText<CancellationOutcome>> = row.get("outcome")?;
    let body: Option<String> = row.get("body")?;
    let read = body.as_deref().and_then(|body| serde_json::from_str::<OrderMessage>(body).ok());
    Ok(MessageEntry {
        key: row.get("key")?,
        in_doubt: row.get("in_doubt")?,
        told: ShopMessage {
            id: row.get("id")?,
            order: row.get("order_id")?,
            kind,
            made_at: row.get("made_at")?,
            changed: read.as_ref().and_then(|read| read.changed),
            text: read.map(|read| read.text),
            state,
            reason: reason.map(|JsonText(reason)| reason),
            outcome: outcome.map(|EnumText(outcome)| outcome),
            ended_at: row.get("ended_at")?,
        },
        body,
    })
}

/// One message.
pub(super) fn find(conn: &Connection, id: MessageId) -> Result<MessageEntry, Inner> {
    let found =
        conn.prepare_cached(&format!("{MESSAGE} WHERE m.id = ?1"))?.query_row([id], entry).optional()?;
    found.ok_or_else(|| id.missing())
}

/// Everything told about a request, oldest first.
pub(super) fn of_request(conn: &Connection, request: i64) -> Result<Vec<MessageEntry>, Inner> {
    let mut rows = conn.prepare_cached(&format!("{MESSAGE} WHERE m.request = ?1 ORDER BY m.key"))?;
    let rows = rows.query_map([request], entry)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The next message of a request that waits to be sent.
pub(super) fn next(conn: &Connection, request: i64) -> Result<Option<MessageEntry>, Inner> {
    let sql = format!("{MESSAGE} WHERE m.request = ?1 AND m.state = 'queued' ORDER BY m.key LIMIT 1");
    Ok(conn.prepare_cached(&sql)?.query_row([request], entry).optional()?)
}

/// The messages that an action made.
pub(super) fn of_action(conn: &Connection, action: i64, made: &str) -> Result<Vec<MessageEntry>, Inner> {
    let mut rows = conn.prepare_cached(&format!(
        "{MESSAGE} JOIN actions a ON a.row = m.key WHERE a.key = ?1 AND a.made = ?2 ORDER BY m.key"
    ))?;
    let rows = rows.query_map(params![action, made], entry)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Writes the state of a message.
pub(super) fn put(
    conn: &Connection,
    key: i64,
    state: MessageState,
    reason: Option<&Reason>,
    outcome: Option<CancellationOutcome>,
    ended_at: Option<Timestamp>,
) -> Result<(), Inner> {
    conn.prepare_cached(
        "UPDATE order_messages SET state = ?2, reason = ?3, outcome = ?4, ended_at = ?5 WHERE key = ?1",
    )?
    .execute(params![
        key,
        state.name(),
        reason.map(JsonText),
        outcome.map(CancellationOutcome::name),
        ended_at
    ])?;
    Ok(())
}
