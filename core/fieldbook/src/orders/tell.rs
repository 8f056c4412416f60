//! The user's actions that tell a shop something about a request: a message, or that it is withdrawn.

use super::draft::OrderDraft;
use super::messages::{self, MessageKind, MessageState};
use super::queue::{moved, queue, stale};
use super::record::{self, Entry};
use super::shop;
use super::state::{Event, Reason, State};
use super::undo;
use crate::{BookError, Inner, MessageId, OrderId, Timestamp, Work, sha256};
use rusqlite::params;
use steerwright_protocol::wire::{OrderMessage, OrderMessageSchema, ShopStatus};

/// A message that was queued.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ToldShop {
    /// The message.
    pub message: MessageId,
    /// The changed request that goes with it.
    pub changed: Option<OrderId>,
}

/// The earliest time at which a shop may be called about a request: now, or when it asked to be called again.
pub(super) const SOONEST: &str =
    "max(?2, coalesce((SELECT max(b.not_before) FROM outbox AS b WHERE b.shop IS outbox.shop
     AND b.not_before <= ?2 + 604800000), ?2))";

/// Makes the next call for a request due, as soon as the shop allows.
pub(super) fn due_now(work: &mut Work<'_>, entry: &Entry, now: Timestamp) -> Result<(), Inner> {
    work.tx()
        .execute(&format!("UPDATE outbox SET next_at = {SOONEST} WHERE key = ?1"), params![entry.key, now])?;
    stale(work, entry.bike);
    Ok(())
}

/// Queues something for the shop that has a request, or may have it.
fn enqueue(
    work: &mut Work<'_>,
    entry: &Entry,
    id: MessageId,
    kind: MessageKind,
    body: Option<&str>,
) -> Result<i64, Inner> {
    let now = work.now();
    work.tx().execute(
        "INSERT INTO order_messages (id, request, kind, made_at, body, sha256, state, in_doubt)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, 'queued', 0)",
        params![
            id,
            entry.key,
            kind.name(),
            now,
            body,
            body.map(|body| sha256(body.as_bytes())).as_ref().map(<[u8; 32]>::as_slice)
        ],
    )?;
    let key = work.tx().last_insert_rowid();
    due_now(work, entry, now)?;
    Ok(key)
}

fn refused(entry: &Entry, why: &str) -> Inner {
    let text = entry.delivery.state.description();
    Inner::rule("order.state", format!("the order request {} {text}: {why}", entry.id))
        .with("state", entry.delivery.state.name())
}

pub(super) fn withdraw(work: &mut Work<'_>, id: OrderId) -> Result<(), Inner> {
    let entry = record::find(work.tx(), id)?;
    if entry.delivery.state == State::Underway {
        return Err(refused(&entry, "wait until that is over, then withdraw it"));
    }
    if !entry.delivery.may_be_with_shop() {
        moved(work, &entry, Event::Withdraw, "it cannot be taken back")?;
        return undo::note_withdrawn(work.tx(), entry.key);
    }
    let told = messages::of_request(work.tx(), entry.key)?;
    let withdrawn = told.iter().map(|it| &it.told).any(|it| {
        it.kind == MessageKind::Withdrawal && matches!(it.state, MessageState::Queued | MessageState::Sent)
    });
    match entry.shop_status {
        _ if withdrawn => return Err(refused(&entry, "it is withdrawn already")),
        Some(ShopStatus::Withdrawn) => return Err(refused(&entry, "it is withdrawn already")),
        Some(ShopStatus::Collected) => {
            return Err(refused(&entry, "you have it, so there is nothing to withdraw; speak to the shop"));
        }
        Some(ShopStatus::Refused | ShopStatus::Cancelled) => {
            return Err(refused(&entry, "the shop will not deliver it, so there is nothing to withdraw"));
        }
        _ => {}
    }
    let delivered = entry.delivery.state == State::Delivered;
    if !delivered {
        moved(work, &entry, Event::WithdrawAtShop, "it is withdrawn already")?;
    }
    // A shop that was erased here cannot be told: the user is.
    if entry.shop.is_none() {
        return if delivered { Err(refused(&entry, &Reason::ShopGone.description())) } else { Ok(()) };
    }
    let id = MessageId(work.fresh_id());
    let key = enqueue(work, &entry, id, MessageKind::Withdrawal, None)?;
    // One that the shop may have cannot be queued again as if nothing had been sent.
    if delivered { undo::note_told(work.tx(), key) } else { Ok(()) }
}

fn tell(
    work: &mut Work<'_>,
    id: OrderId,
    text: &str,
    changed: Option<&OrderDraft>,
) -> Result<ToldShop, Inner> {
    let entry = record::find(work.tx(), id)?;
    if entry.delivery.state != State::Delivered {
        return Err(refused(
            &entry,
            "a message is only for a request that the shop has; change this one instead",
        ));
    }
    if entry.erased_at.is_some() {
        return Err(refused(&entry, "who asked is erased, so the shop cannot answer"));
    }
    if entry.shop.is_none() {
        return Err(refused(&entry, &Reason::ShopGone.description()));
    }
    let message = OrderMessage {
        schema: OrderMessageSchema::V1,
        id: MessageId(work.fresh_id()),
        request: id,
        made_at: work.now(),
        text: text.trim().to_owned(),
        changed: changed.map(|draft| queue(work, draft, Some(id))).transpose()?,
    };
    message.check("the message")?;
    let body = serde_json::to_string(&message).map_err(|error| Inner::Stored(error.to_string()))?;
    let key = enqueue(work, &entry, message.id, MessageKind::Message, Some(&body))?;
    undo::note_told(work.tx(), key)?;
    Ok(ToldShop { message: message.id, changed: message.changed })
}

fn send_again(work: &mut Work<'_>, id: MessageId) -> Result<(), Inner> {
    let message = messages::find(work.tx(), id)?;
    if message.told.state != MessageState::Rejected {
        let text = message.told.state.description();
        let why = format!("the message {text}: there is nothing to send again");
        return Err(Inner::rule("message.state", why).with("state", message.told.state.name()));
    }
    let entry = record::find(work.tx(), message.told.order)?;
    shop::with_the_new_token(work, &entry)?;
    messages::put(work.tx(), message.key, MessageState::Queued, None, None, None)?;
    let now = work.now();
    due_now(work, &entry, now)
}

fn take_back(work: &mut Work<'_>, id: MessageId) -> Result<(), Inner> {
    let message = messages::find(work.tx(), id)?;
    let entry = record::find(work.tx(), message.told.order)?;
    let waits = message.told.state == MessageState::Queued && !may_be_there(&message, &entry);
    if !waits && message.told.state != MessageState::Rejected {
        let why = "the message is with the shop, or may be: it cannot be taken back";
        return Err(Inner::rule("message.state", why).with("state", message.told.state.name()));
    }
    messages::put(work.tx(), message.key, MessageState::TakenBack, None, None, None)?;
    stale(work, entry.bike);
    Ok(())
}

/// Whether the shop may have a message that has no answer yet.
pub(super) fn may_be_there(message: &messages::MessageEntry, entry: &Entry) -> bool {
    message.in_doubt || entry.in_flight.is_some_and(|(step, _)| step.message() == Some(message.told.id))
}

impl Work<'_> {
    /// Withdraws a request. The shop that has it, or may have it, is told at the next contact; see
    /// [`OrderScreen::messages`](super::OrderScreen::messages) for its answer.
    ///
    /// # Errors
    /// No such request; one that is being sent just now; one that is withdrawn already, or that the shop refused.
    pub fn withdraw_order(&mut self, id: OrderId) -> Result<(), BookError> {
        self.step(|work| withdraw(work, id))
    }

    /// Tells the shop that has a request something about it: an answer to its question, or news. `changed` is the
    /// request as it is wanted now; it is queued as a new one that replaces the other.
    ///
    /// # Errors
    /// No such request; one that no shop has, or whose contact is erased; a text that is empty or too long; those of
    /// [`Work::queue_order`].
    pub fn tell_shop(
        &mut self,
        id: OrderId,
        text: &str,
        changed: Option<&OrderDraft>,
    ) -> Result<ToldShop, BookError> {
        self.step(|work| tell(work, id, text, changed))
    }

    /// Sends a rejected message or withdrawal once more, when what stood in its way is fixed.
    ///
    /// # Errors
    /// No such message, or one that is not rejected.
    pub fn send_message_again(&mut self, id: MessageId) -> Result<(), BookError> {
        self.step(|work| send_again(work, id))
    }

    /// Takes back a message or withdrawal that the shop does not have, or clears one that it rejected.
    ///
    /// # Errors
    /// No such message, or one that the shop has or may have.
    pub fn take_message_back(&mut self, id: MessageId) -> Result<(), BookError> {
        self.step(|work| take_back(work, id))
    }
}
