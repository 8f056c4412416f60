//! What senders call; the calls themselves are described where their types are, in the core's `orders::wire`.

mod caller;
mod catalogue;
mod openapi;
mod orders;
mod photos;
mod problem;

pub use caller::Peer;
pub(crate) use caller::{address, body, is_of_type, one};
pub use openapi::openapi;
pub(crate) use problem::Refusal;

use crate::state::Intake;
use axum::Router;
use axum::routing::{delete, get, head, post};
use std::sync::Arc;
use steerwright_protocol::wire::{CATALOGUE, ORDER_REQUESTS, PHOTOS};

/// The senders' addresses.
pub(crate) fn routes() -> Router<Arc<Intake>> {
    Router::new()
        .route(ORDER_REQUESTS, post(orders::post))
        .route(&format!("{ORDER_REQUESTS}/{{id}}"), get(orders::get))
        .route(&format!("{ORDER_REQUESTS}/{{id}}/contact"), delete(orders::erase_contact))
        .route(&format!("{PHOTOS}/{{sha256}}"), head(photos::head).put(photos::put))
        .route(CATALOGUE, get(catalogue::get))
}
