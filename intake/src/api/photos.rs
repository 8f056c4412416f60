//! `/v1/photos/{sha256}`.

use super::caller::{Caller, body, is_of_type, one};
use super::problem::Refusal;
use crate::photos::{self, ContentRange, Photo, PutError, Refused};
use crate::state::Intake;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{FieldProblem, JPEG, Problem, ProblemKind, UPLOAD_OFFSET};

fn named(name: &str) -> Result<PhotoHash, Refusal> {
    name.parse()
        .map_err(|_| Refusal::new(ProblemKind::NotFound, "A photo's name is its SHA-256: 64 digits 0-9 a-f."))
}

/// How much of a photo is here.
pub(super) async fn head(
    State(intake): State<Arc<Intake>>,
    Caller(sender): Caller,
    Path(name): Path<String>,
) -> Result<Response, Refusal> {
    let here = photos::progress(&intake.database, Photo { sender, hash: named(&name)? }).await?;
    let here = here.ok_or_else(|| Refusal::new(ProblemKind::NotFound, "Nothing of this photo is here."))?;
    let headers = [(UPLOAD_OFFSET, here.bytes.to_string()), ("Cache-Control", "no-store".to_owned())];
    Ok((StatusCode::OK, headers).into_response())
}

/// Takes a part, or the whole where no range is named.
pub(super) async fn put(
    State(intake): State<Arc<Intake>>,
    Caller(sender): Caller,
    Path(name): Path<String>,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Refusal> {
    let photo = Photo { sender, hash: named(&name)? };
    if !is_of_type(&headers, JPEG) {
        return Err(Refusal::new(ProblemKind::MediaType, format!("Expected {JPEG}.")));
    }
    let range = match headers.contains_key(header::CONTENT_RANGE) {
        true => Some(range(&headers)?),
        false => None,
    };
    let limits = &intake.limits;
    if range.is_some_and(|range| range.total > limits.photo_bytes) {
        let detail = format!("A photo has at most {} bytes.", limits.photo_bytes);
        return Err(Refusal::new(ProblemKind::TooLarge, detail));
    }
    let slot = tokio::time::timeout(limits.body, intake.part_slots.acquire()).await;
    let Ok(Ok(_slot)) = slot else {
        return Err(Refusal::new(ProblemKind::Unavailable, "Too many photos come in at once.").after(5));
    };
    let part = body(&intake, &headers, content, limits.part_bytes).await?;
    let length = part.len() as u64;
    let range = match range {
        Some(range) => range,
        None if length == 0 => return Err(wrong("the body", "is empty".to_owned())),
        None => ContentRange { first: 0, last: length - 1, total: length },
    };
    if range.length() != length {
        let text = format!("names {} bytes; the body has {length}", range.length());
        return Err(wrong("Content-Range", text));
    }
    let now = intake.now();
    match photos::put(&intake.database, &intake.shelf, photo, range, part, now, limits.loose_bytes).await {
        Ok(here) => {
            intake.metrics.photo_bytes.inc_by(length);
            let status = if here.whole { StatusCode::CREATED } else { StatusCode::ACCEPTED };
            Ok((status, [(UPLOAD_OFFSET, here.bytes.to_string())]).into_response())
        }
        Err(PutError::Offset(here)) => {
            let detail = format!("The next part begins at byte {here}.");
            Err(Refusal::new(ProblemKind::OffsetWrong, detail).at(here))
        }
        Err(PutError::Loose) => Err(Refusal::new(
            ProblemKind::TooMany,
            "Many photos came that no request names; send the requests, or wait until the photos are tidied away.",
        )
        .after(3_600)),
        Err(PutError::Hash) => {
            Err(Refusal::new(ProblemKind::PhotoDamaged, "The bytes have another SHA-256.").at(0))
        }
        Err(PutError::Refused(why @ Refused::Tells(_))) => Err(Refusal::new(ProblemKind::PhotoTells, sentence(why))),
        Err(PutError::Refused(why)) => Err(Refusal::new(ProblemKind::PhotoDamaged, sentence(why))),
        Err(PutError::Database(error)) => Err(error.into()),
        Err(PutError::Shelf(error)) => Err(error.into()),
        Err(PutError::Chance(error)) => Err(error.into()),
    }
}

fn sentence(why: Refused) -> String {
    format!("The photo is not taken: {why}.")
}

fn range(headers: &HeaderMap) -> Result<ContentRange, Refusal> {
    let text = one(headers, header::CONTENT_RANGE.as_str()).unwrap_or_default();
    // RFC 9110, 14.5: a range that cannot be taken is answered with 400.
    text.parse().map_err(|error| {
        let detail = format!("The header Content-Range makes no sense: {error}.");
        Refusal::plain(StatusCode::BAD_REQUEST, Some(&detail))
    })
}

fn wrong(field: &str, text: String) -> Refusal {
    let mut problem = Problem::new(ProblemKind::Invalid, None);
    problem.errors.push(FieldProblem { field: field.to_owned(), text });
    problem.into()
}
