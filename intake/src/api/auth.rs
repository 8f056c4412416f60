//! Authentication of senders by bearer token, with rate limits.

use super::body::single_header;
use super::problem::ProblemResponse;
use crate::senders::{Sender, find_by_token};
use crate::state::AppState;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};
use std::sync::{Arc, OnceLock};
use steerwright_protocol::wire::ProblemKind;

/// The sender of a call, for the middleware around its handler.
#[derive(Debug, Clone, Default)]
pub(crate) struct Caller(pub(crate) Arc<OnceLock<Sender>>);

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
            let client = app.proxies.client_key(&parts.extensions, &parts.headers);
            return Err(match app.unauthenticated_limiter.acquire(client, now) {
                Ok(()) => ProblemResponse::unauthorized(token.is_some()),
                Err(seconds) => too_many(seconds),
            });
        };
        tracing::Span::current().record("sender", sender.0);
        if let Some(caller) = parts.extensions.get::<Caller>() {
            // An error means that it is there already.
            let _ = caller.0.set(sender);
        }
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
