//! The shop's page: log in, see what came, answer. Written on the server, without a script; one style sheet.

mod answer;
mod frame;
mod guard;
mod list;
mod login;
mod one;
mod pictures;
mod words;

pub(crate) use pictures::Pictures;

use crate::state::Intake;
use axum::Router;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use std::sync::Arc;

/// The shopkeepers' addresses.
pub(crate) fn routes() -> Router<Arc<Intake>> {
    Router::new()
        .route("/", get(list::get))
        .route("/login", get(login::get).post(login::post))
        .route("/logout", post(login::leave))
        .route("/requests/{number}", get(one::get))
        .route("/requests/{number}/photos/{name}", get(one::photo))
        .route("/requests/{number}/drawings/{name}", get(one::drawing))
        .route("/requests/{number}/answer", post(answer::post))
        .route("/requests/{number}/erase", post(answer::erase))
        .route("/style.css", get(style))
        .route("/icon.svg", get(icon))
}

async fn style() -> Response {
    let headers =
        [(header::CONTENT_TYPE, "text/css; charset=utf-8"), (header::CACHE_CONTROL, "public, max-age=300")];
    (headers, include_str!("style.css")).into_response()
}

async fn icon() -> Response {
    let headers = [(header::CONTENT_TYPE, "image/svg+xml"), (header::CACHE_CONTROL, "public, max-age=86400")];
    (headers, include_str!("icon.svg")).into_response()
}

pub(crate) fn nothing_here() -> Response {
    frame::refusal(StatusCode::NOT_FOUND, "There is nothing here.", "The address may be mistyped.")
}

pub(crate) fn another_method() -> Response {
    frame::refusal(StatusCode::METHOD_NOT_ALLOWED, "That does not work here.", "Go back and try again.")
}
