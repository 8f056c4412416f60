//! Error responses as problem documents (RFC 9457).

use crate::database::DatabaseError;
use crate::orders::OrdersError;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use steerwright_protocol::wire::{PROBLEM_JSON, Problem, ProblemKind, UPLOAD_OFFSET};

/// A problem document and the headers of its response.
#[derive(Debug)]
pub(crate) struct ProblemResponse {
    problem: Box<Problem>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl ProblemResponse {
    /// A problem of a kind, with details of this occurrence.
    pub(crate) fn new(kind: ProblemKind, detail: impl Into<String>) -> Self {
        Problem::new(kind, Some(detail.into())).into()
    }

    /// `about:blank`: a problem that the status alone describes (RFC 9457, 4.2.1).
    pub(crate) fn from_status(status: StatusCode, detail: Option<&str>) -> Self {
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

    /// A bug in this program: 500. The reason is logged and not sent.
    pub(crate) fn internal(reason: &dyn std::fmt::Display) -> Self {
        tracing::error!(%reason, "internal error");
        Self::from_status(StatusCode::INTERNAL_SERVER_ERROR, None)
    }

    /// 401 for a request without a valid token (RFC 6750, 3); `given`: whether it had a token at all.
    pub(crate) fn unauthorized(given: bool) -> Self {
        let challenge = if given { "Bearer error=\"invalid_token\"" } else { "Bearer" };
        let detail = if given { "The token is not known, or is closed." } else { "The call names no token." };
        Self::new(ProblemKind::Token, detail)
            .header(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge))
    }

    /// Adds `Retry-After`.
    #[must_use]
    pub(crate) fn retry_after(self, seconds: u64) -> Self {
        self.header(header::RETRY_AFTER, seconds.into())
    }

    /// Adds `Upload-Offset`: the number of stored bytes of the photo.
    #[must_use]
    pub(crate) fn upload_offset(self, offset: u64) -> Self {
        match HeaderName::from_bytes(UPLOAD_OFFSET.as_bytes()) {
            Ok(name) => self.header(name, offset.into()),
            Err(_) => self,
        }
    }

    /// Adds a header.
    #[must_use]
    pub(crate) fn header(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.headers.push((name, value));
        self
    }
}

impl From<Problem> for ProblemResponse {
    fn from(problem: Problem) -> Self {
        Self { problem: Box::new(problem), headers: Vec::new() }
    }
}

/// 503 for an error of the database, the photo store or the machine. The error is logged and not sent; the
/// sender retries.
fn unavailable(error: &dyn std::fmt::Display) -> ProblemResponse {
    tracing::error!(%error, "service unavailable");
    ProblemResponse::new(ProblemKind::Unavailable, "Something is amiss here; it is not the request's fault.")
        .retry_after(10)
}

impl From<DatabaseError> for ProblemResponse {
    fn from(error: DatabaseError) -> Self {
        match &error {
            DatabaseError::Task(_) | DatabaseError::Parameter { .. } => Self::internal(&error),
            _ => unavailable(&error),
        }
    }
}

impl From<OrdersError> for ProblemResponse {
    fn from(error: OrdersError) -> Self {
        match error {
            OrdersError::Database(error) => error.into(),
            error => unavailable(&error),
        }
    }
}

impl From<crate::photos::PhotoStoreError> for ProblemResponse {
    fn from(error: crate::photos::PhotoStoreError) -> Self {
        unavailable(&error)
    }
}

impl From<crate::crypto::RandomnessError> for ProblemResponse {
    fn from(error: crate::crypto::RandomnessError) -> Self {
        unavailable(&error)
    }
}

impl IntoResponse for ProblemResponse {
    fn into_response(self) -> Response {
        let status = self.problem.status.and_then(|status| StatusCode::from_u16(status).ok());
        let body = serde_json::to_vec(&self.problem).unwrap_or_default();
        let kind = [(header::CONTENT_TYPE, PROBLEM_JSON)];
        let mut response = (status.unwrap_or(StatusCode::INTERNAL_SERVER_ERROR), kind, body).into_response();
        response.headers_mut().extend(self.headers);
        response
    }
}
