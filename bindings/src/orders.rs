//! Order requests: draft, check, queue, list, edit, withdraw, resend, erase.

use crate::judging::exact_mm;
use crate::{
    Amount, Book, Changes, Direction, LocalizedText, OrderKind, OrderState, PartKind, ShopForgotten,
    ShopMessage, ShopStatus, SteerwrightError, Verdict, VerdictChange,
};
use steerwright_core::book::{BikeId, Op, OrderId, Outcome, PhotoId, Timestamp};
use steerwright_core::orders::{self, Order, OrderScreen, Token};
use steerwright_core::protocol::wire::{OrderRequest, Part};

pub use steerwright_core::protocol::wire::Contact;

/// The sender's name and contact details: an e-mail address, a telephone number, or both.
#[uniffi::remote(Record)]
pub struct Contact {
    pub name: String,
    #[uniffi(default = None)]
    pub email: Option<String>,
    #[uniffi(default = None)]
    pub phone: Option<String>,
    #[uniffi(default = None)]
    pub address: Option<String>,
}

/// The user's input for an order request; everything else comes from the book.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderDraft {
    /// The bike.
    pub bike: BikeId,
    /// The maker of the kit; its active catalogue is used.
    pub maker: String,
    /// Order code of the kit.
    pub sku: String,
    /// Direction in which the kit is to change the head angle.
    pub direction: Direction,
    /// Quantity, 1 to 99.
    #[uniffi(default = 1)]
    pub quantity: u32,
    /// An order or a question.
    pub kind: OrderKind,
    /// Whether the request includes the parts that go with the kit.
    #[uniffi(default = true)]
    pub with_parts: bool,
    /// The sender's contact details.
    pub contact: Contact,
    /// Free text for the shop; may have several lines or be empty.
    #[uniffi(default = "")]
    pub note: String,
    /// Photos to attach: their working copies, without location data.
    #[uniffi(default = [])]
    pub photos: Vec<PhotoId>,
}

/// A draft made from an earlier order request.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Redraft {
    /// The earlier request as an editable draft; its contact is empty if it was erased.
    pub draft: OrderDraft,
    /// Number of photos of the earlier request that are no longer in the book.
    pub photos_gone: u32,
}

/// The request that a draft would produce now.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderPreview {
    /// An order or a question.
    pub kind: OrderKind,
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// Quantity.
    pub quantity: u32,
    /// Unit price as a decimal string.
    pub price: String,
    /// ISO 4217 currency code of the price.
    pub currency: String,
    /// Parts that go with the kit.
    pub parts: Vec<PartView>,
    /// The verdict sent with the request.
    pub verdict: Verdict,
    /// The reason for the verdict, as a sentence.
    pub english: String,
    /// The sender's contact details.
    pub contact: Contact,
    /// The note to the shop.
    pub note: String,
    /// Number of distinct photos attached.
    pub photos: u32,
}

/// A part that goes with a kit.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PartView {
    /// Kind of part.
    pub what: PartKind,
    /// The maker's order code.
    pub sku: Option<String>,
    /// Quantity.
    pub quantity: u32,
    /// Total height, for spacers.
    pub height: Option<Amount>,
    /// Which part and why, as a sentence.
    pub text: LocalizedText,
}

/// An order request and its state.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderView {
    /// Id, the same in the book and at the shop.
    pub id: OrderId,
    /// The bike.
    pub bike: Option<BikeId>,
    /// The request that this one replaces.
    pub replaces: Option<OrderId>,
    /// The latest request that replaces this one.
    pub replaced_by: Option<OrderId>,
    /// An order or a question.
    pub kind: OrderKind,
    /// The maker of the kit.
    pub maker: String,
    /// Order code of the kit.
    pub sku: String,
    /// Quantity.
    pub quantity: u32,
    /// Time of queueing.
    pub made_at: Timestamp,
    /// State of the request.
    pub state: OrderState,
    /// The state in words.
    pub state_text: LocalizedText,
    /// Whether the shop may have the request although no receipt arrived.
    pub may_be_with_shop: bool,
    /// Why it waits for the user or was rejected, and what to do.
    pub reason: Option<LocalizedText>,
    /// Whether the very same can be sent again once that is fixed; otherwise it has to be changed.
    pub same_again: bool,
    /// The last error of an attempt that is retried automatically.
    pub fault: Option<LocalizedText>,
    /// Failed attempts since the last success.
    pub tries: u32,
    /// When the next attempt is due, if any.
    pub next_at: Option<Timestamp>,
    /// Number of photos attached.
    pub photos: u32,
    /// Number of photos that the shop has received.
    pub photos_arrived: u32,
    /// When the receipt arrived.
    pub delivered_at: Option<Timestamp>,
    /// The shop's latest status.
    pub shop: Option<ShopAnswer>,
    /// The shop's own number of the request: what to name to a person there.
    pub shop_number: Option<u64>,
    /// How a person reaches the shop, as it told last.
    pub shop_contact: Option<String>,
    /// Number of messages and withdrawals that wait to be sent.
    pub messages_waiting: u32,
    /// Number of messages and withdrawals that the shop rejected and that are not cleared.
    pub messages_rejected: u32,
    /// Whether a withdrawal waits to be sent or is with the shop.
    pub withdrawal: bool,
    /// When the contact was erased.
    pub erased_at: Option<Timestamp>,
    /// Whether the shop still has to be asked to erase the contact.
    pub erase_at_shop: bool,
}

/// A shop's latest status of a request.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopAnswer {
    /// The decision.
    pub status: ShopStatus,
    /// When the decision was made.
    pub since: Option<Timestamp>,
    /// The shop's message.
    pub message: Option<String>,
}

/// One order request with all its data.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderDetails {
    /// The request's state.
    pub order: OrderView,
    /// What the shop was told about it since, or is to be told, oldest first.
    pub messages: Vec<ShopMessage>,
    /// Another verdict by what was measured since the shop was told.
    pub changed: Option<VerdictChange>,
    /// Content of the request; without the contact once that is erased.
    pub asked: OrderPreview,
    /// The exact text that is sent (`steerwright.order-request/1`).
    pub json: String,
}

/// Result of queueing a request.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct OrderQueued {
    /// Id of the request.
    pub id: OrderId,
    /// Stale screens.
    pub changes: Changes,
}

/// The shop that receives order requests. Its token is not exposed.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopSetting {
    /// Base URL.
    pub base: String,
    /// When it was set.
    pub set_at: Timestamp,
    /// The text the user agreed to; nothing is sent without consent.
    pub agreed_to: Option<String>,
    /// When the user agreed.
    pub agreed_at: Option<Timestamp>,
}

impl From<OrderDraft> for orders::OrderDraft {
    fn from(draft: OrderDraft) -> Self {
        let OrderDraft { bike, maker, sku, direction, quantity, kind, with_parts, contact, note, photos } =
            draft;
        Self { bike, maker, sku, direction, quantity, kind, with_parts, contact, note, photos }
    }
}

impl From<orders::OrderDraft> for OrderDraft {
    fn from(draft: orders::OrderDraft) -> Self {
        let orders::OrderDraft {
            bike,
            maker,
            sku,
            direction,
            quantity,
            kind,
            with_parts,
            contact,
            note,
            photos,
        } = draft;
        Self { bike, maker, sku, direction, quantity, kind, with_parts, contact, note, photos }
    }
}

impl From<Part> for PartView {
    fn from(it: Part) -> Self {
        let height = it.height_mm.map(exact_mm);
        let text = LocalizedText::new(format!("part.{}", crate::judging::name(&it.what)), it.text)
            .maybe(height, |text, height| text.amount("height", height));
        Self { what: it.what, sku: it.sku, quantity: it.quantity, height, text }
    }
}

impl From<OrderRequest> for OrderPreview {
    fn from(it: OrderRequest) -> Self {
        Self {
            kind: it.kind,
            sku: it.kit.sku,
            name: it.kit.name,
            quantity: it.kit.quantity,
            price: it.kit.price.to_string(),
            currency: it.found.catalogue.currency,
            parts: it.parts.into_iter().map(Into::into).collect(),
            verdict: it.found.verdict,
            english: it.found.text,
            contact: it.contact,
            note: it.note,
            photos: u32::try_from(it.photos.len()).unwrap_or(u32::MAX),
        }
    }
}

impl From<Order> for OrderView {
    fn from(it: Order) -> Self {
        let reason = it.reason.as_ref();
        Self {
            state_text: LocalizedText::new(
                format!("order.state.{}", it.state.name()),
                it.state.description(),
            ),
            same_again: reason.is_some_and(orders::Reason::same_again),
            reason: reason.map(|it| LocalizedText::tagged("order.reason", "why", it, &it.description())),
            fault: it
                .fault
                .as_ref()
                .map(|it| LocalizedText::tagged("order.fault", "what", it, &it.description())),
            shop: it.shop.map(|it| ShopAnswer { status: it.status, since: it.since, message: it.message }),
            id: it.id,
            bike: it.bike,
            replaces: it.replaces,
            replaced_by: it.replaced_by,
            kind: it.kind,
            maker: it.maker,
            sku: it.sku,
            quantity: it.quantity,
            made_at: it.made_at,
            state: it.state,
            may_be_with_shop: it.may_be_with_shop,
            tries: it.tries,
            next_at: it.next_at,
            photos: it.photos,
            photos_arrived: it.photos_arrived,
            shop_number: it.shop_number,
            shop_contact: it.shop_contact,
            messages_waiting: it.messages_waiting,
            messages_rejected: it.messages_rejected,
            withdrawal: it.withdrawal,
            delivered_at: it.delivered_at,
            erased_at: it.erased_at,
            erase_at_shop: it.erase_at_shop,
        }
    }
}

impl From<Outcome<OrderId>> for OrderQueued {
    fn from(Outcome { output, changes }: Outcome<OrderId>) -> Self {
        Self { id: output, changes: changes.into() }
    }
}

#[uniffi::export]
impl Book {
    /// The request that a draft would produce now, validated as for queueing. Nothing is written. `Invalid`
    /// lists every missing or invalid field.
    pub fn check_order(&self, draft: OrderDraft) -> Result<OrderPreview, SteerwrightError> {
        let now = self.now();
        self.read(|reader| Ok(reader.try_order(&draft.into(), now)?.into()))
    }

    /// Puts an order request into the outbox. Its content is frozen from then on.
    pub fn queue_order(&self, draft: OrderDraft) -> Result<OrderQueued, SteerwrightError> {
        let draft = draft.into();
        Ok(self.change(Op::Order, |work| work.queue_order(&draft))?.into())
    }

    /// An earlier request as a draft, to be edited and passed to `edit_order`.
    pub fn draft_from(&self, id: OrderId) -> Result<Redraft, SteerwrightError> {
        self.read(|reader| {
            let orders::Redraft { draft, photos_gone } = reader.draft_from(id)?;
            let photos_gone = u32::try_from(photos_gone.len()).unwrap_or(u32::MAX);
            Ok(Redraft { draft: draft.into(), photos_gone })
        })
    }

    /// Creates a request that replaces an earlier one. The earlier one is withdrawn if the shop cannot have it.
    pub fn edit_order(&self, old: OrderId, draft: OrderDraft) -> Result<OrderQueued, SteerwrightError> {
        let draft = draft.into();
        Ok(self.change(Op::Order, |work| work.edit_order(old, &draft))?.into())
    }

    /// Sends a request again that was rejected or waits for the user. The name of what is sent, which is a new one if
    /// the catalogue changed.
    pub fn send_order_again(&self, id: OrderId) -> Result<OrderQueued, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.send_order_again(id))?.into())
    }

    /// Withdraws a request. A shop that has it, or may have it, is told at the next delivery; its answer is among the
    /// messages of `order`.
    pub fn withdraw_order(&self, id: OrderId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.withdraw_order(id))?.changes.into())
    }

    /// Erases the contact, the notes and the shop's message from a request. A request not yet at the shop is
    /// withdrawn; a shop that may have it is asked to erase the same data.
    pub fn erase_contact(&self, id: OrderId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.erase_contact(id))?.changes.into())
    }

    /// Order requests of one bike or all bikes, latest first.
    #[uniffi::method(default(bike = None))]
    pub fn orders(&self, bike: Option<BikeId>) -> Result<Vec<OrderView>, SteerwrightError> {
        self.read(|reader| Ok(reader.orders(bike)?.into_iter().map(Into::into).collect()))
    }

    /// One order request with all its data.
    pub fn order(&self, id: OrderId) -> Result<OrderDetails, SteerwrightError> {
        self.read(|reader| {
            let OrderScreen { order, messages, changed, request, body } = reader.order(id)?;
            Ok(OrderDetails {
                order: order.into(),
                messages: messages.into_iter().map(Into::into).collect(),
                changed: changed.map(Into::into),
                asked: request.into(),
                json: body,
            })
        })
    }

    /// Sets the shop for order requests: its URL (`https://`) and its token. A new URL needs a new consent
    /// before anything is sent. Requests that a shop has, or may have, stay with that shop.
    pub fn set_shop(&self, base: String, token: String) -> Result<Changes, SteerwrightError> {
        let token = Token::new(&token)?;
        Ok(self.change(Op::ChangeSettings, |work| work.set_shop(&base, &token))?.changes.into())
    }

    /// Deletes a shop: its URL, its tokens and the consent for it. Requests that it has show that the shop was removed.
    /// Returns what the shop was still to be asked.
    pub fn forget_shop(&self, base: String) -> Result<ShopForgotten, SteerwrightError> {
        let forgotten = self.change(Op::ChangeSettings, |work| work.forget_shop(&base))?;
        Ok(ShopForgotten::new(forgotten.output, forgotten.changes.into()))
    }

    /// The shop, if one is set.
    pub fn shop(&self) -> Result<Option<ShopSetting>, SteerwrightError> {
        self.read(|reader| {
            Ok(reader.shop()?.map(|it| ShopSetting {
                base: it.base,
                set_at: it.set_at,
                agreed_at: it.agreement.as_ref().map(|it| it.agreed_at),
                agreed_to: it.agreement.map(|it| it.words),
            }))
        })
    }

    /// Records the user's consent to sending order requests to the shop, with the exact text that was shown.
    #[uniffi::method(default(who = None))]
    pub fn agree_to_sending(&self, words: String, who: Option<String>) -> Result<Changes, SteerwrightError> {
        let done = self.change(Op::ChangeSettings, |work| work.agree_to_sending(&words, who.as_deref()))?;
        Ok(done.changes.into())
    }

    /// Revokes every consent, including those for shops with earlier requests. Nothing is sent or queried from then on.
    pub fn end_agreement(&self) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.end_agreement())?.changes.into())
    }
}
