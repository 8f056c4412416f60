//! Who calls, and what they send.

use super::problem::Refusal;
use crate::senders::{Sender, of_token};
use crate::state::Intake;
use axum::body::Body;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use bytes::Bytes;
use http_body_util::{BodyExt, LengthLimitError, Limited};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use steerwright_protocol::wire::ProblemKind;

/// Where a connection comes from; the one that listens puts it into each call.
#[derive(Debug, Clone, Copy)]
pub struct Peer(pub SocketAddr);

/// The address that rates are counted by: of IPv6 the first half, which one household has.
pub(crate) fn address(parts: &axum::http::Extensions) -> IpAddr {
    match parts.get::<Peer>().map(|peer| peer.0.ip()) {
        Some(IpAddr::V6(six)) => match six.to_ipv4_mapped() {
            Some(four) => four.into(),
            None => IpAddr::V6((six.to_bits() >> 64 << 64).into()),
        },
        Some(four) => four,
        None => Ipv4Addr::UNSPECIFIED.into(),
    }
}

/// A sender whose token is known and that has not called too often.
#[derive(Debug, Clone, Copy)]
pub(super) struct Caller(pub(super) Sender);

impl FromRequestParts<Arc<Intake>> for Caller {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, intake: &Arc<Intake>) -> Result<Self, Refusal> {
        let now = intake.now();
        let token = bearer(&parts.headers);
        let known = match token {
            Some(token) => of_token(&intake.database, token).await?,
            None => None,
        };
        let Some(sender) = known else {
            return Err(match intake.by_stranger.take(address(&parts.extensions), now) {
                Ok(()) => Refusal::token(token.is_some()),
                Err(seconds) => too_many(seconds),
            });
        };
        tracing::Span::current().record("sender", sender.0);
        intake.by_sender.take(sender, now).map_err(too_many)?;
        Ok(Self(sender))
    }
}

fn too_many(seconds: u64) -> Refusal {
    Refusal::new(ProblemKind::TooMany, format!("Come again in {seconds} s.")).after(seconds)
}

/// The token of `Authorization: Bearer` (RFC 6750, 2.1; the scheme in any case, RFC 9110, 11.1).
fn bearer(headers: &HeaderMap) -> Option<&str> {
    let (scheme, token) = one(headers, header::AUTHORIZATION.as_str())?.split_once(' ')?;
    let token = token.trim();
    (scheme.eq_ignore_ascii_case("bearer") && (8..=512).contains(&token.len())).then_some(token)
}

/// A header that is there once and in plain text.
pub(crate) fn one<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let mut values = headers.get_all(name).iter();
    let (first, None) = (values.next()?, values.next()) else { return None };
    first.to_str().ok()
}

/// Whether `Content-Type` is this, whatever its parameters.
pub(crate) fn is_of_type(headers: &HeaderMap, expected: &str) -> bool {
    let found = one(headers, header::CONTENT_TYPE.as_str()).unwrap_or_default();
    found.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(expected)
}

/// Reads a body of at most `most` bytes.
///
/// # Errors
/// One that is longer, announced or not, comes too slowly or breaks off.
pub(crate) async fn body(
    intake: &Intake,
    headers: &HeaderMap,
    body: Body,
    most: usize,
) -> Result<Bytes, Refusal> {
    let too_large = || Refusal::new(ProblemKind::TooLarge, format!("At most {most} bytes are taken."));
    let announced = one(headers, header::CONTENT_LENGTH.as_str()).and_then(|text| text.parse::<u64>().ok());
    if announced.is_some_and(|length| length > most as u64) {
        return Err(too_large());
    }
    match tokio::time::timeout(intake.limits.body, Limited::new(body, most).collect()).await {
        Ok(Ok(collected)) => Ok(collected.to_bytes()),
        Ok(Err(error)) if error.is::<LengthLimitError>() => Err(too_large()),
        Ok(Err(_)) => Err(Refusal::plain(StatusCode::BAD_REQUEST, Some("The body broke off."))),
        Err(_) => Err(Refusal::plain(StatusCode::REQUEST_TIMEOUT, Some("The body came too slowly."))
            .with(header::CONNECTION, axum::http::HeaderValue::from_static("close"))),
    }
}
