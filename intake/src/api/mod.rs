//! The HTTP API that senders call. Its types are those of `steerwright_protocol::wire`.

mod auth;
mod body;
mod catalogue;
mod messages;
mod openapi;
mod orders;
mod photos;
mod problem;

pub(crate) use auth::Caller;
pub(crate) use body::{has_content_type, read_body, single_header};
pub use openapi::openapi;
pub(crate) use problem::ProblemResponse;

use crate::state::AppState;
use axum::Router;
use axum::routing::{delete, get, head, post, put};
use std::sync::Arc;
use steerwright_protocol::wire::{CATALOGUE, ORDER_REQUESTS, PHOTOS};

/// The API's routes.
pub(crate) fn routes() -> Router<Arc<AppState>> {
    Router::new()
        .route(ORDER_REQUESTS, post(orders::post))
        .route(&format!("{ORDER_REQUESTS}/{{id}}"), get(orders::get))
        .route(&format!("{ORDER_REQUESTS}/{{id}}/contact"), delete(orders::erase_contact))
        .route(&format!("{ORDER_REQUESTS}/{{id}}/messages"), post(messages::post))
        .route(&format!("{ORDER_REQUESTS}/{{id}}/cancellation"), put(messages::cancel))
        .route(&format!("{PHOTOS}/{{sha256}}"), head(photos::head).put(photos::put))
        .route(CATALOGUE, get(catalogue::get))
}
