//! One call to a shop: what a shell sends, and the outcome that it reports.

use super::record::Step;
use crate::OrderId;
use std::path::PathBuf;
use steerwright_fit::catalogue::Catalogue;

/// Identifies a call: its purpose and its number, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum OutboundCallId {
    /// For a request.
    Request {
        /// The request.
        order: OrderId,
        /// Its number, counted from 1.
        number: u32,
    },
    /// For the shop's catalogue.
    Catalogue {
        /// Its number, counted from 1.
        number: u32,
    },
}

impl OutboundCallId {
    /// The request of the call, if any.
    pub fn order(self) -> Option<OrderId> {
        match self {
            Self::Request { order, .. } => Some(order),
            Self::Catalogue { .. } => None,
        }
    }

    /// Its number among the calls of its kind.
    pub fn number(self) -> u32 {
        match self {
            Self::Request { number, .. } | Self::Catalogue { number } => number,
        }
    }
}

/// The body of a call.
#[derive(Clone, PartialEq, Eq)]
pub enum Body {
    /// Nothing.
    None,
    /// This text in UTF-8, byte for byte.
    Text(String),
    /// The bytes `from` up to but not including `to` of a file.
    File {
        /// Its path.
        path: PathBuf,
        /// First byte.
        from: u64,
        /// One past the last byte.
        to: u64,
    },
}

/// A call that is due. It contains the sender's token and perhaps a contact, so `Debug` does not print it.
#[derive(Clone, PartialEq, Eq)]
pub struct OutboundCall {
    /// Its id.
    pub id: OutboundCallId,
    /// Its purpose.
    pub step: Step,
    /// `GET`, `HEAD`, `POST`, `PUT` or `DELETE`.
    pub method: &'static str,
    /// The shop's address, without a trailing slash; the call's URL is this followed by `path`.
    pub base: String,
    /// The path, with its leading slash.
    pub path: String,
    /// Names and values of headers; a shell's client adds `Content-Length` and `Host`.
    pub headers: Vec<(&'static str, String)>,
    /// The body.
    pub body: Body,
}

impl OutboundCall {
    /// The most bytes of the answer's body that are used. A shell may stop reading after one more.
    pub fn most_answer_bytes(&self) -> usize {
        match self.step {
            Step::Catalogue => Catalogue::MOST_BYTES,
            _ => Answer::MOST_BYTES,
        }
    }
}

impl std::fmt::Debug for OutboundCall {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "OutboundCall({:?} {} {})", self.id, self.method, self.path)
    }
}

/// A shop's answer of any status. A redirect is reported, not followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// Names, in any case, and values of headers.
    pub headers: Vec<(String, String)>,
    /// The body. A shell may stop reading after one byte more than [`OutboundCall::most_answer_bytes`].
    pub body: Vec<u8>,
}

impl Answer {
    /// The most bytes of a body that are used, except for a catalogue.
    pub const MOST_BYTES: usize = 256 << 10;

    /// The value of a header.
    pub(super) fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(it, _)| it.eq_ignore_ascii_case(name));
        found.map(|(_, value)| value.trim())
    }
}

/// The outcome of a call.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CallOutcome {
    /// The shop answered.
    Answer(Answer),
    /// The device has no network; nothing was sent.
    NoNetwork,
    /// The shop's name was not resolved, or its host refused the connection; nothing was sent.
    NotReached,
    /// No TLS connection could be established; nothing was sent.
    Tls,
    /// No answer arrived in time; something may have been sent.
    Timeout,
    /// The connection broke; something may have been sent.
    ConnectionLost,
    /// The body's file is missing, too short or unreadable; no request was sent.
    NoFile,
}
