//! Undoing an order request that no shop has yet, and redoing it.
//!
//! The tables of requests are not in the undo journal: what a shop was told cannot be taken back. The journal notes only
//! which requests an action made and which it withdrew, and what it told a shop. Undoing withdraws the first, queues the
//! second again, and takes the third back.

use super::messages::{self, MessageKind, MessageState};
use super::record;
use super::state::Event;
use super::tell::may_be_there;
use crate::{Inner, OrderId, Screen, Timestamp};
use rusqlite::{Connection, params};
use std::collections::BTreeSet;

/// What the journal notes a request that an action made under, and one that it withdrew.
const MADE: &str = "orders";
const WITHDRAWN: &str = "orders_withdrawn";
/// What it notes a message to a shop under that an action made.
const TOLD: &str = "order_messages";

/// Notes in the present action that it made a request.
pub(super) fn note_made(conn: &Connection, order: i64) -> Result<(), Inner> {
    note(conn, MADE, order)
}

/// Notes in the present action that it withdrew a request.
pub(super) fn note_withdrawn(conn: &Connection, order: i64) -> Result<(), Inner> {
    note(conn, WITHDRAWN, order)
}

/// Notes in the present action that it made a message to a shop.
pub(super) fn note_told(conn: &Connection, message: i64) -> Result<(), Inner> {
    note(conn, TOLD, message)
}

fn note(conn: &Connection, made: &str, order: i64) -> Result<(), Inner> {
    conn.execute(
        "INSERT INTO actions (key, made, row) SELECT max(key), ?1, ?2 FROM actions",
        params![made, order],
    )?;
    Ok(())
}

/// The requests of an action, each with whether the action made it.
fn of_action(conn: &Connection, action: i64) -> Result<Vec<(i64, OrderId, bool)>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT o.key, o.id, a.made = ?2 FROM actions AS a CROSS JOIN orders AS o ON o.key = a.row
         WHERE a.key = ?1 AND a.made IN (?2, ?3)",
    )?;
    let rows =
        rows.query_map(params![action, MADE, WITHDRAWN], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Whether an action made or withdrew requests.
pub(crate) fn has_requests(conn: &Connection, action: i64) -> Result<bool, Inner> {
    Ok(!of_action(conn, action)?.is_empty() || !messages::of_action(conn, action, TOLD)?.is_empty())
}

/// The event of a request that undoing or redoing its action means.
fn event(made: bool, undoing: bool) -> Event {
    if made == undoing { Event::Withdraw } else { Event::WithdrawalUndone }
}

/// Why the requests of an action can no longer be undone or redone: one of them is with the shop, or may be, or has no
/// contact any more. `None` if nothing stands in the way.
pub(crate) fn obstacle(conn: &Connection, action: i64, undoing: bool) -> Result<Option<Inner>, Inner> {
    for (_, id, made) in of_action(conn, action)? {
        let entry = record::find(conn, id)?;
        let possible = entry.erased_at.is_none() && entry.delivery.after(event(made, undoing)).is_some();
        if !possible {
            let word = if undoing { "undone" } else { "redone" };
            let state = entry.delivery.state.description();
            let reason = format!("the order request {id} can no longer be {word}: it {state}");
            return Ok(Some(
                Inner::rule("order.cannot_be_undone", reason).with("state", entry.delivery.state.name()),
            ));
        }
    }
    for message in messages::of_action(conn, action, TOLD)? {
        let entry = record::find(conn, message.told.order)?;
        let state = if undoing { MessageState::Queued } else { MessageState::TakenBack };
        let erased = message.told.kind == MessageKind::Message && message.body.is_none();
        if message.told.state != state || erased || may_be_there(&message, &entry) {
            let word = if undoing { "undone" } else { "redone" };
            let reason = format!(
                "what the shop is told about the order request {} can no longer be {word}: the shop has it, or may have it",
                entry.id
            );
            return Ok(Some(
                Inner::rule("order.cannot_be_undone", reason).with("state", message.told.state.name()),
            ));
        }
    }
    Ok(None)
}

/// Undoes or redoes what an action did to requests, under the action `inverse`.
pub(crate) fn revert(
    conn: &Connection,
    action: i64,
    inverse: i64,
    undoing: bool,
    now: Timestamp,
) -> Result<BTreeSet<Screen>, Inner> {
    let mut stale = BTreeSet::new();
    for (key, id, made) in of_action(conn, action)? {
        let entry = record::find(conn, id)?;
        let Some(to) = entry.delivery.after(event(made, undoing)) else { continue };
        conn.execute(
            "UPDATE outbox SET state = ?2, changed_at = ?3, next_at = ?3, tries = 0, reason = NULL, fault = NULL,
                 in_flight = NULL, began_at = NULL, shop = NULL
             WHERE key = ?1",
            params![key, to.state.name(), now],
        )?;
        let made = if made { MADE } else { WITHDRAWN };
        conn.execute(
            "INSERT INTO actions (key, made, row) VALUES (?1, ?2, ?3)",
            params![inverse, made, key],
        )?;
        stale.insert(Screen::Orders);
        stale.extend(entry.bike.map(Screen::Bike));
    }
    for message in messages::of_action(conn, action, TOLD)? {
        let entry = record::find(conn, message.told.order)?;
        let state = if undoing { MessageState::TakenBack } else { MessageState::Queued };
        messages::put(conn, message.key, state, None, None, None)?;
        // Whatever else is to be asked or told is found again from there.
        conn.execute("UPDATE outbox SET next_at = min(next_at, ?2) WHERE key = ?1", params![entry.key, now])?;
        conn.execute(
            "INSERT INTO actions (key, made, row) VALUES (?1, ?2, ?3)",
            params![inverse, TOLD, message.key],
        )?;
        stale.insert(Screen::Orders);
        stale.extend(entry.bike.map(Screen::Bike));
    }
    Ok(stale)
}
