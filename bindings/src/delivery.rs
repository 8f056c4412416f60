//! Delivery of order requests to the shop. The host app sends bytes; the book decides what is sent and when.

use crate::background::{ProgressReporter, off_thread};
use crate::{Book, CancellationToken, ProgressListener, ShellError, SteerwrightError};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::sync::Arc;
use steerwright_core::book::{OrderId, Timestamp};
use steerwright_core::orders::{Answer, Body, CallOutcome, OutboundCall, OutboundCallId};
use uuid::Uuid;

/// The HTTP client of the host app.
#[uniffi::export(foreign)]
pub trait Sender: Send + Sync {
    /// Sends one HTTP request unchanged and returns the result, whatever its status. Redirects must not be
    /// followed. Called on the delivery thread, one request at a time. An error counts as a broken connection
    /// after which something may have been sent: the request is retried later with the same idempotency key,
    /// which a shop accepts once.
    fn send(&self, call: ShopCall) -> Result<CallResult, ShellError>;
}

/// Reports whether the device has a network.
#[uniffi::export(foreign)]
pub trait Connectivity: Send + Sync {
    /// Whether a network is available. On an error, delivery is attempted.
    fn is_online(&self) -> Result<bool, ShellError>;
}

/// Identifies a call when its result is reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct CallId {
    /// The order request of the call; the nil UUID for the shop's catalogue.
    pub order: OrderId,
    /// Sequence number among the calls of that order request.
    pub number: u32,
}

/// An HTTP header field.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Header {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: String,
}

/// An HTTP request to a shop. It contains the sender's token and possibly contact data, so it must not be logged.
#[derive(Clone, PartialEq, Eq, uniffi::Record)]
pub struct ShopCall {
    /// Id of the call.
    pub id: CallId,
    /// `GET`, `HEAD`, `POST`, `PUT` or `DELETE`.
    pub method: String,
    /// The complete URL.
    pub url: String,
    /// Header fields. The HTTP client adds `Host` and `Content-Length`.
    pub headers: Vec<Header>,
    /// The body, sent unchanged; at most 2 MiB, empty if there is none.
    pub body: Vec<u8>,
    /// Maximum number of response body bytes that are read. The client may truncate the body after one more byte.
    pub most_answer_bytes: u64,
}

/// Result of an HTTP request.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum CallResult {
    /// The shop responded.
    Answered {
        /// HTTP status.
        status: u16,
        /// Header fields; names in any case.
        headers: Vec<Header>,
        /// The body; may be truncated as described at `most_answer_bytes`.
        body: Vec<u8>,
    },
    /// The device has no network. Nothing was sent.
    NoNetwork,
    /// The host name was not resolved or the connection was refused. Nothing was sent.
    NotReached,
    /// No TLS connection was established. Nothing was sent.
    NoTls,
    /// The request timed out. Something may have been sent.
    Timeout,
    /// The connection broke. Something may have been sent.
    ConnectionLost,
}

/// Result of a delivery run.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct DeliveryReport {
    /// Number of requests made.
    pub calls: u32,
    /// Whether nothing was attempted because the device has no network.
    pub offline: bool,
    /// Whether the run was cancelled before it was complete.
    pub cancelled: bool,
    /// When to run the next delivery, to send, to query the shop's status or to erase a contact. It may be in
    /// the past if this run ended early. Absent if nothing becomes due by itself.
    pub next_at: Option<Timestamp>,
    /// Errors thrown by the host app's callbacks, without duplicates.
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

/// Placeholder order id for calls that download the shop's catalogue. No order request has the nil UUID (RFC
/// 9562, 5.9).
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

/// The bytes of the body; `None` if the file cannot be read.
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
    /// Takes up to `most` due calls and records each as begun.
    fn begun(&self, most: usize) -> Result<Vec<ShopCall>, SteerwrightError> {
        let mut calls = Vec::new();
        let now = self.now();
        let due = self.writer().due(now)?;
        for call in due {
            if calls.len() == most {
                break;
            }
            // The body is read before the call is recorded as begun, so that an unreadable file leaves no
            // doubt about what the shop has received.
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
        // One at a time: a call that was begun but not made would block until its timeout.
        let Some(call) = book.begun(1)?.pop() else { break };
        match progress.step(u64::from(told.calls), 0) {
            Ok(()) => {}
            Err(error) => {
                // The call was not sent, so it is safe to report that.
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
    /// Makes every due call, photos first, on a separate thread, until nothing is due. Each call is recorded
    /// before it is sent and after its result is known, so that the app may be killed at any moment. Nothing
    /// is due without a shop and the user's consent.
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

    /// The calls that are due now, each recorded as begun, for a system service that sends in the background
    /// while the app is not running. Every call has to be sent and its result reported with `finish_call`. A
    /// call without a result counts as interrupted after five minutes and is retried with the same
    /// idempotency key.
    pub fn begin_calls(&self) -> Result<Vec<ShopCall>, SteerwrightError> {
        self.begun(usize::MAX)
    }

    /// Records the result of a call. Returns false if the call is no longer pending; nothing is changed then.
    pub fn finish_call(&self, id: CallId, result: CallResult) -> Result<bool, SteerwrightError> {
        self.ended(id, &result.into())
    }

    /// Makes the question for the shop's answer due now, about one request or all, for a screen that was opened or
    /// pulled; `deliver` then asks. Only a wait that the shop asked for is kept.
    #[uniffi::method(default(order = None))]
    pub fn ask_now(&self, order: Option<OrderId>) -> Result<(), SteerwrightError> {
        let now = self.now();
        Ok(self.writer().ask_now(order, now)?)
    }

    /// Reports that the network is available again. Calls that waited only for the network become due.
    pub fn network_restored(&self) -> Result<(), SteerwrightError> {
        let now = self.now();
        Ok(self.writer().network_restored(now)?)
    }
}
