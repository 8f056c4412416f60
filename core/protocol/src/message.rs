//! What a sender says about a request that a shop has: a message, or that the request is withdrawn.

use super::check::check_lines;
use super::wire::{MOMENT, Receipt, UUID};
use serde::{Deserialize, Serialize};
use steerwright_input::{FileErrors, Limits, Path, Problem, Problems, check_schema, parse, read};
use steerwright_metrology::ids::{MessageId, OrderId};
use steerwright_metrology::timestamp::Timestamp;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum OrderMessageSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.order-message/1")]
    V1,
}

/// A sender's message about a request that the shop has: `steerwright.order-message/1`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OrderMessage {
    /// The format's name and version.
    pub schema: OrderMessageSchema,
    /// Its id, a UUID version 7 (RFC 9562); also its idempotency key.
    #[schemars(with = "String", regex(pattern = UUID))]
    pub id: MessageId,
    /// The request that it is about.
    #[schemars(with = "String", regex(pattern = UUID))]
    pub request: OrderId,
    /// When it was written, RFC 3339 in UTC.
    #[schemars(with = "String", length(max = 40), regex(pattern = MOMENT))]
    pub made_at: Timestamp,
    /// The text, possibly several lines.
    #[schemars(length(min = 1, max = 2000))]
    pub text: String,
    /// The changed request that comes with it and replaces the other; it is sent by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", inner(regex(pattern = UUID)))]
    pub changed: Option<OrderId>,
}

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum CancellationSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.cancellation/1")]
    V1,
}

/// A shop's answer to the withdrawal of a request: `steerwright.cancellation/1`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cancellation {
    /// The format's name and version.
    pub schema: CancellationSchema,
    /// Whether the withdrawal came in time.
    pub outcome: CancellationOutcome,
    /// The request as it stands; absent if the shop does not have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receipt: Option<Receipt>,
}

/// Whether a withdrawal came in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CancellationOutcome {
    /// The shop delivers nothing for it.
    Accepted,
    /// The shop had accepted the request before; only a person can stop it.
    TooLate,
    /// The shop has no such request from this sender. Should it still arrive, it is refused.
    Unknown,
}

impl CancellationOutcome {
    /// Every word.
    pub const ALL: [Self; 3] = [Self::Accepted, Self::TooLate, Self::Unknown];

    /// The word in the format.
    pub fn name(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::TooLate => "too_late",
            Self::Unknown => "unknown",
        }
    }
}

impl OrderMessage {
    /// The largest message that is read, in bytes.
    pub const MOST_BYTES: usize = 16 << 10;
    /// The most characters of its text.
    pub const MOST_TEXT: usize = 2_000;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 100 };

    /// Reads a message (`steerwright.order-message/1`, JSON in UTF-8); `file` is the name used in messages.
    ///
    /// # Errors
    /// Every problem of structure at once, or else every problem of content: see [`OrderMessage::check`].
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects).with_examples(example);
        check_schema(&tree, "steerwright.order-message/1", &problems);
        if problems.is_empty()
            && let Some(message) = read::<Self>(&tree, &Path::Root, &problems)
            && problems.is_empty()
        {
            message.check(file)?;
            return Ok(message);
        }
        Err(problems.into_errors())
    }

    /// Validates a message as a shop does; `called` is the name used in messages.
    ///
    /// # Errors
    /// A text that is empty, too long or has control characters; a changed request that is the request itself.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, expects);
        let path = Path::Field(&Path::Root, "text");
        if self.text.trim().is_empty() {
            problems.note(&path, Problem::Missing, None, expects("text").unwrap_or_default(), None);
        } else {
            check_lines(&self.text, Self::MOST_TEXT, &path, &problems);
        }
        if self.changed == Some(self.request) {
            let path = Path::Field(&Path::Root, "changed");
            problems.value(&path, "the request itself".into(), "another request".into(), None);
        }
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }

    /// The format's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}

impl Cancellation {
    /// The format's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}

/// Expected values of each field, in words.
fn expects(field: &str) -> Option<String> {
    let words = match field {
        "schema" => "\"steerwright.order-message/1\"",
        "id" | "request" | "changed" => "a UUID in lower-case letters",
        "made_at" => "a date and time such as 2026-05-01T10:30:00Z",
        "text" => "what the shop is to know, at most 2000 characters",
        _ => return None,
    };
    Some(words.to_owned())
}

/// A valid text for each field whose type refuses most texts.
fn example(field: &str) -> Option<&'static str> {
    match field {
        "id" | "request" | "changed" => Some("01890a5d-ac96-774b-bcce-b302099a8057"),
        "made_at" => Some("2026-05-01T10:30:00Z"),
        _ => None,
    }
}
