//! Carrying order requests to the shop: the shell sends bytes, the book decides what and when.

use crate::background::{ProgressReporter, off_thread};
use crate::{Book, CancellationToken, ProgressListener, ShellError, SteerwrightError};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::Arc;
use steerwright_core::book::{OrderId, Timestamp};
use steerwright_core::orders::{Answer, Body, CallOutcome, OutboundCall, OutboundCallId};
use uuid::Uuid;

/// Sends a call to a shop and waits for its answer.
#[uniffi::export(foreign)]
pub trait Sender: Send + Sync {
    /// Sends one call as it is and tells what came back, whatever its status; a redirect is not followed. Called on the
    /// thread of the delivery, one call after the other. If it throws, the connection counts as broken while something
    /// may have been sent: the call is made again later, under the same key, which a shop takes once.
    fn send(&self, call: ShopCall) -> Result<CallResult, ShellError>;
}

/// Knows whether the device has a network.
#[uniffi::export(foreign)]
pub trait Connectivity: Send + Sync {
    /// Whether there is one. If it throws, sending is tried.
    fn is_online(&self) -> Result<bool, ShellError>;
}

/// Names a call, for telling how it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct CallId {
    /// The request it is for; the nil UUID for the shop's catalogue.
    pub order: OrderId,
    /// Which of its calls.
    pub number: u32,
}

/// A header of a call or an answer.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Header {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: String,
}

/// A call to a shop. It holds the sender's token and perhaps a contact: it belongs in no log.
#[derive(Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopCall {
    /// Its name.
    pub id: CallId,
    /// `GET`, `HEAD`, `POST`, `PUT` or `DELETE`.
    pub method: String,
    /// The whole address.
    pub url: String,
    /// Headers; a client adds `Host` and `Content-Length` itself.
    pub headers: Vec<Header>,
    /// The body, byte for byte; at most 2 MiB, and empty for none.
    pub body: Vec<u8>,
    /// More bytes of the answer's body than this are not looked at; it may be cut off after one more.
    pub most_answer_bytes: u64,
}

/// What came back.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum CallResult {
    /// The shop answered.
    Answered {
        /// The status.
        status: u16,
        /// Names, in any case, and values of headers.
        headers: Vec<Header>,
        /// The body; it may be cut off as the call says.
        body: Vec<u8>,
    },
    /// The device has no network; nothing was sent.
    NoNetwork,
    /// The shop's name was not found, or its computer took no connection; nothing was sent.
    NotReached,
    /// No safe connection came about; nothing was sent.
    NoTls,
    /// No answer came in time; something may have been sent.
    Timeout,
    /// The connection broke; something may have been sent.
    ConnectionLost,
}

/// What a delivery did.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct DeliveryReport {
    /// Calls that were made.
    pub calls: u32,
    /// Whether nothing was tried because there is no network.
    pub offline: bool,
    /// Whether it was stopped before all was done.
    pub cancelled: bool,
    /// When to deliver next, to send, to ask for the shop's word or to have a contact erased; it may be over already where
    /// this delivery ended early. Absent if nothing will be due by itself.
    pub next_at: Option<Timestamp>,
    /// What the shell's own parts threw, each once.
    pub threw: Vec<String>,
}

impl From<CallResult> for CallOutcome {
    fn from(it: CallResult) -> Self {
        match it {
            CallResult::Answered { status, headers, body } => Self::Answer(Answer {
                status,
                headers: headers.into_iter().map(|it| (it.name, it.value)).collect(),
                body,
            }),
            CallResult::NoNetwork => Self::NoNetwork,
            CallResult::NotReached => Self::NotReached,
            CallResult::NoTls => Self::Tls,
            CallResult::Timeout => Self::Timeout,
            CallResult::ConnectionLost => Self::ConnectionLost,
        }
    }
}

/// Stands where a request's name does for calls that fetch the shop's catalogue: no request has the nil UUID (RFC 9562,
/// 5.9).
const CATALOGUE: OrderId = OrderId(Uuid::nil());

impl From<OutboundCallId> for CallId {
    fn from(id: OutboundCallId) -> Self {
        Self { order: id.order().unwrap_or(CATALOGUE), number: id.number() }
    }
}

impl From<CallId> for OutboundCallId {
    fn from(CallId { order, number }: CallId) -> Self {
        if order == CATALOGUE { Self::Catalogue { number } } else { Self::Request { order, number } }
    }
}

/// The body's bytes; `None` if the file cannot be read.
fn body(body: &Body) -> Option<Vec<u8>> {
    match body {
        Body::None => Some(Vec::new()),
        Body::Text(text) => Some(text.clone().into_bytes()),
        Body::File { path, from, to } => {
            let length = usize::try_from(to.checked_sub(*from)?).ok()?;
            let mut bytes = vec![0; length];
            let mut file = File::open(path).ok()?;
            file.seek(SeekFrom::Start(*from)).ok()?;
            file.read_exact(&mut bytes).ok()?;
            Some(bytes)
        }
    }
}

fn shop_call(call: &OutboundCall) -> Option<ShopCall> {
    Some(ShopCall {
        id: call.id.into(),
        method: call.method.to_owned(),
        url: format!("{}{}", call.base, call.path),
        headers: call
            .headers
            .iter()
            .map(|(name, value)| Header { name: (*name).to_owned(), value: value.clone() })
            .collect(),
        body: body(&call.body)?,
        most_answer_bytes: call.most_answer_bytes() as u64,
    })
}

impl Book {
    /// Takes the calls that are due, each written down as begun.
    fn begun(&self, most: usize) -> Result<Vec<ShopCall>, SteerwrightError> {
        let mut calls = Vec::new();
        let now = self.now();
        let due = self.writer().due(now)?;
        for call in due {
            if calls.len() == most {
                break;
            }
            // Before it is begun: a file that cannot be read costs no doubt about what the shop has.
            let ready = shop_call(&call);
            let mut book = self.writer();
            if !book.begin_call(&call, now)? {
                continue;
            }
            match ready {
                Some(ready) => calls.push(ready),
                None => {
                    book.finish_call(call.id, &CallOutcome::NoFile, now)?;
                }
            }
        }
        Ok(calls)
    }

    fn ended(&self, id: CallId, outcome: &CallOutcome) -> Result<bool, SteerwrightError> {
        let now = self.now();
        Ok(self.writer().finish_call(id.into(), outcome, now)?.output)
    }
}

fn run_delivery(
    book: &Book,
    sender: &dyn Sender,
    connectivity: Option<&dyn Connectivity>,
    progress: &mut ProgressReporter,
) -> Result<DeliveryReport, SteerwrightError> {
    let mut told =
        DeliveryReport { calls: 0, offline: false, cancelled: false, next_at: None, threw: Vec::new() };
    fn threw(told: &mut DeliveryReport, ShellError::Failed { reason }: ShellError) {
        if !told.threw.contains(&reason) {
            told.threw.push(reason);
        }
    }
    loop {
        match connectivity.map(Connectivity::is_online) {
            Some(Ok(false)) => told.offline = true,
            Some(Err(error)) => threw(&mut told, error),
            Some(Ok(true)) | None => {}
        }
        if told.offline {
            break;
        }
        // One at a time: a call that was begun and not made is waited for.
        let Some(call) = book.begun(1)?.pop() else { break };
        match progress.step(u64::from(told.calls), 0) {
            Ok(()) => {}
            Err(error) => {
                // It was not sent, so nothing is lost by telling so.
                book.ended(call.id, &CallOutcome::NoNetwork)?;
                if matches!(error, SteerwrightError::Cancelled { .. }) {
                    told.cancelled = true;
                    break;
                }
                return Err(error);
            }
        }
        let id = call.id;
        told.calls = told.calls.saturating_add(1);
        let outcome = match sender.send(call) {
            Ok(result) => result.into(),
            Err(error) => {
                threw(&mut told, error);
                CallOutcome::ConnectionLost
            }
        };
        book.ended(id, &outcome)?;
    }
    told.next_at = book.read(|reader| Ok(reader.next_due()?))?;
    Ok(told)
}

#[uniffi::export]
impl Book {
    /// Makes every call that is due, photos first, off the calling thread, until nothing is due any more. Each is written
    /// down before it is sent and after it came back, so that the app may be killed at any moment. Without a shop and the
    /// user's agreement nothing is due.
    #[uniffi::method(default(connectivity = None, listener = None, cancellation = None))]
    pub async fn deliver(
        self: Arc<Self>,
        sender: Arc<dyn Sender>,
        connectivity: Option<Arc<dyn Connectivity>>,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<DeliveryReport, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            run_delivery(&self, &*sender, connectivity.as_deref(), progress)
        })
        .await
    }

    /// The calls that are due now, each written down as begun, for a system that sends in the background while the app is
    /// not running. Every one has to be sent and its end told to `finish_call`; one that is not heard of for five minutes
    /// counts as cut short and is made again under the same key.
    pub fn begin_calls(&self) -> Result<Vec<ShopCall>, SteerwrightError> {
        self.begun(usize::MAX)
    }

    /// Tells how a call ended. False: it is not waited for any more, and nothing was changed.
    pub fn finish_call(&self, id: CallId, result: CallResult) -> Result<bool, SteerwrightError> {
        self.ended(id, &result.into())
    }

    /// Tells that the device has a network again: what waited only for that is due now.
    pub fn network_restored(&self) -> Result<(), SteerwrightError> {
        let now = self.now();
        Ok(self.writer().network_restored(now)?)
    }
}
