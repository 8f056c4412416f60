//! `/v1/photos/{sha256}`.

use super::auth::AuthenticatedSender;
use super::body::{SenderBody, has_content_type, read_sender_body, single_header};
use super::problem::ProblemResponse;
use crate::photos::{self, ContentRange, JpegError, Photo, UploadError, UploadProgress};
use crate::state::AppState;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;
use std::sync::Arc;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{FieldProblem, JPEG, Problem, ProblemKind, UPLOAD_OFFSET};
use tracing::Instrument;

fn parse_hash(name: &str) -> Result<PhotoHash, ProblemResponse> {
    name.parse().map_err(|_| {
        ProblemResponse::new(ProblemKind::NotFound, "A photo's name is its SHA-256: 64 digits 0-9 a-f.")
    })
}

/// `HEAD`: `Upload-Offset` states how many bytes of a photo are stored.
pub(super) async fn head(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(name): Path<String>,
) -> Result<Response, ProblemResponse> {
    let progress = photos::progress(&app.database, Photo { sender, hash: parse_hash(&name)? }).await?;
    let progress = progress
        .ok_or_else(|| ProblemResponse::new(ProblemKind::NotFound, "Nothing of this photo is here."))?;
    let headers = [(UPLOAD_OFFSET, progress.bytes.to_string()), ("Cache-Control", "no-store".to_owned())];
    Ok((StatusCode::OK, headers).into_response())
}

/// `PUT`: stores the part given by `Content-Range`, or the whole photo without that header.
pub(super) async fn put(
    State(app): State<Arc<AppState>>,
    AuthenticatedSender(sender): AuthenticatedSender,
    Path(name): Path<String>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, ProblemResponse> {
    let photo = Photo { sender, hash: parse_hash(&name)? };
    if !has_content_type(&headers, JPEG) {
        return Err(ProblemResponse::new(ProblemKind::MediaType, format!("Expected {JPEG}.")));
    }
    let range = match headers.contains_key(header::CONTENT_RANGE) {
        true => Some(parse_range(&headers)?),
        false => None,
    };
    let limits = &app.limits;
    if range.is_some_and(|range| range.total > limits.photo_bytes) {
        let detail = format!("A photo has at most {} bytes.", limits.photo_bytes);
        return Err(ProblemResponse::new(ProblemKind::TooLarge, detail));
    }
    let SenderBody { bytes: part, reservation } =
        read_sender_body(&app, sender, &headers, content, limits.part_bytes).await?;
    let length = part.len() as u64;
    let range = match range {
        Some(range) => range,
        None if length == 0 => return Err(invalid("the body", "is empty".to_owned())),
        None => ContentRange { first: 0, last: length - 1, total: length },
    };
    if range.length() != length {
        let text = format!("names {} bytes; the body has {length}", range.length());
        return Err(invalid("Content-Range", text));
    }
    // A separate task: a client that disconnects would cancel this future and leave an object that no row names.
    let work = Arc::clone(&app);
    let work = async move {
        let stored = store(&work, photo, range, part).await;
        drop(reservation);
        stored
    };
    let stored = app.tasks.spawn(work.in_current_span()).await;
    match stored.map_err(|error| ProblemResponse::internal(&error))? {
        Ok(progress) => {
            app.metrics.photo_bytes.inc_by(length);
            let status = if progress.complete { StatusCode::CREATED } else { StatusCode::ACCEPTED };
            Ok((status, [(UPLOAD_OFFSET, progress.bytes.to_string())]).into_response())
        }
        Err(UploadError::WrongOffset(stored)) => {
            let detail = format!("The next part begins at byte {stored}.");
            Err(ProblemResponse::new(ProblemKind::OffsetWrong, detail).upload_offset(stored))
        }
        Err(UploadError::QuotaExceeded) => Err(ProblemResponse::new(
            ProblemKind::TooMany,
            "Many photos came that no request names; send the requests, or wait until the photos are tidied away.",
        )
        .retry_after(3_600)),
        Err(UploadError::HashMismatch) => {
            Err(ProblemResponse::new(ProblemKind::PhotoDamaged, "The bytes have another SHA-256.").upload_offset(0))
        }
        Err(UploadError::Rejected(error @ JpegError::TooLarge(..))) => Err(ProblemResponse::new(ProblemKind::TooLarge, sentence(error))),
        Err(UploadError::Rejected(error @ JpegError::Metadata(_))) => Err(ProblemResponse::new(ProblemKind::PhotoTells, sentence(error))),
        Err(UploadError::Rejected(error)) => Err(ProblemResponse::new(ProblemKind::PhotoDamaged, sentence(error))),
        Err(UploadError::Database(error)) => Err(error.into()),
        Err(UploadError::PhotoStore(error)) => Err(error.into()),
        Err(UploadError::Randomness(error)) => Err(error.into()),
        Err(UploadError::Task(error)) => Err(ProblemResponse::internal(&error)),
    }
}

/// Stores a part. The last one of a photo waits for its turn, because the whole is then in memory and decoded.
async fn store(
    app: &AppState,
    photo: Photo,
    range: ContentRange,
    part: Bytes,
) -> Result<UploadProgress, UploadError> {
    let slot = if range.last + 1 == range.total { app.picture_slots.acquire().await.ok() } else { None };
    let (now, most) = (app.now(), app.limits.unreferenced_photo_bytes);
    let stored = photos::store_part(&app.database, &app.photo_store, photo, range, part, now, most).await;
    drop(slot);
    stored
}

fn sentence(error: JpegError) -> String {
    format!("The photo is not taken: {error}.")
}

fn parse_range(headers: &HeaderMap) -> Result<ContentRange, ProblemResponse> {
    let text = single_header(headers, header::CONTENT_RANGE.as_str()).unwrap_or_default();
    // RFC 9110, 14.5: the response to an invalid range of a PUT is 400.
    text.parse().map_err(|error| {
        let detail = format!("The header Content-Range makes no sense: {error}.");
        ProblemResponse::from_status(StatusCode::BAD_REQUEST, Some(&detail))
    })
}

fn invalid(field: &str, text: String) -> ProblemResponse {
    let mut problem = Problem::new(ProblemKind::Invalid, None);
    problem.errors.push(FieldProblem { field: field.to_owned(), text });
    problem.into()
}
