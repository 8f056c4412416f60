//! Builds an order request from a verdict.

use super::parts;
use crate::{BikeId, Inner, OrderId, PhotoId, Timestamp};
use steerwright_fit::bike::Bike;
use steerwright_fit::catalogue::Catalogue;
use steerwright_fit::judgement::Direction;
use steerwright_fit::report::{Options, Report, check};
use steerwright_input::{Path, Problem, Problems};
use steerwright_metrology::quantity::Instruments;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{
    Contact, Found, Kind, OrderRequest, OrderRequestSchema, OrderedKit, SentPhoto,
};
use steerwright_protocol::{check_contact, check_kind, check_note, check_photo_count, check_quantity};
use uuid::Uuid;

/// The user's input to an order request; everything else comes from the book.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderDraft {
    /// The bike.
    pub bike: BikeId,
    /// The kit's maker; that maker's catalogue in use applies.
    pub maker: String,
    /// The kit, by its order code.
    pub sku: String,
    /// The kit's orientation when installed.
    pub direction: Direction,
    /// Quantity, 1 to 99.
    pub quantity: u32,
    /// An order, or only a question.
    pub kind: Kind,
    /// Whether matching parts are requested too: bearings and a crown race in place of rough ones, spacers for a
    /// headset that is lower.
    pub with_parts: bool,
    /// The sender and how to reach them.
    pub contact: Contact,
    /// Free text for the shop, possibly several lines; may be empty.
    pub note: String,
    /// Photos to send: their working copies, without location.
    pub photos: Vec<PhotoId>,
}

/// Inputs of judging a draft.
pub(super) struct CheckInputs<'b> {
    pub(super) bike: &'b Bike,
    pub(super) catalogue: &'b Catalogue,
    pub(super) instruments: &'b Instruments,
}

/// The judgement of one kit, and the kit in the form in which it is ordered.
pub(super) struct Judged {
    pub(super) kit: OrderedKit,
    pub(super) found: Found,
    pub(super) parts: Vec<steerwright_protocol::wire::Part>,
}

/// Judges one kit; the error is why not even a question about it can be sent.
pub(super) fn judge(
    inputs: &CheckInputs<'_>,
    sku: &str,
    direction: Direction,
    quantity: u32,
) -> Result<Judged, String> {
    let options = Options { direction, target: None, only: Some(sku.to_owned()) };
    let report = check(inputs.bike, inputs.catalogue, inputs.instruments, &options)
        .map_err(|error| error.to_string())?;
    let Report { kits, left_out, catalogue, engine, .. } = report;
    let (Some(it), Some(kit)) = (kits.into_iter().next(), inputs.catalogue.kit(sku)) else {
        return Err(left_out.into_iter().next().map_or_else(|| "not judged".to_owned(), |left| left.text));
    };
    let tilt = it.tilt_deg.real.unwrap_or(it.tilt_deg.nominal);
    let parts = parts::with(kit, inputs.bike, inputs.catalogue, inputs.instruments, tilt, quantity);
    Ok(Judged {
        parts,
        kit: OrderedKit { sku: it.sku, name: it.name, quantity, direction, price: it.price },
        found: Found {
            engine,
            catalogue,
            verdict: it.verdict,
            text: it.text,
            p_low: it.p_low,
            p_high: it.p_high,
            tilt_deg: it.tilt_deg,
            work: it.work,
            change: it.change,
            tallest_spacers_mm: it.tallest_spacers_mm,
        },
    })
}

/// A photo of the draft as stored in the book: its working copy and whether its file exists and is complete.
pub(super) struct Chosen {
    pub(super) hash: PhotoHash,
    pub(super) bytes: Option<u64>,
    pub(super) note: String,
}

/// Builds the request, or reports everything that is missing or wrong.
pub(super) fn request(
    draft: &OrderDraft,
    inputs: &CheckInputs<'_>,
    chosen: &[Option<Chosen>],
    replaces: Option<OrderId>,
    made_at: Timestamp,
) -> Result<OrderRequest, Inner> {
    let problems = Problems::new("the order request", |_| None);
    let root = |name| Path::Field(&Path::Root, name);
    check_quantity(draft.quantity, &root("quantity"), &problems);
    check_contact(&draft.contact, &problems);
    check_note(&draft.note, &problems);
    check_photo_count(draft.photos.len(), &problems);
    let judged = judge(inputs, &draft.sku, draft.direction, draft.quantity);
    match &judged {
        Ok(judged) => check_kind(draft.kind, judged.found.verdict, &draft.sku, &problems),
        Err(why) => {
            let turned = inputs.catalogue.kit(&draft.sku).is_some();
            let field = root(if turned { "direction" } else { "sku" });
            let expected = format!("a kit of {}, number {}: {why}", draft.maker, inputs.catalogue.number);
            problems.value(&field, format!("{:?}", draft.sku), expected, None);
        }
    }
    let mut photos: Vec<SentPhoto> = Vec::new();
    for (place, photo) in chosen.iter().enumerate() {
        let at = root("photos");
        let path = Path::Place(&at, place);
        match photo {
            Some(Chosen { hash, bytes: Some(bytes), note }) => {
                // Two rows of the book may have the same picture.
                if photos.iter().all(|photo| photo.sha256 != *hash) {
                    photos.push(SentPhoto { sha256: *hash, bytes: *bytes, note: note.clone() });
                }
            }
            Some(_) => {
                let expected = "its file beside the book, whole".to_owned();
                problems.note(&path, Problem::Missing, None, expected, None);
            }
            None => problems.note(&path, Problem::Missing, None, "a photo of this book".to_owned(), None),
        }
    }
    let (true, Ok(judged)) = (problems.is_empty(), judged) else {
        return Err(problems.into_errors().into());
    };
    let trimmed = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
    let request = OrderRequest {
        schema: OrderRequestSchema::V1,
        // The outbox sets the id when the request is queued.
        id: OrderId(Uuid::nil()),
        replaces,
        made_at,
        kind: draft.kind,
        kit: judged.kit,
        parts: if draft.with_parts { judged.parts } else { Vec::new() },
        contact: Contact {
            name: draft.contact.name.trim().to_owned(),
            email: trimmed(&draft.contact.email),
            phone: trimmed(&draft.contact.phone),
            address: trimmed(&draft.contact.address),
        },
        note: draft.note.clone(),
        photos,
        bike: inputs.bike.clone(),
        found: judged.found,
    };
    request.check("the order request")?;
    Ok(request)
}
