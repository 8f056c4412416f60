//! The shop's answer, and erasing who asked.

use super::frame::{Away, refusal};
use super::guard::{Form, Keeper};
use crate::database::DatabaseError;
use crate::orders;
use crate::state::Intake;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ShopStatus;

/// The most characters of an answer, as a receipt takes them.
pub(super) const MOST: usize = 2_000;

/// Answers a request.
pub(super) async fn post(
    State(intake): State<Arc<Intake>>,
    Keeper(keeper): Keeper,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Away> {
    let form = Form::read(&intake, &headers, content).await?;
    form.repeats(&keeper.form_secret)?;
    let wrong =
        |message| Away::instead(refusal(StatusCode::UNPROCESSABLE_ENTITY, "No answer was given.", message));
    let state = [ShopStatus::Question, ShopStatus::Accepted, ShopStatus::Refused]
        .into_iter()
        .find(|state| state.name() == form.get("state"))
        .ok_or_else(|| wrong("Go back and choose one."))?;
    let message = form.get("message").replace("\r\n", "\n");
    let message = message.trim();
    if message.chars().count() > MOST || message.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
        return Err(wrong("Go back and write at most 2000 characters."));
    }
    if message.is_empty() && state != ShopStatus::Accepted {
        return Err(wrong("Go back and write the question or the reason: the sender reads nothing else."));
    }
    let since = Timestamp(form.get("since").parse().map_err(|_| wrong("Go back and load the page again."))?);
    let message = (!message.is_empty()).then_some(message);
    let name = &keeper.name;
    match orders::answer(&intake.database, number, since, state, message, name, intake.now()).await {
        Ok(()) => Ok(Redirect::to(&format!("/requests/{number}")).into_response()),
        Err(DatabaseError::Overtaken) => Err(Away::instead(refusal(
            StatusCode::CONFLICT,
            "It has been answered meanwhile.",
            "Nothing was changed. Look at the request again.",
        ))),
        Err(error) => Err(error.into()),
    }
}

/// Erases who asked.
pub(super) async fn erase(
    State(intake): State<Arc<Intake>>,
    Keeper(keeper): Keeper,
    Path(number): Path<i64>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Away> {
    let form = Form::read(&intake, &headers, content).await?;
    form.repeats(&keeper.form_secret)?;
    if form.get("sure") != "yes" {
        let message = "Go back and tick the box if you mean it.";
        let title = "Nothing was erased.";
        return Err(Away::instead(refusal(StatusCode::UNPROCESSABLE_ENTITY, title, message)));
    }
    orders::erase(&intake.database, number, intake.now()).await?;
    Ok(Redirect::to(&format!("/requests/{number}")).into_response())
}
