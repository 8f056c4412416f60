//! Makes a draft from an old request, to be changed and queued again.

use super::draft::{CheckInputs, OrderDraft, judge};
use super::record;
use crate::{BikeId, BookError, Inner, OrderId, PhotoId, Reader, catalogue_of, instruments};
use rusqlite::{Connection, OptionalExtension, params};
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::OrderRequest;

/// A draft made from an old request.
#[derive(Debug, Clone, PartialEq)]
pub struct Redraft {
    /// The old request's content, to be changed; its contact is empty if that was erased.
    pub draft: OrderDraft,
    /// Photos of the old request that are no longer in the book, so the new one cannot have them.
    pub photos_gone: Vec<PhotoHash>,
}

/// Whether matching parts were wanted. If the request lists none, they count as wanted unless the bike needed some at
/// that time: a bike that needed none may need some now.
fn with_parts(conn: &Connection, request: &OrderRequest) -> Result<bool, Inner> {
    if !request.parts.is_empty() {
        return Ok(true);
    }
    let found = &request.found.catalogue;
    let catalogue = match catalogue_of(conn, &found.maker, Some(found.number)) {
        Ok(catalogue) => catalogue,
        Err(Inner::NotFound { .. }) => return Ok(true),
        Err(other) => return Err(other),
    };
    let instruments = instruments(conn)?;
    let inputs = CheckInputs { bike: &request.bike, catalogue: &catalogue, instruments: &instruments };
    let kit = &request.kit;
    let judged = judge(&inputs, &kit.sku, kit.direction, kit.quantity);
    Ok(judged.is_ok_and(|judged| judged.parts.is_empty()))
}

/// A photo with this working copy, one of the bike's own if there are several.
fn photo(conn: &Connection, hash: PhotoHash, bike: BikeId) -> Result<Option<PhotoId>, Inner> {
    Ok(conn
        .prepare_cached(
            "SELECT p.id FROM photos p LEFT JOIN bikes b ON b.key = p.bike
             WHERE p.working = ?1 AND p.removed_at IS NULL ORDER BY b.id IS NOT ?2, p.key LIMIT 1",
        )?
        .query_row(params![hash.0.as_slice(), bike], |row| row.get(0))
        .optional()?)
}

fn redraft(conn: &Connection, id: OrderId) -> Result<Redraft, Inner> {
    let entry = record::find(conn, id)?;
    let Some(bike) = entry.bike else {
        return Err(Inner::rule(
            "order.bike_gone",
            format!("the bike of the order request {id} is in the book no more"),
        ));
    };
    let request = record::thawed(&record::body(conn, entry.key)?)?;
    let (mut photos, mut photos_gone) = (Vec::new(), Vec::new());
    for sent in &request.photos {
        match photo(conn, sent.sha256, bike)? {
            Some(photo) => photos.push(photo),
            None => photos_gone.push(sent.sha256),
        }
    }
    let with_parts = with_parts(conn, &request)?;
    let OrderRequest { kind, kit, contact, note, .. } = request;
    let draft = OrderDraft {
        bike,
        maker: entry.maker,
        sku: kit.sku,
        direction: kit.direction,
        quantity: kit.quantity,
        kind,
        with_parts,
        contact,
        note,
        photos,
    };
    Ok(Redraft { draft, photos_gone })
}

impl Reader {
    /// Makes a draft from an old request, to be changed and passed to [`Work::edit_order`](crate::Work::edit_order).
    /// The bike and the verdict are determined when it is queued, not from the old request.
    ///
    /// # Errors
    /// No such request, or one whose bike is no longer in the book.
    pub fn draft_from(&self, id: OrderId) -> Result<Redraft, BookError> {
        self.read(|conn| redraft(conn, id))
    }
}
