//! Requests of the invented Larch Hollow demo crew, to show the page with and to test with.

use crate::secret::{NoChance, random};
use crate::shop::Shop;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::book::{Moment, OrderId};
use steerwright_core::fit::Direction;
use steerwright_core::orders::wire::{
    Contact, Found, Kind, OrderRequest, OrderRequestSchema, OrderedKit, SentPhoto,
};
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Options, check};
use uuid::Builder;

/// A new id of the time `now` (UUID version 7, RFC 9562, 5.7).
///
/// # Errors
/// If the machine gives no random bytes.
pub fn fresh_id(now: Moment) -> Result<OrderId, NoChance> {
    let millis = u64::try_from(now.0).unwrap_or_default();
    Ok(OrderId(Builder::from_unix_timestamp_millis(millis, &random::<10>()?).into_uuid()))
}

/// A request as the crew's program would write it for the demo bike at a place of the list: the kit that does best, an
/// order where it goes in and else a question. `None` where there is no such bike, or the shop has no kit for it.
pub fn request(shop: &Shop, place: usize, id: OrderId, made_at: Moment) -> Option<OrderRequest> {
    let (file, text) = demo_bikes_json().into_iter().nth(place)?;
    let bike = Bike::from_json(text.as_bytes(), file).ok()?;
    let options = Options { direction: Direction::Slacker, wish: None, only: None };
    let report = check(&bike, &shop.catalogue, &Instruments::default(), &options).ok()?;
    let kit = report.kits.into_iter().next()?;
    let kind = if OrderRequest::may_be_ordered(kit.verdict) { Kind::Order } else { Kind::Question };
    Some(OrderRequest {
        schema: OrderRequestSchema::V1,
        id,
        replaces: None,
        made_at,
        kind,
        kit: OrderedKit {
            sku: kit.sku,
            name: kit.name,
            quantity: 1,
            direction: report.direction,
            price: kit.price,
        },
        parts: Vec::new(),
        contact: Contact {
            name: "Wren of the Larch Hollow demo crew".to_owned(),
            email: Some("wren@example.org".to_owned()),
            phone: Some("+1 202 555 0143".to_owned()),
            address: Some("The bike shed\nLarch Hollow".to_owned()),
        },
        note: "The season opens in three weeks; please tell us if that is too soon.".to_owned(),
        photos: Vec::new(),
        bike,
        found: Found {
            engine: report.engine,
            catalogue: report.catalogue,
            verdict: kit.verdict,
            says: kit.says,
            p_low: kit.p_low,
            p_high: kit.p_high,
            tilt_deg: kit.tilt_deg,
            work: kit.work,
            change: kit.change,
            tallest_spacers_mm: kit.tallest_spacers_mm,
        },
    })
}

/// A photo as a request names it.
pub fn sent(bytes: &[u8], note: &str) -> SentPhoto {
    SentPhoto {
        sha256: steerwright_core::orders::PhotoHash(crate::secret::sha256(bytes)),
        bytes: bytes.len() as u64,
        note: note.to_owned(),
    }
}
