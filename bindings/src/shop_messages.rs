//! What the user tells a shop about a request that it has: messages and withdrawals.

use crate::{Book, Changes, LocalizedText, OrderDraft, SteerwrightError, Verdict};
use steerwright_core::book::{self, BikeId, MessageId, Op, OrderId, Timestamp};
use steerwright_core::orders::{self, ForgottenShop};

pub use steerwright_core::orders::{MessageKind, MessageState};
pub use steerwright_core::protocol::wire::CancellationOutcome;

/// What the shop is told.
#[uniffi::remote(Enum)]
pub enum MessageKind {
    /// A text.
    Message,
    /// That the request is withdrawn.
    Withdrawal,
}

/// Whether the shop was told.
#[uniffi::remote(Enum)]
pub enum MessageState {
    /// Waits to be sent, or is being sent.
    Queued,
    /// The shop has it.
    Sent,
    /// Rejected permanently; `reason` states what to do.
    Rejected,
    /// Taken back by the user.
    TakenBack,
}

/// Whether a withdrawal came in time.
#[uniffi::remote(Enum)]
pub enum CancellationOutcome {
    /// The shop delivers nothing for it.
    Accepted,
    /// The shop had accepted the request before; only a person can stop it.
    TooLate,
    /// The shop has no such request, and refuses it should it still arrive.
    Unknown,
}

/// Something that the user tells a shop about a request.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ShopMessage {
    /// Id, the same in the book and at the shop.
    pub id: MessageId,
    /// A text or a withdrawal.
    pub kind: MessageKind,
    /// Time of queueing.
    pub made_at: Timestamp,
    /// The text; absent for a withdrawal, and once it is erased.
    pub text: Option<String>,
    /// The changed request that goes with it.
    pub changed: Option<OrderId>,
    /// Its state.
    pub state: MessageState,
    /// Why it was rejected, and what to do.
    pub reason: Option<LocalizedText>,
    /// The shop's answer to a withdrawal.
    pub outcome: Option<CancellationOutcome>,
    /// When the shop got it, or rejected it.
    pub ended_at: Option<Timestamp>,
}

/// Another verdict about a request that a shop has, by what was measured since.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct VerdictChange {
    /// The request.
    pub order: OrderId,
    /// The verdict that the shop was told.
    pub was: Verdict,
    /// The present verdict.
    pub now: Verdict,
    /// What it means, as a sentence.
    pub text: LocalizedText,
}

/// A kit of which more are promised than are in stock, as far as this book knows.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct StockClash {
    /// The kit's maker.
    pub maker: String,
    /// The kit's order code.
    pub sku: String,
    /// How many are in stock by the catalogue in use.
    pub stock: u32,
    /// The bikes that it is promised to.
    pub bikes: Vec<BikeId>,
    /// Who promised what, and what to do, as sentences.
    pub text: LocalizedText,
}

/// Result of queueing a message.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct MessageQueued {
    /// Id of the message.
    pub id: MessageId,
    /// Id of the changed request that goes with it.
    pub changed: Option<OrderId>,
    /// Stale screens.
    pub changes: Changes,
}

/// Result of deleting a shop: what it was still to be asked, which only the user can ask it now.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopForgotten {
    /// Requests whose contact was erased here and not at the shop.
    pub not_erased: Vec<OrderId>,
    /// Requests with a message or a withdrawal that the shop did not get.
    pub not_told: Vec<OrderId>,
    /// Stale screens.
    pub changes: Changes,
}

impl From<orders::ShopMessage> for ShopMessage {
    fn from(it: orders::ShopMessage) -> Self {
        let reason = it.reason.as_ref();
        Self {
            reason: reason.map(|it| LocalizedText::tagged("order.reason", "why", it, &it.description())),
            id: it.id,
            kind: it.kind,
            made_at: it.made_at,
            text: it.text,
            changed: it.changed,
            state: it.state,
            outcome: it.outcome,
            ended_at: it.ended_at,
        }
    }
}

impl From<orders::VerdictChange> for VerdictChange {
    fn from(it: orders::VerdictChange) -> Self {
        let text = LocalizedText::new("order.verdict_changed", it.description());
        Self { order: it.order, was: it.was, now: it.is, text }
    }
}

impl From<book::StockClash> for StockClash {
    fn from(it: book::StockClash) -> Self {
        let text = LocalizedText::new("order.stock_clash", it.description());
        let bikes = it.promises.into_iter().map(|promise| promise.bike).collect();
        Self { maker: it.maker, sku: it.sku, stock: it.stock, bikes, text }
    }
}

impl ShopForgotten {
    pub(crate) fn new(left: ForgottenShop, changes: Changes) -> Self {
        Self { not_erased: left.not_erased, not_told: left.not_told, changes }
    }
}

#[uniffi::export]
impl Book {
    /// Tells the shop that has a request something about it: the answer to its question, or news. `changed` is the
    /// request as it is wanted now, which replaces the other. Both wait in the outbox.
    #[uniffi::method(default(changed = None))]
    pub fn tell_shop(
        &self,
        id: OrderId,
        text: String,
        changed: Option<OrderDraft>,
    ) -> Result<MessageQueued, SteerwrightError> {
        let changed = changed.map(Into::into);
        let told = self.change(Op::Order, |work| work.tell_shop(id, &text, changed.as_ref()))?;
        let (message, changes) = (told.output, told.changes.into());
        Ok(MessageQueued { id: message.message, changed: message.changed, changes })
    }

    /// Sends a rejected message or withdrawal once more.
    pub fn send_message_again(&self, id: MessageId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.send_message_again(id))?.changes.into())
    }

    /// Takes back a message or withdrawal that the shop cannot have, or clears one that it rejected.
    pub fn take_message_back(&self, id: MessageId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.take_message_back(id))?.changes.into())
    }

    /// The requests with a shop whose verdict later readings changed: the shop should know. Of one bike or all.
    #[uniffi::method(default(bike = None))]
    pub fn verdict_changes(&self, bike: Option<BikeId>) -> Result<Vec<VerdictChange>, SteerwrightError> {
        self.read(|reader| Ok(reader.verdict_changes(bike)?.into_iter().map(Into::into).collect()))
    }

    /// The kits that are promised to more bikes than are in stock, as after merging the books of two people.
    pub fn stock_clashes(&self) -> Result<Vec<StockClash>, SteerwrightError> {
        self.read(|reader| Ok(reader.stock_clashes()?.into_iter().map(Into::into).collect()))
    }
}
