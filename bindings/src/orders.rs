//! Order requests: drafted, checked, queued; looked at, changed, withdrawn, sent again, erased.

use crate::judging::exact_mm;
use crate::{
    Amount, Book, Changes, Direction, LocalizedText, OrderKind, OrderState, PartKind, ShopStatus,
    SteerwrightError, Verdict,
};
use steerwright_core::book::{BikeId, Op, OrderId, Outcome, PhotoId, Timestamp};
use steerwright_core::orders::{self, Order, OrderScreen, Token};
use steerwright_core::protocol::wire::{OrderRequest, Part};

pub use steerwright_core::protocol::wire::Contact;

/// Who asks, and how to reach them: an e-mail address, a telephone number, or both.
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

/// What the user fills in to ask for a kit; everything else comes from the book.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderDraft {
    /// For which bike.
    pub bike: BikeId,
    /// Whose kit; that maker's catalogue in use counts.
    pub maker: String,
    /// Which kit, by its order code.
    pub sku: String,
    /// Which way round it is to go in.
    pub direction: Direction,
    /// How many, 1 to 99.
    #[uniffi(default = 1)]
    pub quantity: u32,
    /// An order, or only a question.
    pub kind: OrderKind,
    /// Whether parts that go with the kit are asked for too.
    #[uniffi(default = true)]
    pub with_parts: bool,
    /// Who asks.
    pub contact: Contact,
    /// Anything the shop should know; lines; may be empty.
    #[uniffi(default = "")]
    pub note: String,
    /// Photos to send along: their working copies, without a place.
    #[uniffi(default = [])]
    pub photos: Vec<PhotoId>,
}

/// A draft made from an old request.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Redraft {
    /// What was asked for, to be changed; its contact is empty if that was erased.
    pub draft: OrderDraft,
    /// How many photos went with the old request and are in the book no more.
    pub photos_gone: u32,
}

/// What a draft would ask for now.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderPreview {
    /// An order or a question.
    pub kind: OrderKind,
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// How many.
    pub quantity: u32,
    /// Price of one as a decimal text.
    pub price: String,
    /// ISO 4217 code of the price.
    pub currency: String,
    /// Parts that go with it.
    pub parts: Vec<PartView>,
    /// The verdict that goes along.
    pub verdict: Verdict,
    /// Why, in a sentence.
    pub english: String,
    /// Who asks.
    pub contact: Contact,
    /// What the shop is told.
    pub note: String,
    /// How many photos go along, each once.
    pub photos: u32,
}

/// A part that goes with a kit.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PartView {
    /// Of what kind.
    pub what: PartKind,
    /// The maker's order code.
    pub sku: Option<String>,
    /// How many.
    pub quantity: u32,
    /// Height of spacers in all.
    pub height: Option<Amount>,
    /// Which one and why, in a sentence.
    pub text: LocalizedText,
}

/// An order request and what became of it.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderView {
    /// Its name, here and with the shop.
    pub id: OrderId,
    /// The bike it is for.
    pub bike: Option<BikeId>,
    /// The request it took the place of.
    pub replaces: Option<OrderId>,
    /// The latest request that took its place.
    pub replaced_by: Option<OrderId>,
    /// An order or a question.
    pub kind: OrderKind,
    /// Whose kit.
    pub maker: String,
    /// Which kit.
    pub sku: String,
    /// How many.
    pub quantity: u32,
    /// When it was queued.
    pub made_at: Timestamp,
    /// Where it stands.
    pub state: OrderState,
    /// The same in words.
    pub state_text: LocalizedText,
    /// Whether the shop may have it although there is no receipt: it can then be withdrawn only knowingly.
    pub may_be_with_shop: bool,
    /// Why it waits for the user or was rejected, and what to do.
    pub reason: Option<LocalizedText>,
    /// Whether the very same can be sent again once that is fixed; otherwise it has to be changed.
    pub same_again: bool,
    /// What went wrong last with an attempt that is made again by itself.
    pub fault: Option<LocalizedText>,
    /// Attempts that failed since the last success.
    pub tries: u32,
    /// When it is due next, if anything is.
    pub next_at: Option<Timestamp>,
    /// How many photos go with it.
    pub photos: u32,
    /// How many of them are with the shop.
    pub photos_arrived: u32,
    /// When the receipt came.
    pub delivered_at: Option<Timestamp>,
    /// The shop's last word.
    pub shop: Option<ShopView>,
    /// When the contact was erased.
    pub erased_at: Option<Timestamp>,
    /// Whether the shop is still to be asked to erase it too.
    pub erase_at_shop: bool,
}

/// A shop's last word on a request.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopView {
    /// Its decision.
    pub status: ShopStatus,
    /// Since when.
    pub since: Option<Timestamp>,
    /// In its own words.
    pub message: Option<String>,
}

/// One order request in full.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct OrderDetails {
    /// What became of it.
    pub order: OrderView,
    /// What was asked for; without the contact once that is erased.
    pub asked: OrderPreview,
    /// The very text that is sent (`steerwright.order-request/1`).
    pub json: String,
}

/// A request that was queued.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct OrderQueued {
    /// Its name.
    pub id: OrderId,
    /// Which screens are stale.
    pub changes: Changes,
}

/// The shop that order requests go to. Its token stays in the book.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopSetting {
    /// Its address.
    pub base: String,
    /// When it was set.
    pub set_at: Timestamp,
    /// The words the user agreed to; nothing is sent without.
    pub agreed_to: Option<String>,
    /// When.
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
            shop: it.shop.map(|it| ShopView { status: it.status, since: it.since, message: it.message }),
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
    /// What a draft would ask for now, checked as queueing checks it; nothing is written. `Invalid` names every field that
    /// is missing or wrong.
    pub fn check_order(&self, draft: OrderDraft) -> Result<OrderPreview, SteerwrightError> {
        let now = self.now();
        self.read(|reader| Ok(reader.try_order(&draft.into(), now)?.into()))
    }

    /// Puts an order request in the outbox, frozen as it will be sent.
    pub fn queue_order(&self, draft: OrderDraft) -> Result<OrderQueued, SteerwrightError> {
        let draft = draft.into();
        Ok(self.change(Op::Order, |work| work.queue_order(&draft))?.into())
    }

    /// An old request as a draft again, to be changed and given to `edit_order`.
    pub fn draft_from(&self, id: OrderId) -> Result<Redraft, SteerwrightError> {
        self.read(|reader| {
            let orders::Redraft { draft, photos_gone } = reader.draft_from(id)?;
            let photos_gone = u32::try_from(photos_gone.len()).unwrap_or(u32::MAX);
            Ok(Redraft { draft: draft.into(), photos_gone })
        })
    }

    /// Makes a new request that takes the place of an old one, which is withdrawn if the shop cannot have it.
    pub fn edit_order(&self, old: OrderId, draft: OrderDraft) -> Result<OrderQueued, SteerwrightError> {
        let draft = draft.into();
        Ok(self.change(Op::Order, |work| work.edit_order(old, &draft))?.into())
    }

    /// Sends a request again that was rejected or waits for the user. The name of what is sent, which is a new one if
    /// the catalogue changed.
    pub fn send_order_again(&self, id: OrderId) -> Result<OrderQueued, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.send_order_again(id))?.into())
    }

    /// Takes a request back. One that the shop may have is taken back only `anyway`: the user then knows that the shop has
    /// to be told.
    #[uniffi::method(default(anyway = false))]
    pub fn withdraw_order(&self, id: OrderId, anyway: bool) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.withdraw_order(id, anyway))?.changes.into())
    }

    /// Erases who asked and how to reach them from a request; one not with the shop yet is withdrawn, and a shop that may
    /// have it is asked to erase the same.
    pub fn erase_contact(&self, id: OrderId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::Order, |work| work.erase_contact(id))?.changes.into())
    }

    /// Order requests, those of one bike or all, the latest first.
    #[uniffi::method(default(bike = None))]
    pub fn orders(&self, bike: Option<BikeId>) -> Result<Vec<OrderView>, SteerwrightError> {
        self.read(|reader| Ok(reader.orders(bike)?.into_iter().map(Into::into).collect()))
    }

    /// One order request in full.
    pub fn order(&self, id: OrderId) -> Result<OrderDetails, SteerwrightError> {
        self.read(|reader| {
            let OrderScreen { order, request, body } = reader.order(id)?;
            Ok(OrderDetails { order: order.into(), asked: request.into(), json: body })
        })
    }

    /// Sets the shop that order requests go to: its address (`https://`) and the token it gave. A new address needs a new
    /// agreement before anything is sent. Requests that a shop has, or may have, stay with that shop.
    pub fn set_shop(&self, base: String, token: String) -> Result<Changes, SteerwrightError> {
        let token = Token::new(&token)?;
        Ok(self.change(Op::ChangeSettings, |work| work.set_shop(&base, &token))?.changes.into())
    }

    /// Erases a shop: its address, its tokens and what was agreed to for it. Requests that it has say that it is gone.
    pub fn forget_shop(&self, base: String) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.forget_shop(&base))?.changes.into())
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

    /// Records that the user agreed to sending order requests to the shop: the very words that were shown.
    #[uniffi::method(default(who = None))]
    pub fn agree_to_sending(&self, words: String, who: Option<String>) -> Result<Changes, SteerwrightError> {
        let done = self.change(Op::ChangeSettings, |work| work.agree_to_sending(&words, who.as_deref()))?;
        Ok(done.changes.into())
    }

    /// Takes every agreement back, also for shops that have earlier requests: nothing more is sent or asked from now on.
    pub fn end_agreement(&self) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.end_agreement())?.changes.into())
    }
}
