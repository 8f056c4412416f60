//! `/v1/order-requests`.

use super::caller::{Caller, body, is_of_type, one};
use super::problem::Refusal;
use crate::database::DatabaseError;
use crate::orders::{self, Claim, Claimed, OrdersError};
use crate::photos;
use crate::secret::sha256;
use crate::senders::Sender;
use crate::state::Intake;
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

/// Takes a request: 201 with its receipt, the same again for the same key and body.
pub(super) async fn post(
    State(intake): State<Arc<Intake>>,
    Caller(sender): Caller,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Refusal> {
    if !is_of_type(&headers, JSON) {
        return Err(Refusal::new(ProblemKind::MediaType, format!("Expected {JSON}.")));
    }
    let id = one(&headers, IDEMPOTENCY_KEY).and_then(read_idempotency_key).ok_or_else(|| {
        let detail = format!("Expected the header {IDEMPOTENCY_KEY} once, with the request's id in quotes.");
        Refusal::new(ProblemKind::KeyMissing, detail)
    })?;
    let bytes = body(&intake, &headers, content, intake.limits.request_bytes).await?;
    // A client that goes away does not stop what was begun: the claim would stay behind.
    let work = async move { take(&intake, sender, id, bytes).await };
    let work = tokio::spawn(work.in_current_span());
    let answer =
        work.await.unwrap_or_else(|_| Err(Refusal::plain(StatusCode::INTERNAL_SERVER_ERROR, None)))?;
    let place = order_request_path(id);
    Ok((StatusCode::CREATED, [(header::CONTENT_TYPE, JSON), (header::LOCATION, &place)], answer)
        .into_response())
}

/// The answer's body.
async fn take(intake: &Arc<Intake>, sender: Sender, id: OrderId, bytes: Bytes) -> Result<String, Refusal> {
    let expires = i64::try_from(intake.limits.claim.as_millis()).unwrap_or(i64::MAX);
    let hash = sha256(&bytes);
    match orders::claim(&intake.database, sender, id, hash, intake.now(), expires).await? {
        Claimed::Ours(claim) => match work(intake, &claim, sender, id, bytes).await {
            Ok(answer) => {
                intake.metrics.requests_stored.inc();
                Ok(answer)
            }
            Err(refusal) => {
                // Nothing took effect, so nothing is remembered: mended, the request may come again.
                orders::release(&intake.database, &claim).await?;
                Err(refusal)
            }
        },
        Claimed::Answered(answer) => {
            intake.metrics.requests_repeated.inc();
            Ok(answer)
        }
        Claimed::InProgress => {
            Err(Refusal::new(ProblemKind::InProgress, "Ask again for the answer to the first.").after(1))
        }
        Claimed::OtherBody => Err(Refusal::new(
            ProblemKind::KeyReused,
            "A request that was changed is another request and needs an id of its own.",
        )),
    }
}

async fn work(
    intake: &Arc<Intake>,
    claim: &Claim,
    sender: Sender,
    id: OrderId,
    bytes: Bytes,
) -> Result<String, Refusal> {
    let read = tokio::task::spawn_blocking(move || OrderRequest::from_json(&bytes, "the request"));
    let request = read
        .await
        .map_err(|_| Refusal::plain(StatusCode::INTERNAL_SERVER_ERROR, None))?
        .map_err(|errors| unsound(&errors))?;
    if request.id != id {
        return Err(Refusal::new(ProblemKind::KeyMissing, "The key is not the request's id."));
    }
    let catalogue = &intake.shop.catalogue;
    if request.found.catalogue.maker != catalogue.maker || catalogue.kit(&request.kit.sku).is_none() {
        return Err(Refusal::new(
            ProblemKind::KitUnknown,
            format!("{} of {} is not in the catalogue here.", request.kit.sku, request.found.catalogue.maker),
        ));
    }
    look_for_photos(intake, sender, &request).await?;
    match orders::store(&intake.database, claim, request, intake.now()).await {
        Ok(answer) => Ok(answer),
        Err(OrdersError::Database(DatabaseError::Overtaken)) => {
            Err(Refusal::new(ProblemKind::InProgress, "Another try took over.").after(1))
        }
        Err(error) => Err(error.into()),
    }
}

async fn look_for_photos(intake: &Intake, sender: Sender, request: &OrderRequest) -> Result<(), Refusal> {
    let mut missing = Problem::new(ProblemKind::PhotoMissing, None);
    let mut wrong = Problem::new(ProblemKind::Invalid, None);
    for (place, photo) in request.photos.iter().enumerate() {
        let named = photos::Photo { sender, hash: photo.sha256 };
        match photos::progress(&intake.database, named).await? {
            Some(here) if here.whole && here.bytes == photo.bytes => {}
            Some(here) if here.whole => wrong.errors.push(FieldProblem {
                field: format!("photos[{place}].bytes"),
                text: format!("the photo has {} bytes", here.bytes),
            }),
            _ => missing.photos.push(photo.sha256),
        }
    }
    if !wrong.errors.is_empty() {
        return Err(wrong.into());
    }
    if missing.photos.is_empty() { Ok(()) } else { Err(missing.into()) }
}

/// What is wrong with a body, field by field.
fn unsound(errors: &FileErrors) -> Refusal {
    let not_json = errors.errors().iter().find(|error| error.problem == FileProblem::NotJson);
    if let Some(error) = not_json {
        return Refusal::new(ProblemKind::NotJson, error.to_string());
    }
    let mut problem = Problem::new(ProblemKind::Invalid, None);
    problem.errors = errors
        .errors()
        .iter()
        .map(|error| FieldProblem { field: error.field.clone(), text: error.to_string() })
        .collect();
    problem.into()
}

/// The id in a path, written as ids are.
fn id_of(text: &str) -> Option<OrderId> {
    text.parse().ok().filter(|known: &OrderId| known.to_string() == text)
}

/// How a request stands, for the sender whose it is.
pub(super) async fn get(
    State(intake): State<Arc<Intake>>,
    Caller(sender): Caller,
    Path(id): Path<String>,
) -> Result<Response, Refusal> {
    let not_found = || Refusal::new(ProblemKind::NotFound, "No request of this id came from this sender.");
    let known = id_of(&id).ok_or_else(not_found)?;
    let receipt = orders::receipt(&intake.database, sender, known).await?.ok_or_else(not_found)?;
    let body = serde_json::to_vec(&receipt).map_err(|_| OrdersError::Kept)?;
    Ok(([(header::CONTENT_TYPE, JSON)], body).into_response())
}

/// Erases who asked, as the shop's page does: 204 also where no such request of this sender is kept, so that a sender
/// who never learnt whether it arrived needs to know no more.
pub(super) async fn erase_contact(
    State(intake): State<Arc<Intake>>,
    Caller(sender): Caller,
    Path(id): Path<String>,
) -> Result<StatusCode, Refusal> {
    let id = id_of(&id).ok_or_else(|| {
        Refusal::new(ProblemKind::NotFound, "A request's id is a UUID in lower-case letters.")
    })?;
    if let Some(number) = orders::number(&intake.database, sender, id).await? {
        orders::erase(&intake.database, number, intake.now()).await?;
    }
    Ok(StatusCode::NO_CONTENT)
}
