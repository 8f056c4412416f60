//! Order requests as stored.

use super::due::NEVER;
use super::messages::{self, ShopMessage};
use super::recheck::{self, VerdictChange};
use super::state::{DeliveryState, Fault, Reason, State};
use crate::error::Missing as _;
use crate::{
    BikeId, BookError, EnumText, Inner, JsonText, MessageId, OrderId, OrderSummary, Reader, Timestamp,
};
use rusqlite::{Connection, OptionalExtension, Row};
use serde::{Deserialize, Serialize};
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{Kind, OrderRequest, ShopStatus};

/// An order request and its delivery status.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Order {
    /// Its id, here and at the shop.
    pub id: OrderId,
    /// The bike; the request itself contains the bike's state at that time.
    pub bike: Option<BikeId>,
    /// The request that it replaces.
    pub replaces: Option<OrderId>,
    /// The latest request that replaces it.
    pub replaced_by: Option<OrderId>,
    /// An order or a question.
    pub kind: Kind,
    /// The kit's maker.
    pub maker: String,
    /// Number of the catalogue used for the verdict.
    pub number: u32,
    /// The kit's order code.
    pub sku: String,
    /// Quantity.
    pub quantity: u32,
    /// When it was queued.
    pub made_at: Timestamp,
    /// Its state.
    pub state: State,
    /// Whether the shop may have it although there is no receipt. It can then be withdrawn only explicitly.
    pub may_be_with_shop: bool,
    /// Why it waits for the user or was rejected, or why its shop cannot be asked what is still to be asked.
    pub reason: Option<Reason>,
    /// The fault of the last attempt, which is retried automatically.
    pub fault: Option<Fault>,
    /// Attempts that failed since the last success.
    pub tries: u32,
    /// When it is due next, if anything is.
    pub next_at: Option<Timestamp>,
    /// Number of photos.
    pub photos: u32,
    /// Number of photos that arrived at the shop.
    pub photos_arrived: u32,
    /// When the receipt arrived.
    pub delivered_at: Option<Timestamp>,
    /// The shop that has it, or may have it, independent of the present shop.
    pub at: Option<OrderShop>,
    /// The shop's latest decision.
    pub shop: Option<ShopReply>,
    /// The shop's own number of the request: what to name to a person there.
    pub shop_number: Option<u64>,
    /// How a person reaches the shop, as it told last.
    pub shop_contact: Option<String>,
    /// Messages and withdrawals that wait to be sent.
    pub messages_waiting: u32,
    /// Messages and withdrawals that the shop rejected and that are not cleared.
    pub messages_rejected: u32,
    /// Whether a withdrawal waits to be sent or is with the shop.
    pub withdrawal: bool,
    /// When the contact was erased.
    pub erased_at: Option<Timestamp>,
    /// Whether the contact was erased here and a shop that has it, or may have it, has not erased it yet.
    pub erase_at_shop: bool,
}

/// The shop to which a request was sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OrderShop {
    /// Its address, without a trailing slash.
    pub base: String,
    /// Whether the user agrees to sending there, so that it can be queried.
    pub agreed: bool,
}

/// A shop's latest reply to a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShopReply {
    /// Its decision.
    pub status: ShopStatus,
    /// Since when it holds.
    pub since: Option<Timestamp>,
    /// The shop's message.
    pub message: Option<String>,
}

/// One order request in full.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderScreen {
    /// Its status.
    pub order: Order,
    /// What the shop was told about it since, or is to be told, oldest first.
    pub messages: Vec<ShopMessage>,
    /// Another verdict by what was measured since the shop was told.
    pub changed: Option<VerdictChange>,
    /// The request; without the contact once that is erased.
    pub request: OrderRequest,
    /// The exact text that is sent (`steerwright.order-request/1`).
    pub body: String,
}

/// The purpose of a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "step", deny_unknown_fields)]
pub enum Step {
    /// Query how much of a photo the shop has.
    AskPhoto {
        /// The photo.
        photo: PhotoHash,
    },
    /// Send a part of a photo.
    SendPhoto {
        /// The photo.
        photo: PhotoHash,
        /// First byte.
        from: u64,
        /// One past the last byte.
        to: u64,
    },
    /// Send the request itself.
    Send,
    /// Query the shop's decision.
    Ask,
    /// Tell the shop something about a request that it has.
    Tell {
        /// The message.
        message: MessageId,
    },
    /// Withdraw a request that the shop has, or may have.
    Withdraw {
        /// The withdrawal, a message of its own.
        message: MessageId,
    },
    /// Have the contact erased at the shop too.
    Erase,
    /// Fetch the shop's catalogue.
    Catalogue,
}

impl Step {
    /// The photo concerned.
    pub(super) fn photo(self) -> Option<PhotoHash> {
        match self {
            Self::AskPhoto { photo } | Self::SendPhoto { photo, .. } => Some(photo),
            _ => None,
        }
    }

    /// The message concerned.
    pub(super) fn message(self) -> Option<MessageId> {
        match self {
            Self::Tell { message } | Self::Withdraw { message } => Some(message),
            _ => None,
        }
    }
}

/// A row of the outbox with the data for the next call.
pub(super) struct Entry {
    pub(super) key: i64,
    pub(super) id: OrderId,
    pub(super) bike: Option<BikeId>,
    pub(super) delivery: DeliveryState,
    pub(super) maker: String,
    pub(super) tries: u32,
    pub(super) next_at: Timestamp,
    pub(super) calls: u32,
    pub(super) in_flight: Option<(Step, Timestamp)>,
    pub(super) rechecked: u32,
    pub(super) delivered_at: Option<Timestamp>,
    pub(super) shop_status: Option<ShopStatus>,
    pub(super) erased_at: Option<Timestamp>,
    /// The shop to which it was sent, a row of `order_shops`.
    pub(super) shop: Option<i64>,
    /// Whether it was rejected for a missing photo file and continues when that is back.
    pub(super) lacks_photo: bool,
}

impl Entry {
    /// Whether the contact is erased here and a shop has it, or may have it. [`NEVER`](super::due::NEVER) in `next_at`:
    /// the shop confirmed that it erased it.
    pub(super) fn erases_at_shop(&self) -> bool {
        self.erased_at.is_some() && with_shop(self.delivery.state, self.delivery.in_doubt)
    }
}

/// Whether a shop has a request, or may have one that was withdrawn.
fn with_shop(state: State, in_doubt: bool) -> bool {
    state == State::Delivered || (state == State::Withdrawn && in_doubt)
}

const ENTRY: &str = "SELECT o.key, o.id, b.id AS bike_id, o.maker, o.erased_at, x.state,
     x.in_doubt, x.tries, x.next_at, x.calls, x.in_flight, x.began_at, x.rechecked, x.delivered_at, x.shop_status, x.shop,
     x.state = 'rejected' AND coalesce(x.reason ->> 'why' = 'photo_lost', 0) AS lacks_photo
 FROM outbox x JOIN orders o ON o.key = x.key LEFT JOIN bikes b ON b.key = o.bike";

fn entry(row: &Row<'_>) -> rusqlite::Result<Entry> {
    let EnumText(state) = row.get("state")?;
    let in_flight: Option<JsonText<Step>> = row.get("in_flight")?;
    let began: Option<Timestamp> = row.get("began_at")?;
    let word: Option<EnumText<ShopStatus>> = row.get("shop_status")?;
    Ok(Entry {
        key: row.get("key")?,
        id: row.get("id")?,
        bike: row.get("bike_id")?,
        delivery: DeliveryState { state, in_doubt: row.get("in_doubt")? },
        maker: row.get("maker")?,
        tries: row.get("tries")?,
        next_at: row.get("next_at")?,
        calls: row.get("calls")?,
        in_flight: in_flight.map(|JsonText(step)| step).zip(began),
        rechecked: row.get("rechecked")?,
        delivered_at: row.get("delivered_at")?,
        shop_status: word.map(|EnumText(word)| word),
        erased_at: row.get("erased_at")?,
        shop: row.get("shop")?,
        lacks_photo: row.get("lacks_photo")?,
    })
}

/// The outbox row of a request.
pub(super) fn find(conn: &Connection, id: OrderId) -> Result<Entry, Inner> {
    let found =
        conn.prepare_cached(&format!("{ENTRY} WHERE o.id = ?1"))?.query_row([id], entry).optional()?;
    found.ok_or_else(|| id.missing())
}

/// Every request that may need a call, oldest first: also withdrawn ones whose contact a shop may have, and those that
/// wait for a photo's file and are not replaced.
pub(super) fn open(conn: &Connection) -> Result<Vec<Entry>, Inner> {
    let mut rows = conn.prepare_cached(&format!(
        "{ENTRY} WHERE x.state IN ('queued', 'underway', 'in_doubt', 'delivered')
             OR (x.state = 'withdrawn' AND x.in_doubt AND (o.erased_at IS NOT NULL
                 OR EXISTS (SELECT 1 FROM order_messages m WHERE m.request = o.key AND m.state = 'queued')))
             OR (x.state = 'rejected' AND x.reason ->> 'why' = 'photo_lost'
                 AND NOT EXISTS (SELECT 1 FROM orders later WHERE later.replaces = o.key))
         ORDER BY x.key"
    ))?;
    let rows = rows.query_map([], entry)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The frozen body of a request.
pub(super) fn body(conn: &Connection, key: i64) -> Result<String, Inner> {
    Ok(conn.prepare_cached("SELECT body FROM orders WHERE key = ?1")?.query_row([key], |row| row.get(0))?)
}

/// Parses a frozen body.
pub(super) fn thawed(body: &str) -> Result<OrderRequest, Inner> {
    serde_json::from_str(body).map_err(|error| Inner::Stored(format!("a frozen order request: {error}")))
}

/// A photo of a request.
pub(super) struct PhotoEntry {
    pub(super) hash: PhotoHash,
    pub(super) bytes: u64,
    pub(super) arrived: Option<u64>,
    pub(super) damaged: u32,
}

/// The photos of a request in order.
pub(super) fn photos(conn: &Connection, order: i64) -> Result<Vec<PhotoEntry>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT sha256, bytes, arrived, damaged FROM order_photos WHERE request = ?1 ORDER BY key",
    )?;
    let rows = rows.query_map([order], |row| {
        Ok(PhotoEntry {
            hash: PhotoHash(row.get(0)?),
            bytes: row.get(1)?,
            arrived: row.get(2)?,
            damaged: row.get(3)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

const ORDER: &str = "SELECT o.*, x.*, b.id AS bike_id, old.id AS replaces_id,
     (SELECT id FROM orders WHERE replaces = o.key ORDER BY key DESC LIMIT 1) AS replaced_by,
     (SELECT count(*) FROM order_photos WHERE request = o.key) AS photos,
     (SELECT count(*) FROM order_photos WHERE request = o.key AND arrived = bytes) AS photos_arrived,
     (SELECT count(*) FROM order_messages WHERE request = o.key AND state = 'queued') AS messages_waiting,
     (SELECT count(*) FROM order_messages WHERE request = o.key AND state = 'rejected') AS messages_rejected,
     EXISTS (SELECT 1 FROM order_messages WHERE request = o.key AND kind = 'withdrawal'
         AND state IN ('queued', 'sent')) AS withdrawal,
     s.base AS at_base,
     EXISTS (SELECT 1 FROM agreements a WHERE a.base = s.base AND a.ended_at IS NULL) AS at_agreed
 FROM orders o JOIN outbox x ON x.key = o.key LEFT JOIN bikes b ON b.key = o.bike
     LEFT JOIN orders old ON old.key = o.replaces LEFT JOIN order_shops s ON s.key = x.shop";

fn order(row: &Row<'_>) -> rusqlite::Result<Order> {
    let (EnumText(state), EnumText(kind)): (EnumText<State>, EnumText<Kind>) =
        (row.get("state")?, row.get("kind")?);
    let reason: Option<JsonText<Reason>> = row.get("reason")?;
    let fault: Option<JsonText<Fault>> = row.get("fault")?;
    let word: Option<EnumText<ShopStatus>> = row.get("shop_status")?;
    let shop = match word {
        None => None,
        Some(EnumText(word)) => {
            Some(ShopReply { status: word, since: row.get("shop_since")?, message: row.get("shop_message")? })
        }
    };
    let in_doubt: bool = row.get("in_doubt")?;
    let (erased_at, next_at): (Option<Timestamp>, Timestamp) = (row.get("erased_at")?, row.get("next_at")?);
    let erase_at_shop = erased_at.is_some() && with_shop(state, in_doubt) && next_at != NEVER;
    let sends = matches!(state, State::Queued | State::InDoubt);
    // After a final decision, or without a contact, the shop is no longer queried.
    let asks = state == State::Delivered
        && erased_at.is_none()
        && shop.as_ref().is_none_or(|shop: &ShopReply| !shop.status.is_final());
    let at: Option<String> = row.get("at_base")?;
    let reason = reason.map(|JsonText(reason)| reason);
    let messages_waiting: u32 = row.get("messages_waiting")?;
    let tells = messages_waiting > 0;
    let gone = DeliveryState { state, in_doubt }.may_be_with_shop()
        && at.is_none()
        && (sends || asks || erase_at_shop || tells);
    let reason = if gone { Some(Reason::ShopGone) } else { reason };
    let due = (sends || erase_at_shop || tells) && !gone;
    let agreed = row.get("at_agreed")?;
    Ok(Order {
        id: row.get("id")?,
        bike: row.get("bike_id")?,
        replaces: row.get("replaces_id")?,
        replaced_by: row.get("replaced_by")?,
        kind,
        maker: row.get("maker")?,
        number: row.get("number")?,
        sku: row.get("sku")?,
        quantity: row.get("quantity")?,
        made_at: row.get("made_at")?,
        state,
        may_be_with_shop: in_doubt || state == State::Underway,
        reason,
        fault: fault.map(|JsonText(fault)| fault),
        tries: row.get("tries")?,
        next_at: due.then_some(next_at),
        photos: row.get("photos")?,
        photos_arrived: row.get("photos_arrived")?,
        delivered_at: row.get("delivered_at")?,
        at: at.map(|base| OrderShop { base, agreed }),
        shop,
        shop_number: row.get("shop_number")?,
        shop_contact: row.get("shop_contact")?,
        messages_waiting,
        messages_rejected: row.get("messages_rejected")?,
        withdrawal: row.get("withdrawal")?,
        erased_at,
        erase_at_shop,
    })
}

impl OrderSummary {
    /// An order or a question.
    pub fn kind(&self) -> Kind {
        // The table's CHECK allows no other word.
        if self.kind == Kind::Order.name() { Kind::Order } else { Kind::Question }
    }

    /// Its state; `None` for a word that this program does not know.
    pub fn state(&self) -> Option<State> {
        State::ALL.into_iter().find(|state| state.name() == self.state)
    }

    /// The shop's latest decision.
    pub fn shop(&self) -> Option<ShopStatus> {
        ShopStatus::ALL.into_iter().find(|word| Some(word.name()) == self.shop_status.as_deref())
    }
}

impl Reader {
    /// Order requests, those of one bike or all, the latest first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn orders(&self, bike: Option<BikeId>) -> Result<Vec<Order>, BookError> {
        self.read(|conn| {
            let mut rows =
                conn.prepare_cached(&format!("{ORDER} WHERE ?1 IS NULL OR b.id = ?1 ORDER BY o.key DESC"))?;
            let rows = rows.query_map([bike], order)?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    /// One order request with its frozen text.
    ///
    /// # Errors
    /// No such request.
    pub fn order(&self, id: OrderId) -> Result<OrderScreen, BookError> {
        self.read(|conn| {
            let found = conn
                .prepare_cached(&format!("{ORDER} WHERE o.id = ?1"))?
                .query_row([id], order)
                .optional()?;
            let order = found.ok_or_else(|| id.missing())?;
            let entry = find(conn, id)?;
            let body = body(conn, entry.key)?;
            let messages = messages::of_request(conn, entry.key)?.into_iter().map(|it| it.told).collect();
            let changed = recheck::change(conn, &entry)?;
            Ok(OrderScreen { order, messages, changed, request: thawed(&body)?, body })
        })
    }
}
