//! Authentication of senders by bearer token, with rate limits.

use super::body::single_header;
use super::problem::ProblemResponse;
use crate::senders::{Sender, find_by_token};
use crate::state::AppState;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{Extensions, HeaderMap, header};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use steerwright_protocol::wire::ProblemKind;

/// The client address of a connection. The server adds it to the extensions of each request.
#[derive(Debug, Clone, Copy)]
pub struct PeerAddress(pub SocketAddr);

/// The key for rate limits per client: the IPv4 address, or the first 64 bits of the IPv6 address, because
/// one household has that prefix to itself.
pub(crate) fn client_address(extensions: &Extensions) -> IpAddr {
    match extensions.get::<PeerAddress>().map(|peer| peer.0.ip()) {
        Some(IpAddr::V6(v6)) => match v6.to_ipv4_mapped() {
            Some(v4) => v4.into(),
            None => IpAddr::V6((v6.to_bits() >> 64 << 64).into()),
        },
        Some(v4) => v4,
        None => Ipv4Addr::UNSPECIFIED.into(),
    }
}

/// Extracts the sender of a request from its bearer token, within the sender's rate limit.
#[derive(Debug, Clone, Copy)]
pub(super) struct AuthenticatedSender(pub(super) Sender);

impl FromRequestParts<Arc<AppState>> for AuthenticatedSender {
    type Rejection = ProblemResponse;

    async fn from_request_parts(parts: &mut Parts, app: &Arc<AppState>) -> Result<Self, ProblemResponse> {
        let now = app.now();
        let token = bearer_token(&parts.headers);
        let sender = match token {
            Some(token) => find_by_token(&app.database, token).await?,
            None => None,
        };
        let Some(sender) = sender else {
            return Err(match app.unauthenticated_limiter.acquire(client_address(&parts.extensions), now) {
                Ok(()) => ProblemResponse::unauthorized(token.is_some()),
                Err(seconds) => too_many(seconds),
            });
        };
        tracing::Span::current().record("sender", sender.0);
        app.sender_limiter.acquire(sender, now).map_err(too_many)?;
        Ok(Self(sender))
    }
}

fn too_many(seconds: u64) -> ProblemResponse {
    ProblemResponse::new(ProblemKind::TooMany, format!("Come again in {seconds} s.")).retry_after(seconds)
}

/// The token of `Authorization: Bearer` (RFC 6750, 2.1). The scheme is case-insensitive (RFC 9110, 11.1).
fn bearer_token(headers: &HeaderMap) -> Option<&str> {
    let (scheme, token) = single_header(headers, header::AUTHORIZATION.as_str())?.split_once(' ')?;
    let token = token.trim();
    (scheme.eq_ignore_ascii_case("bearer") && (8..=512).contains(&token.len())).then_some(token)
}
