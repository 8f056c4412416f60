//! Forms of the request page: answering, and erasing the contact.

use super::form::Form;
use super::layout::{PageError, error_page};
use super::session::LoggedIn;
use crate::database::DatabaseError;
use crate::erasure::{self, Also};
use crate::orders;
use crate::state::AppState;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ShopStatus;

/// Maximum length of a message in characters, as in the schema of receipts.
pub(super) const MAX_MESSAGE_CHARS: usize = 2_000;

/// `POST /requests/{number}/answer`.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    let invalid = |message| {
        PageError::response(error_page(StatusCode::UNPROCESSABLE_ENTITY, "No answer was given.", message))
    };
    let status = [ShopStatus::Question, ShopStatus::Accepted, ShopStatus::Refused]
        .into_iter()
        .find(|status| status.name() == form.get("status"))
        .ok_or_else(|| invalid("Go back and choose one."))?;
    let message = form.get("message").replace("\r\n", "\n");
    let message = message.trim();
    if message.chars().count() > MAX_MESSAGE_CHARS
        || steerwright_input::first_hidden_in_lines(message).is_some()
    {
        return Err(invalid("Go back and write at most 2000 plain characters."));
    }
    if message.is_empty() && status != ShopStatus::Accepted {
        return Err(invalid("Go back and write the question or the reason: the sender reads nothing else."));
    }
    let status_since =
        Timestamp(form.get("status_since").parse().map_err(|_| invalid("Go back and load the page again."))?);
    let message = (!message.is_empty()).then_some(message);
    let (database, name, now) = (&app.database, &session.name, app.now());
    match orders::answer(database, number, status_since, status, message, name, now).await {
        Ok(()) => Ok(Redirect::to(&format!("/requests/{number}")).into_response()),
        Err(DatabaseError::Conflict) => Err(PageError::response(error_page(
            StatusCode::CONFLICT,
            "It has been answered meanwhile.",
            "Nothing was changed. Look at the request again.",
        ))),
        Err(error) => Err(error.into()),
    }
}

/// `POST /requests/{number}/delete`.
pub(super) async fn delete(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    if form.get("sure") != "yes" {
        let message = "Go back and tick the box if you mean it.";
        let title = "Nothing was deleted.";
        return Err(PageError::response(error_page(StatusCode::UNPROCESSABLE_ENTITY, title, message)));
    }
    erasure::delete_request(&app.database, number, &session.name, app.now()).await?;
    erasure::delete_loose_photos(&app.database, &app.photo_store).await?;
    app.purge_erased().await;
    Ok(Redirect::to("/").into_response())
}

/// `POST /requests/{number}/erase`.
pub(super) async fn erase(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    if form.get("sure") != "yes" {
        let message = "Go back and tick the box if you mean it.";
        let title = "Nothing was erased.";
        return Err(PageError::response(error_page(StatusCode::UNPROCESSABLE_ENTITY, title, message)));
    }
    let also = Also { photos: form.get("photos") == "yes", bike: form.get("bike") == "yes" };
    erasure::erase(&app.database, number, also, &session.name, app.now()).await?;
    if also.photos {
        erasure::delete_loose_photos(&app.database, &app.photo_store).await?;
    }
    app.purge_erased().await;
    Ok(Redirect::to(&format!("/requests/{number}")).into_response())
}
