//! `/v1/order-requests/{id}/messages` and `/v1/order-requests/{id}/cancellation`.

use super::auth::AuthenticatedSender;
use super::body::{SenderBody, has_content_type, read_sender_body, single_header};
use super::orders::{invalid, parse_id};
use super::problem::ProblemResponse;
use crate::crypto::sha256;
use crate::messages::{self, MessageOutcome};
use crate::orders::{self, OrdersError};
use crate::state::AppState;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use steerwright_protocol::wire::{IDEMPOTENCY_KEY, JSON, OrderMessage, ProblemKind, read_message_key};

fn not_found() -> ProblemResponse {
    ProblemResponse::new(ProblemKind::NotFound, "No request of this id came from this sender.")
}

/// `POST`: stores a message. 201 with the receipt of its request as it stands; a repeated message is stored once.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(id): Path<String>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, ProblemResponse> {
    if !has_content_type(&headers, JSON) {
        return Err(ProblemResponse::new(ProblemKind::MediaType, format!("Expected {JSON}.")));
    }
    let key = single_header(&headers, IDEMPOTENCY_KEY).and_then(read_message_key).ok_or_else(|| {
        let detail = format!("Expected the header {IDEMPOTENCY_KEY} once, with the message's id in quotes.");
        ProblemResponse::new(ProblemKind::KeyMissing, detail)
    })?;
    let id = parse_id(&id).ok_or_else(not_found)?;
    let SenderBody { bytes, reservation: _held } =
        read_sender_body(&app, sender, &headers, content, OrderMessage::MOST_BYTES).await?;
    let message = OrderMessage::from_json(&bytes, "the message").map_err(|errors| invalid(&errors))?;
    if message.id != key || message.request != id {
        let detail = "The key is not the message's id, or the address is not of its request.";
        return Err(ProblemResponse::new(ProblemKind::KeyMissing, detail));
    }
    match messages::store(&app.database, sender, &message, sha256(&bytes), app.now()).await? {
        MessageOutcome::Stored => {}
        MessageOutcome::NoRequest => return Err(not_found()),
        MessageOutcome::BodyMismatch => {
            let detail = "A message that was changed is another message and needs an id of its own.";
            return Err(ProblemResponse::new(ProblemKind::KeyReused, detail));
        }
    }
    let receipt = orders::receipt(&app.database, sender, id, app.contact.as_deref()).await?;
    let receipt = receipt.ok_or_else(not_found)?;
    let body = serde_json::to_vec(&receipt).map_err(|_| OrdersError::Serialize("a receipt"))?;
    Ok((StatusCode::CREATED, [(header::CONTENT_TYPE, JSON)], body).into_response())
}

/// `PUT`: withdraws a request. 200 with the outcome, also for a request that is not stored: a sender that does not know
/// whether its request arrived can call this in any case.
pub(super) async fn cancel(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(id): Path<String>,
) -> Result<Response, ProblemResponse> {
    let id = parse_id(&id).ok_or_else(not_found)?;
    let told = messages::cancel(&app.database, sender, id, app.contact.as_deref(), app.now()).await?;
    let body = serde_json::to_vec(&told).map_err(|_| OrdersError::Serialize("a cancellation"))?;
    Ok(([(header::CONTENT_TYPE, JSON)], body).into_response())
}
