//! Forms of the request page: answering, and erasing the contact.

use super::form::Form;
use super::layout::{PageError, error_page};
use super::reply;
use super::session::LoggedIn;
use crate::database::DatabaseError;
use crate::desk;
use crate::erasure::{self, Also};
use crate::orders::{self, may_follow};
use crate::state::AppState;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ShopStatus;

fn conflict() -> PageError {
    PageError::response(error_page(
        StatusCode::CONFLICT,
        "It has been answered meanwhile.",
        "Nothing was changed. Look at the request again.",
    ))
}

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
    let stored = orders::load(&app.database, number).await?;
    let present = stored.as_ref().map_or(ShopStatus::Waiting, |stored| stored.status);
    if present.is_final() {
        return Err(conflict());
    }
    let status = may_follow(present)
        .iter()
        .copied()
        .find(|status| status.name() == form.get("status"))
        .ok_or_else(|| invalid("Go back and choose one."))?;
    let message = reply::message(&form).ok_or_else(|| {
        invalid("Go back and write at most 2000 plain characters, and 120 in a line above them.")
    })?;
    let reason = matches!(status, ShopStatus::Question | ShopStatus::Refused | ShopStatus::Cancelled);
    if message.is_empty() && reason {
        return Err(invalid("Go back and write the question or the reason: the sender reads nothing else."));
    }
    let status_since =
        Timestamp(form.get("status_since").parse().map_err(|_| invalid("Go back and load the page again."))?);
    let message = (!message.is_empty()).then_some(message.as_str());
    let (database, name, now) = (&app.database, &session.name, app.now());
    match orders::answer(database, number, status_since, status, message, name, now).await {
        Ok(()) => Ok(Redirect::to(&format!("/requests/{number}")).into_response()),
        Err(DatabaseError::Conflict) => Err(conflict()),
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

/// `POST /requests/{number}/hand`: takes a request in hand, or puts it down.
pub(super) async fn hand(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    let who = (form.get("take") == "yes").then_some(session.name.as_str());
    match desk::take_in_hand(&app.database, number, who, &session.name, app.now()).await {
        Ok(()) => Ok(Redirect::to(&format!("/requests/{number}")).into_response()),
        Err(DatabaseError::Conflict) => Err(PageError::response(super::not_found())),
        Err(error) => Err(error.into()),
    }
}

/// `POST /requests/{number}/note`.
pub(super) async fn note(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    let text = form.lines("note", desk::MOST_CHARS).ok_or_else(|| {
        let message = "Go back and write 1 to 2000 plain characters.";
        PageError::response(error_page(StatusCode::UNPROCESSABLE_ENTITY, "No note was kept.", message))
    })?;
    if desk::write_note(&app.database, number, &text, &session.name, app.now()).await? {
        Ok(Redirect::to(&format!("/requests/{number}")).into_response())
    } else {
        let message = "The request is not there, or who asked is erased. Go back to the list.";
        Err(PageError::response(error_page(StatusCode::CONFLICT, "No note was kept.", message)))
    }
}
