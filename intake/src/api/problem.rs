//! Refusals as answers (RFC 9457).

use crate::database::DatabaseError;
use crate::orders::OrdersError;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use steerwright_protocol::wire::{PROBLEM_JSON, Problem, ProblemKind, UPLOAD_OFFSET};

/// A refusal: the problem and the headers that go with it.
#[derive(Debug)]
pub(crate) struct Refusal {
    problem: Box<Problem>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl Refusal {
    /// A kind of problem, in this very case `detail`.
    pub(crate) fn new(kind: ProblemKind, detail: impl Into<String>) -> Self {
        Problem::new(kind, Some(detail.into())).into()
    }

    /// A status that says it all: no kind of its own (RFC 9457, 4.2.1).
    pub(crate) fn plain(status: StatusCode, detail: Option<&str>) -> Self {
        Problem {
            kind: "about:blank".to_owned(),
            title: status.canonical_reason().unwrap_or("Refused").to_owned(),
            status: Some(status.as_u16()),
            detail: detail.map(str::to_owned),
            errors: Vec::new(),
            photos: Vec::new(),
        }
        .into()
    }

    /// No token that is known (RFC 6750, 3).
    pub(crate) fn token(given: bool) -> Self {
        let challenge = if given { "Bearer error=\"invalid_token\"" } else { "Bearer" };
        let detail = if given { "The token is not known, or is closed." } else { "The call names no token." };
        Self::new(ProblemKind::Token, detail)
            .with(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge))
    }

    /// Come again after so many seconds.
    #[must_use]
    pub(crate) fn after(self, seconds: u64) -> Self {
        self.with(header::RETRY_AFTER, seconds.into())
    }

    /// So many bytes of the photo are here.
    #[must_use]
    pub(crate) fn at(self, offset: u64) -> Self {
        match HeaderName::from_bytes(UPLOAD_OFFSET.as_bytes()) {
            Ok(name) => self.with(name, offset.into()),
            Err(_) => self,
        }
    }

    /// With a header.
    #[must_use]
    pub(crate) fn with(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.headers.push((name, value));
        self
    }
}

impl From<Problem> for Refusal {
    fn from(problem: Problem) -> Self {
        Self { problem: Box::new(problem), headers: Vec::new() }
    }
}

/// What went wrong here is for the log; the sender only learns to come again.
fn unavailable(error: &dyn std::fmt::Display) -> Refusal {
    tracing::error!(%error, "not answered");
    Refusal::new(ProblemKind::Unavailable, "Something is amiss here; it is not the request's fault.")
        .after(10)
}

impl From<DatabaseError> for Refusal {
    fn from(error: DatabaseError) -> Self {
        unavailable(&error)
    }
}

impl From<OrdersError> for Refusal {
    fn from(error: OrdersError) -> Self {
        unavailable(&error)
    }
}

impl From<crate::photos::ShelfError> for Refusal {
    fn from(error: crate::photos::ShelfError) -> Self {
        unavailable(&error)
    }
}

impl From<crate::secret::NoChance> for Refusal {
    fn from(error: crate::secret::NoChance) -> Self {
        unavailable(&error)
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let status = self.problem.status.and_then(|status| StatusCode::from_u16(status).ok());
        let body = serde_json::to_vec(&self.problem).unwrap_or_default();
        let kind = [(header::CONTENT_TYPE, PROBLEM_JSON)];
        let mut response = (status.unwrap_or(StatusCode::INTERNAL_SERVER_ERROR), kind, body).into_response();
        response.headers_mut().extend(self.headers);
        response
    }
}
