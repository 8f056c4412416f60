//! Requests of the invented Larch Hollow demo crew, to show the page with and to test with.

use crate::photos::{self, ContentRange};
use crate::run::RunError;
use crate::secret::{NoChance, random, sha256};
use crate::shop::Shop;
use crate::state::Intake;
use crate::{orders, senders};
use steerwright_fit::bike::{Bike, demo_bikes_json};
use steerwright_fit::judgement::Direction;
use steerwright_fit::report::{Options, check};
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_metrology::quantity::Instruments;
use steerwright_protocol::wire::{
    Contact, Found, Kind, OrderRequest, OrderRequestSchema, OrderedKit, SentPhoto,
};
use uuid::Builder;

/// A new id of the time `now` (UUID version 7, RFC 9562, 5.7).
///
/// # Errors
/// If the machine gives no random bytes.
pub fn fresh_id(now: Timestamp) -> Result<OrderId, NoChance> {
    let millis = u64::try_from(now.0).unwrap_or_default();
    Ok(OrderId(Builder::from_unix_timestamp_millis(millis, &random::<10>()?).into_uuid()))
}

/// A request as the crew's program would write it for the demo bike at a place of the list: the kit that does best, an
/// order where it goes in and else a question. `None` where there is no such bike, or the shop has no kit for it.
pub fn request(shop: &Shop, place: usize, id: OrderId, made_at: Timestamp) -> Option<OrderRequest> {
    let (file, text) = demo_bikes_json().into_iter().nth(place)?;
    let bike = Bike::from_json(text.as_bytes(), file).ok()?;
    let options = Options { direction: Direction::Slacker, target: None, only: None };
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
            text: kit.text,
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
        sha256: steerwright_protocol::PhotoHash(sha256(bytes)),
        bytes: bytes.len() as u64,
        note: note.to_owned(),
    }
}

/// Puts a request of every demo bike into an empty receiver, the first with two photos.
///
/// # Errors
/// Those of storing.
pub async fn fill(intake: &Intake, token: &str) -> Result<(), RunError> {
    let Some(sender) = senders::of_token(&intake.database, token).await? else { return Ok(()) };
    for place in (0..demo_bikes_json().len()).rev() {
        let now = intake.now();
        let Some(mut request) = request(&intake.shop, place, fresh_id(now)?, now) else { continue };
        if place == 0 {
            for (steps, note) in [(24, "Chessboard for the lens"), (7, "The same from nearer")] {
                let Some(photo) = board(steps) else { continue };
                let sent = sent(&photo, note);
                let whole = ContentRange { first: 0, last: sent.bytes.saturating_sub(1), total: sent.bytes };
                let named = photos::Photo { sender, hash: sent.sha256 };
                photos::put(&intake.database, &intake.shelf, named, whole, photo.into(), now, u64::MAX)
                    .await?;
                request.photos.push(sent);
            }
        }
        let hash = sha256(request.id.to_string().as_bytes());
        let claimed = orders::claim(&intake.database, sender, request.id, hash, now, 0).await?;
        if let orders::Claimed::Ours(claim) = claimed {
            orders::store(&intake.database, &claim, request, now).await?;
        }
    }
    Ok(())
}

/// A drawn board in two greys, with so many fields across: the demo has no photographer.
fn board(fields: u16) -> Option<Vec<u8>> {
    const WIDTH: u16 = 960;
    const HEIGHT: u16 = 640;
    let field = WIDTH / fields.max(1);
    let pixels: Vec<u8> = (0..HEIGHT)
        .flat_map(|y| {
            (0..WIDTH).map(move |x| if (x / field + y / field).is_multiple_of(2) { 60 } else { 205 })
        })
        .collect();
    let mut bytes = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut bytes, 80);
    encoder.encode(&pixels, WIDTH, HEIGHT, jpeg_encoder::ColorType::Luma).ok()?;
    Some(bytes)
}
