//! Reading request headers and bodies within limits.

use super::problem::ProblemResponse;
use crate::in_flight::{Full, Reservation};
use crate::senders::Sender;
use crate::state::AppState;
use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use bytes::Bytes;
use http_body_util::{BodyExt, LengthLimitError, Limited};
use steerwright_protocol::wire::ProblemKind;

/// The value of a header that occurs exactly once and is visible ASCII.
pub(crate) fn single_header<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let mut values = headers.get_all(name).iter();
    let (first, None) = (values.next()?, values.next()) else { return None };
    first.to_str().ok()
}

/// Whether `Content-Type` is `expected`, ignoring parameters.
pub(crate) fn has_content_type(headers: &HeaderMap, expected: &str) -> bool {
    let found = single_header(headers, header::CONTENT_TYPE.as_str()).unwrap_or_default();
    found.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(expected)
}

/// A sender's body, and the memory that is reserved for it.
pub(crate) struct SenderBody {
    pub(crate) bytes: Bytes,
    pub(crate) reservation: Reservation,
}

/// [`read_body`] of a sender, within the memory for bodies.
///
/// # Errors
/// Those of [`read_body`]; 429 if the sender's bodies take its share, 503 if all bodies together take everything.
pub(crate) async fn read_sender_body(
    app: &AppState,
    sender: Sender,
    headers: &HeaderMap,
    body: Body,
    max_bytes: usize,
) -> Result<SenderBody, ProblemResponse> {
    let announced = content_length(headers).and_then(|length| usize::try_from(length).ok());
    let reservation =
        app.in_flight.reserve(sender, announced.unwrap_or(max_bytes).min(max_bytes)).map_err(|full| {
            match full {
                Full::Sender => {
                    ProblemResponse::new(ProblemKind::TooMany, "Too much of this sender comes in at once.")
                        .retry_after(2)
                }
                Full::All => ProblemResponse::new(ProblemKind::Unavailable, "Too much comes in at once.")
                    .retry_after(5),
            }
        })?;
    Ok(SenderBody { bytes: read_body(app, headers, body, max_bytes).await?, reservation })
}

fn content_length(headers: &HeaderMap) -> Option<u64> {
    single_header(headers, header::CONTENT_LENGTH.as_str()).and_then(|text| text.parse().ok())
}

/// Reads a body of at most `max_bytes` bytes within [`Limits::body_timeout`](crate::Limits::body_timeout).
///
/// # Errors
/// 413 for a longer body, detected by `Content-Length` or while it arrives; 408 on a timeout; 400 for an
/// incomplete body.
pub(crate) async fn read_body(
    app: &AppState,
    headers: &HeaderMap,
    body: Body,
    max_bytes: usize,
) -> Result<Bytes, ProblemResponse> {
    let too_large =
        || ProblemResponse::new(ProblemKind::TooLarge, format!("At most {max_bytes} bytes are taken."));
    if content_length(headers).is_some_and(|length| length > max_bytes as u64) {
        return Err(too_large());
    }
    match tokio::time::timeout(app.limits.body_timeout, Limited::new(body, max_bytes).collect()).await {
        Ok(Ok(collected)) => Ok(collected.to_bytes()),
        Ok(Err(error)) if error.is::<LengthLimitError>() => Err(too_large()),
        Ok(Err(_)) => Err(ProblemResponse::from_status(StatusCode::BAD_REQUEST, Some("The body broke off."))),
        Err(_) => {
            let detail = Some("The body came too slowly.");
            Err(ProblemResponse::from_status(StatusCode::REQUEST_TIMEOUT, detail)
                .header(header::CONNECTION, HeaderValue::from_static("close")))
        }
    }
}
