//! `/v1/order-requests`.

use super::auth::AuthenticatedSender;
use super::body::{SenderBody, has_content_type, read_sender_body, single_header};
use super::problem::ProblemResponse;
use crate::crypto::sha256;
use crate::database::DatabaseError;
use crate::erasure;
use crate::orders::{self, Claim, ClaimOutcome, OrdersError};
use crate::photos;
use crate::senders::Sender;
use crate::state::AppState;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;
use std::sync::Arc;
use steerwright_input::{FileErrors, Problem as FileProblem};
use steerwright_metrology::ids::OrderId;
use steerwright_protocol::wire::{
    FieldProblem, IDEMPOTENCY_KEY, JSON, OrderRequest, Problem, ProblemKind, order_request_path,
    read_idempotency_key,
};
use tracing::Instrument;

/// `POST`: stores a request. 201 with its receipt; the same response is repeated for the same key and body.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, ProblemResponse> {
    if !has_content_type(&headers, JSON) {
        return Err(ProblemResponse::new(ProblemKind::MediaType, format!("Expected {JSON}.")));
    }
    let id = single_header(&headers, IDEMPOTENCY_KEY).and_then(read_idempotency_key).ok_or_else(|| {
        let detail = format!("Expected the header {IDEMPOTENCY_KEY} once, with the request's id in quotes.");
        ProblemResponse::new(ProblemKind::KeyMissing, detail)
    })?;
    let SenderBody { bytes, reservation } =
        read_sender_body(&app, sender, &headers, content, app.limits.request_bytes).await?;
    // A separate task: a client that disconnects would cancel this future and leave the claim behind.
    let tasks = app.tasks.clone();
    let work = async move {
        let stored = handle_once(&app, sender, id, bytes).await;
        drop(reservation);
        stored
    };
    let work = tasks.spawn(work.in_current_span());
    let receipt = work.await.map_err(|error| ProblemResponse::internal(&error))??;
    let location = order_request_path(id);
    Ok((StatusCode::CREATED, [(header::CONTENT_TYPE, JSON), (header::LOCATION, &location)], receipt)
        .into_response())
}

/// Claims the idempotency key and stores the request, or repeats the earlier response. Returns the receipt as JSON.
async fn handle_once(
    app: &Arc<AppState>,
    sender: Sender,
    id: OrderId,
    bytes: Bytes,
) -> Result<String, ProblemResponse> {
    let expires = i64::try_from(app.limits.claim_timeout.as_millis()).unwrap_or(i64::MAX);
    let hash = sha256(&bytes);
    match orders::claim(&app.database, sender, id, hash, app.now(), expires).await? {
        ClaimOutcome::Acquired(claim) => match validate_and_store(app, &claim, sender, id, bytes).await {
            Ok(receipt) => {
                app.metrics.requests_stored.inc();
                Ok(receipt)
            }
            Err(problem) => {
                // Nothing was stored, so the key is released for the corrected request.
                orders::release(&app.database, &claim).await?;
                Err(problem)
            }
        },
        ClaimOutcome::AlreadyAnswered(receipt) => {
            app.metrics.requests_repeated.inc();
            Ok(receipt)
        }
        ClaimOutcome::InProgress => {
            Err(ProblemResponse::new(ProblemKind::InProgress, "Ask again for the answer to the first.")
                .retry_after(1))
        }
        ClaimOutcome::BodyMismatch => Err(ProblemResponse::new(
            ProblemKind::KeyReused,
            "A request that was changed is another request and needs an id of its own.",
        )),
        ClaimOutcome::Erased => Err(ProblemResponse::new(
            ProblemKind::Cancelled,
            "Its contact was erased before it came. One that is wanted after all is another request and needs an id of its own.",
        )),
        ClaimOutcome::Cancelled => Err(ProblemResponse::new(
            ProblemKind::Cancelled,
            "Its sender withdrew it. One that is wanted after all is another request and needs an id of its own.",
        )),
    }
}

async fn validate_and_store(
    app: &Arc<AppState>,
    claim: &Claim,
    sender: Sender,
    id: OrderId,
    bytes: Bytes,
) -> Result<String, ProblemResponse> {
    let parsed = tokio::task::spawn_blocking(move || OrderRequest::from_json(&bytes, "the request"));
    let request = parsed
        .await
        .map_err(|error| ProblemResponse::internal(&error))?
        .map_err(|errors| invalid(&errors))?;
    if request.id != id {
        return Err(ProblemResponse::new(ProblemKind::KeyMissing, "The key is not the request's id."));
    }
    let catalogue = &app.published.catalogue;
    if request.found.catalogue.maker != catalogue.maker || catalogue.kit(&request.kit.sku).is_none() {
        return Err(ProblemResponse::new(
            ProblemKind::KitUnknown,
            format!("{} of {} is not in the catalogue here.", request.kit.sku, request.found.catalogue.maker),
        ));
    }
    check_photos(app, sender, &request).await?;
    match orders::store(&app.database, claim, request, app.contact.as_deref(), app.now()).await {
        Ok(receipt) => Ok(receipt),
        Err(OrdersError::Database(DatabaseError::Conflict)) => {
            Err(ProblemResponse::new(ProblemKind::InProgress, "Another try took over.").retry_after(1))
        }
        Err(error) => Err(error.into()),
    }
}

/// Checks that each photo in the request is completely stored with the stated length.
async fn check_photos(app: &AppState, sender: Sender, request: &OrderRequest) -> Result<(), ProblemResponse> {
    let mut missing = Problem::new(ProblemKind::PhotoMissing, None);
    let mut wrong = Problem::new(ProblemKind::Invalid, None);
    for (index, photo) in request.photos.iter().enumerate() {
        let named = photos::Photo { sender, hash: photo.sha256 };
        match photos::progress(&app.database, named).await? {
            Some(stored) if stored.complete && stored.bytes == photo.bytes => {}
            Some(stored) if stored.complete => wrong.errors.push(FieldProblem {
                field: format!("photos[{index}].bytes"),
                text: format!("the photo has {} bytes", stored.bytes),
            }),
            _ => missing.photos.push(photo.sha256),
        }
    }
    if !wrong.errors.is_empty() {
        return Err(wrong.into());
    }
    if missing.photos.is_empty() { Ok(()) } else { Err(missing.into()) }
}

/// The problems of a body, one per field.
pub(super) fn invalid(errors: &FileErrors) -> ProblemResponse {
    let not_json = errors.errors().iter().find(|error| error.problem == FileProblem::NotJson);
    if let Some(error) = not_json {
        return ProblemResponse::new(ProblemKind::NotJson, error.to_string());
    }
    let mut problem = Problem::new(ProblemKind::Invalid, None);
    problem.errors = errors
        .errors()
        .iter()
        .map(|error| FieldProblem { field: error.field.clone(), text: error.to_string() })
        .collect();
    problem.into()
}

/// Parses the id in a path; only its canonical form is accepted.
pub(super) fn parse_id(text: &str) -> Option<OrderId> {
    text.parse().ok().filter(|id: &OrderId| id.to_string() == text)
}

/// `GET`: the receipt of one of the sender's own requests.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(id): Path<String>,
) -> Result<Response, ProblemResponse> {
    let not_found =
        || ProblemResponse::new(ProblemKind::NotFound, "No request of this id came from this sender.");
    let id = parse_id(&id).ok_or_else(not_found)?;
    let receipt = orders::receipt(&app.database, sender, id, app.contact.as_deref()).await?;
    let receipt = receipt.ok_or_else(not_found)?;
    let body = serde_json::to_vec(&receipt).map_err(|_| OrdersError::Serialize("a receipt"))?;
    Ok(([(header::CONTENT_TYPE, JSON)], body).into_response())
}

/// `DELETE`: erases the contact of a request, as the shop's page does. Also 204 if the sender has no such
/// request stored: a sender that does not know whether its request arrived can call this in any case.
pub(super) async fn erase_contact(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(id): Path<String>,
) -> Result<StatusCode, ProblemResponse> {
    let id = parse_id(&id).ok_or_else(|| {
        ProblemResponse::new(ProblemKind::NotFound, "A request's id is a UUID in lower-case letters.")
    })?;
    erasure::erase_for_sender(&app.database, sender, id, app.now()).await?;
    app.purge_erased().await;
    Ok(StatusCode::NO_CONTENT)
}
