//! The shop's page.

use crate::state::Intake;
use axum::Router;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// Pictures.
#[derive(Debug, Default)]
pub struct Pictures;

pub(crate) fn routes() -> Router<Arc<Intake>> {
    Router::new()
}

pub(crate) fn nothing_here() -> Response {
    StatusCode::NOT_FOUND.into_response()
}

pub(crate) fn another_method() -> Response {
    StatusCode::METHOD_NOT_ALLOWED.into_response()
}
