//! The shopkeepers' page: login, list of requests, one request with its answer. Rendered on the server,
//! without scripts.

mod account;
mod answer;
mod conversation;
mod export;
mod form;
mod labels;
mod layout;
mod list;
mod login;
mod print;
mod reply;
mod report;
mod request;
mod session;
mod standing;
mod texts;

pub(crate) use report::ReportCache;

use crate::state::AppState;
use axum::Router;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use std::sync::Arc;

/// The routes of the page.
pub(crate) fn routes() -> Router<Arc<AppState>> {
    Router::new()
        .route("/", get(list::get))
        .route("/login", get(login::get).post(login::post))
        .route("/logout", post(login::logout))
        .route("/account", get(account::get).post(account::post))
        .route("/requests/{number}", get(request::get))
        .route("/requests/{number}/photos/{name}", get(request::photo))
        .route("/requests/{number}/drawings/{name}", get(request::drawing))
        .route("/requests/{number}/packing-slip", get(print::packing_slip))
        .route("/requests/{number}/workshop-sheet", get(print::workshop_sheet))
        .route("/requests/{number}/answer", post(answer::post))
        .route("/requests/{number}/hand", post(answer::hand))
        .route("/requests/{number}/note", post(answer::note))
        .route("/requests/{number}/erase", post(answer::erase))
        .route("/requests/{number}/delete", post(answer::delete))
        .route("/requests.csv", get(export::csv))
        .route("/texts", get(texts::get).post(texts::post))
        .route("/state", get(standing::get))
        .route("/style.css", get(style))
        .route("/print.css", get(print_style))
        .route("/icon.svg", get(icon))
}

async fn style() -> Response {
    let headers =
        [(header::CONTENT_TYPE, "text/css; charset=utf-8"), (header::CACHE_CONTROL, "public, max-age=300")];
    (headers, format!("{}\n{}", steerwright_style::tokens(), include_str!("style.css"))).into_response()
}

async fn print_style() -> Response {
    let headers =
        [(header::CONTENT_TYPE, "text/css; charset=utf-8"), (header::CACHE_CONTROL, "public, max-age=300")];
    (headers, print::STYLE).into_response()
}

async fn icon() -> Response {
    let headers = [(header::CONTENT_TYPE, "image/svg+xml"), (header::CACHE_CONTROL, "public, max-age=86400")];
    (headers, include_str!("icon.svg")).into_response()
}

pub(crate) fn not_found() -> Response {
    layout::error_page(StatusCode::NOT_FOUND, "There is nothing here.", "The address may be mistyped.")
}

pub(crate) fn internal_error(message: &str) -> Response {
    layout::error_page(StatusCode::INTERNAL_SERVER_ERROR, "Something went wrong.", message)
}

pub(crate) fn method_not_allowed() -> Response {
    layout::error_page(StatusCode::METHOD_NOT_ALLOWED, "That does not work here.", "Go back and try again.")
}
