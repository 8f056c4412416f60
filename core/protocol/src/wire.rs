//! The HTTP calls between a sender and a shop: paths, headers and bodies.
//!
//! | call | body | answers |
//! | --- | --- | --- |
//! | `POST /v1/order-requests`, `Idempotency-Key` | [`OrderRequest`] | 201 [`Receipt`]; the same again for the same key and body |
//! | `GET /v1/order-requests/{id}` | | 200 [`Receipt`] |
//! | `POST /v1/order-requests/{id}/messages`, `Idempotency-Key` | [`OrderMessage`] | 201 [`Receipt`]: the request as it stands |
//! | `PUT /v1/order-requests/{id}/cancellation` | | 200 [`Cancellation`]: the request is withdrawn, or it is too late |
//! | `DELETE /v1/order-requests/{id}/contact` | | 204: the shop does not have the contact, or has erased it |
//! | `HEAD /v1/photos/{sha256}` | | 200 with `Upload-Offset`, the bytes received so far; 404: none |
//! | `PUT /v1/photos/{sha256}`, `Content-Range` | a part of the file | 202 with `Upload-Offset`: not complete yet; 201: complete |
//! | `GET /v1/catalogue`, `If-None-Match` | | 200 the file with `ETag` and `Catalogue-Signature`; 304 |
//!
//! Every call carries `Authorization: Bearer` with the sender's token (RFC 6750, 2.1). Every refusal is a [`Problem`]
//! (RFC 9457). A photo is named by the SHA-256 of its bytes, so the same one is never sent twice, and goes in parts
//! (RFC 9110, 14.5: a PUT with Content-Range, which the shop is known to take). A part begins
//! at the shop's `Upload-Offset`, as in the IETF's draft-ietf-httpbis-resumable-upload. The key is that of
//! draft-ietf-httpapi-idempotency-key-header.

pub use super::message::{
    Cancellation, CancellationOutcome, CancellationSchema, OrderMessage, OrderMessageSchema,
};

use super::hash::PhotoHash;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::Bike;
use steerwright_fit::judgement::{Direction, Verdict, Work};
use steerwright_fit::report::{CatalogueRef, Change, TiltReport};
use steerwright_metrology::ids::{MessageId, OrderId};
use steerwright_metrology::quantity::Estimate;
use steerwright_metrology::timestamp::Timestamp;

/// Path for posting order requests; a single one is at this path, a slash and its id.
pub const ORDER_REQUESTS: &str = "/v1/order-requests";
/// Photos are at this path, a slash and their SHA-256 in hexadecimal.
pub const PHOTOS: &str = "/v1/photos";
/// The shop's catalogue.
pub const CATALOGUE: &str = "/v1/catalogue";

/// Header of a POST: the request's id as a quoted string.
pub const IDEMPOTENCY_KEY: &str = "Idempotency-Key";
/// Header of answers about a photo: number of bytes from its start that the shop has.
pub const UPLOAD_OFFSET: &str = "Upload-Offset";
/// Header of a catalogue: the maker's Ed25519 signature (RFC 8032) over the body's bytes, in base64.
pub const CATALOGUE_SIGNATURE: &str = "Catalogue-Signature";

/// Media type of requests and receipts.
pub const JSON: &str = "application/json";
/// Media type of refusals (RFC 9457, 3).
pub const PROBLEM_JSON: &str = "application/problem+json";
/// Media type of photos: working copies are always this.
pub const JPEG: &str = "image/jpeg";

/// The path of one order request.
pub fn order_request_path(id: OrderId) -> String {
    format!("{ORDER_REQUESTS}/{id}")
}

/// The path of the contact of one order request, for erasing it.
pub fn contact_path(id: OrderId) -> String {
    format!("{ORDER_REQUESTS}/{id}/contact")
}

/// The path of the messages about one order request.
pub fn messages_path(id: OrderId) -> String {
    format!("{ORDER_REQUESTS}/{id}/messages")
}

/// The path for withdrawing one order request.
pub fn cancellation_path(id: OrderId) -> String {
    format!("{ORDER_REQUESTS}/{id}/cancellation")
}

/// The path of a photo.
pub fn photo_path(hash: PhotoHash) -> String {
    format!("{PHOTOS}/{hash}")
}

/// The value of the header `Idempotency-Key`: a string of RFC 8941, in quotes.
pub fn idempotency_key(id: OrderId) -> String {
    format!("\"{id}\"")
}

/// The value of the header `Idempotency-Key` of a message.
pub fn message_key(id: MessageId) -> String {
    idempotency_key(OrderId(id.0))
}

/// Parses the header `Idempotency-Key`; `None` unless it is exactly in the form of [`idempotency_key`].
pub fn read_idempotency_key(value: &str) -> Option<OrderId> {
    let inside = value.trim().strip_prefix('"')?.strip_suffix('"')?;
    let id: OrderId = inside.parse().ok()?;
    (id.to_string() == inside).then_some(id)
}

/// Parses the header `Idempotency-Key` of a message.
pub fn read_message_key(value: &str) -> Option<MessageId> {
    read_idempotency_key(value).map(|id| MessageId(id.0))
}

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum OrderRequestSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.order-request/1")]
    V1,
}

/// A request to a shop for a kit, with everything the shop needs to judge it: `steerwright.order-request/1`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OrderRequest {
    /// The format's name and version.
    pub schema: OrderRequestSchema,
    /// Its id, a UUID version 7 (RFC 9562); also its idempotency key.
    #[schemars(with = "String", regex(pattern = UUID))]
    pub id: OrderId,
    /// The request that this one replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", inner(regex(pattern = UUID)))]
    pub replaces: Option<OrderId>,
    /// When it was written, RFC 3339 in UTC.
    #[schemars(with = "String", length(max = 40), regex(pattern = MOMENT))]
    pub made_at: Timestamp,
    /// An order, or a question about the kit.
    pub kind: Kind,
    /// The kit.
    pub kit: OrderedKit,
    /// Matching parts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 20))]
    pub parts: Vec<Part>,
    /// The sender and how to reach them.
    pub contact: Contact,
    /// Free text for the shop, possibly several lines; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schemars(length(max = 2000))]
    pub note: String,
    /// Photos, which have to be with the shop before the request.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 12))]
    pub photos: Vec<SentPhoto>,
    /// The bike's state when this was written.
    pub bike: Bike,
    /// The result of the sender's check of this kit on this bike.
    pub found: Found,
}

/// RFC 3339, 5.6, in UTC, the form that this program writes; a receipt's timestamps have the same form.
pub(crate) const MOMENT: &str = r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9](\.[0-9]{1,9})?Z$";

pub(crate) const UUID: &str = "^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$";

/// The kind of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The kit is wanted; only where the verdict says that it fits.
    Order,
    /// The shop is asked to look at it: the kit does not fit, or that is not decided.
    Question,
}

impl Kind {
    /// The word in the format.
    pub fn name(self) -> &'static str {
        match self {
            Self::Order => "order",
            Self::Question => "question",
        }
    }
}

/// The requested kit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OrderedKit {
    /// The maker's order code.
    pub sku: String,
    /// The kit's name in the catalogue.
    pub name: String,
    /// Quantity.
    #[schemars(range(min = 1, max = 99))]
    pub quantity: u32,
    /// Orientation when installed.
    pub direction: Direction,
    /// Price of one in the catalogue's currency, as displayed to the sender.
    #[schemars(with = "String", regex(pattern = r"^[0-9]{1,7}(\.[0-9]{1,4})?$"))]
    pub price: Decimal,
}

/// A part requested with the kit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Its kind.
    pub what: PartKind,
    /// The maker's order code; absent if the catalogue has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sku: Option<String>,
    /// Quantity.
    #[schemars(range(min = 1, max = 198))]
    pub quantity: u32,
    /// Total height of spacers, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<f64>,
    /// Which part and why, in a sentence.
    pub text: String,
}

/// Kinds of parts requested with a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PartKind {
    /// Replaces a rough one.
    Bearing,
    /// For the new lower bearing.
    CrownRace,
    /// Compensate for a lower headset.
    Spacers,
}

/// The sender and how to reach them: an e-mail address, a telephone number, or both.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// The person's name.
    #[schemars(length(max = 120))]
    pub name: String,
    /// An e-mail address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 254))]
    pub email: Option<String>,
    /// A telephone number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 40))]
    pub phone: Option<String>,
    /// Postal address, possibly several lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 500))]
    pub address: Option<String>,
}

/// A photo of a request: its working copy, which contains only pixels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SentPhoto {
    /// SHA-256 of its bytes, its id at the shop.
    pub sha256: PhotoHash,
    /// Its length.
    pub bytes: u64,
    /// Description; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schemars(length(max = 500))]
    pub note: String,
}

/// Summary of the check's report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Found {
    /// Version of the engine that judged.
    pub engine: String,
    /// The catalogue used.
    pub catalogue: CatalogueRef,
    /// Its verdict.
    pub verdict: Verdict,
    /// The reason, in a sentence.
    pub text: String,
    /// Lower bound of the probability that every requirement is met, planned work done.
    pub p_low: f64,
    /// Upper bound of the same.
    pub p_high: f64,
    /// The kit's nominal tilt and its tilt in this bike.
    pub tilt_deg: TiltReport,
    /// Work required before installation.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub work: Vec<Work>,
    /// The changes of the geometry, as far as the readings determine them.
    pub change: Change,
    /// The tallest stack of spacers that still fits on the steerer, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tallest_spacers_mm: Option<Estimate>,
}

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum ReceiptSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.receipt/1")]
    V1,
}

/// A shop's record of a request that it has: `steerwright.receipt/1`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Receipt {
    /// The format's name and version.
    pub schema: ReceiptSchema,
    /// The request.
    #[schemars(with = "String", regex(pattern = UUID))]
    pub id: OrderId,
    /// The shop's own number of the request, short enough to be said aloud.
    #[schemars(range(min = 1))]
    pub number: u64,
    /// When it was received, RFC 3339 in UTC.
    #[schemars(with = "String", length(max = 40))]
    pub received_at: Timestamp,
    /// The shop's decision.
    pub state: ShopStatus,
    /// Since when, RFC 3339 in UTC.
    #[schemars(with = "String", length(max = 40))]
    pub since: Timestamp,
    /// The shop's question, its reason for refusing, or other information; possibly several lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 2000))]
    pub message: Option<String>,
    /// How a person reaches the shop, such as a telephone number; possibly several lines.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 300))]
    pub contact: Option<String>,
}

impl Receipt {
    /// The most characters of the shop's contact.
    pub const MOST_CONTACT: usize = 300;
}

/// A shop's decision on a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ShopStatus {
    /// No decision yet.
    Waiting,
    /// The shop has a question, which is in `message`.
    Question,
    /// The shop will deliver.
    Accepted,
    /// It is paid.
    Paid,
    /// It is on its way; `message` has the parcel's number, if there is one.
    Sent,
    /// Who asked has it.
    Collected,
    /// The shop will not deliver; `message` has the reason.
    Refused,
    /// The sender withdrew it before the shop decided.
    Withdrawn,
    /// The shop had accepted it and will not deliver after all; `message` has the reason.
    Cancelled,
}

impl ShopStatus {
    /// Every word.
    pub const ALL: [Self; 9] = [
        Self::Waiting,
        Self::Question,
        Self::Accepted,
        Self::Paid,
        Self::Sent,
        Self::Collected,
        Self::Refused,
        Self::Withdrawn,
        Self::Cancelled,
    ];

    /// The word in the format.
    pub fn name(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Question => "question",
            Self::Accepted => "accepted",
            Self::Paid => "paid",
            Self::Sent => "sent",
            Self::Collected => "collected",
            Self::Refused => "refused",
            Self::Withdrawn => "withdrawn",
            Self::Cancelled => "cancelled",
        }
    }

    /// Whether the state is final: nothing changes it, so nobody asks again.
    pub fn is_final(self) -> bool {
        matches!(self, Self::Collected | Self::Withdrawn | Self::Cancelled)
    }

    /// Whether the shop has decided. Until the state is final it may correct itself, or tell how far the delivery is.
    pub fn is_decided(self) -> bool {
        !matches!(self, Self::Waiting | Self::Question)
    }

    /// Whether the shop delivers, or has delivered.
    pub fn delivers(self) -> bool {
        matches!(self, Self::Accepted | Self::Paid | Self::Sent | Self::Collected)
    }
}

/// A problem response of a shop (RFC 9457). Unknown fields are ignored, as that standard requires (3.2).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Problem {
    /// The problem type: one of [`ProblemKind`]'s addresses; for any other only the status counts.
    #[serde(rename = "type", default = "blank")]
    pub kind: String,
    /// Description of the type.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub title: String,
    /// The status of the answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub status: Option<u16>,
    /// Description of this occurrence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub detail: Option<String>,
    /// For [`ProblemKind::Invalid`]: problems field by field.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldProblem>,
    /// For [`ProblemKind::PhotoMissing`]: the missing photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<PhotoHash>,
}

/// A problem of one field of a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct FieldProblem {
    /// The field as a path, such as `contact.email`.
    pub field: String,
    /// The problem.
    pub text: String,
}

fn blank() -> String {
    "about:blank".to_owned()
}

macro_rules! problems {
    ($($(#[$doc:meta])* $kind:ident = $status:literal, $uri:literal, $title:literal;)*) => {
        /// The kinds of problems that a shop reports, each with its relative address, its status and its title.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum ProblemKind { $($(#[$doc])* $kind,)* }

        impl ProblemKind {
            /// Every kind.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            /// The status of an answer with this problem.
            pub fn status(self) -> u16 {
                match self { $(Self::$kind => $status,)* }
            }

            /// The value of `type`.
            pub fn uri(self) -> &'static str {
                match self { $(Self::$kind => $uri,)* }
            }

            /// The value of `title`.
            pub fn title(self) -> &'static str {
                match self { $(Self::$kind => $title,)* }
            }
        }
    };
}

problems! {
    /// A POST without a valid `Idempotency-Key`, or with one that is not the request's id.
    KeyMissing = 400, "/problems/key-missing", "The request names no idempotency key.";
    /// The body is not JSON.
    NotJson = 400, "/problems/not-json", "The body is not JSON.";
    /// No token, or an unknown one.
    Token = 401, "/problems/token", "The sender's token is not known here.";
    /// There is no such resource, or it is another sender's.
    NotFound = 404, "/problems/not-found", "There is nothing of this name.";
    /// The first request with this key is still in progress.
    InProgress = 409, "/problems/in-progress", "The first request with this key is still being worked on.";
    /// A body or photo larger than the shop's limit.
    TooLarge = 413, "/problems/too-large", "The body is larger than is taken here.";
    /// A body of a type that this address does not accept.
    MediaType = 415, "/problems/media-type", "The body is of a kind that is not taken here.";
    /// A part of a photo that does not begin at the shop's offset; `Upload-Offset` states that offset.
    OffsetWrong = 416, "/problems/offset-wrong", "The part does not begin where the one before ended.";
    /// The key was used before with another body.
    KeyReused = 422, "/problems/key-reused", "The key came before, with another request.";
    /// The request violates a rule of the format; `errors` lists the problems.
    Invalid = 422, "/problems/invalid", "The request is not sound.";
    /// The shop does not sell this kit.
    KitUnknown = 422, "/problems/kit-unknown", "This kit is not sold here.";
    /// The sender withdrew the request before it arrived.
    Cancelled = 422, "/problems/cancelled", "The request was withdrawn before it came.";
    /// Photos of the request are missing; `photos` lists them.
    PhotoMissing = 422, "/problems/photo-missing", "Photos of the request have not arrived.";
    /// The bytes of a photo do not match its hash, or are not a picture; the received bytes were discarded.
    PhotoDamaged = 422, "/problems/photo-damaged", "The photo is not what its name says.";
    /// The photo contains more than pixels, such as its location; the received bytes were discarded.
    PhotoTells = 422, "/problems/photo-tells", "The photo says more than its pixels.";
    /// Too many calls; `Retry-After` states when to retry.
    TooMany = 429, "/problems/too-many", "Too many calls in a short time.";
    /// The shop is temporarily unavailable; `Retry-After` may state when to retry.
    Unavailable = 503, "/problems/unavailable", "The shop cannot answer just now.";
}

impl ProblemKind {
    /// The kind with this address.
    pub fn from_uri(uri: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.uri() == uri)
    }
}

impl Problem {
    /// A problem of a kind, with a description of this occurrence.
    pub fn new(kind: ProblemKind, detail: Option<String>) -> Self {
        Self {
            kind: kind.uri().to_owned(),
            title: kind.title().to_owned(),
            status: Some(kind.status()),
            detail,
            errors: Vec::new(),
            photos: Vec::new(),
        }
    }

    /// Its kind, if this program knows it.
    pub fn known(&self) -> Option<ProblemKind> {
        ProblemKind::from_uri(&self.kind)
    }
}

impl OrderRequest {
    /// The format's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}

impl Receipt {
    /// The format's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}

impl Problem {
    /// The format's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
