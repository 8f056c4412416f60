//! Reading request headers and bodies within limits.

use super::problem::ProblemResponse;
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
    let content_length =
        single_header(headers, header::CONTENT_LENGTH.as_str()).and_then(|text| text.parse::<u64>().ok());
    if content_length.is_some_and(|length| length > max_bytes as u64) {
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
