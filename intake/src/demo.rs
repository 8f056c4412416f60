//! Order requests of the fictional Larch Hollow demo crew, for the demo and for tests.

use crate::catalogue::PublishedCatalogue;
use crate::commands::CommandError;
use crate::crypto::{RandomnessError, random_bytes, sha256};
use crate::photos::{self, ContentRange};
use crate::state::AppState;
use crate::{orders, senders};
use steerwright_fit::bike::{Bike, demo_bikes_json};
use steerwright_fit::judgement::Direction;
use steerwright_fit::report::{Options, check};
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::quantity::Instruments;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{
    Contact, Found, Kind, OrderRequest, OrderRequestSchema, OrderedKit, SentPhoto,
};
use uuid::Builder;

/// A new id with timestamp `now` (UUID version 7, RFC 9562, 5.7).
///
/// # Errors
/// There are no random bytes.
pub fn new_order_id(now: Timestamp) -> Result<OrderId, RandomnessError> {
    let millis = u64::try_from(now.0).unwrap_or_default();
    Ok(OrderId(Builder::from_unix_timestamp_millis(millis, &random_bytes::<10>()?).into_uuid()))
}

/// The request that the crew's program writes for demo bike `index`: the best kit, as an order if it fits and
/// as a question otherwise. `None` if there is no such bike or no kit for it in the catalogue.
pub fn request(
    published: &PublishedCatalogue,
    index: usize,
    id: OrderId,
    made_at: Timestamp,
) -> Option<OrderRequest> {
    let (file, text) = demo_bikes_json().into_iter().nth(index)?;
    let bike = Bike::from_json(text.as_bytes(), file).ok()?;
    let options = Options { direction: Direction::Slacker, target: None, only: None };
    let report = check(&bike, &published.catalogue, &Instruments::default(), &options).ok()?;
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

/// The entry of a photo in a request.
pub fn sent_photo(bytes: &[u8], note: &str) -> SentPhoto {
    SentPhoto {
        sha256: steerwright_protocol::PhotoHash(sha256(bytes)),
        bytes: bytes.len() as u64,
        note: note.to_owned(),
    }
}

/// Stores a request for every demo bike; the first has two photos.
///
/// # Errors
/// Those of storing.
pub async fn seed(app: &AppState, token: &str) -> Result<(), CommandError> {
    let Some(sender) = senders::find_by_token(&app.database, token).await? else { return Ok(()) };
    for index in (0..demo_bikes_json().len()).rev() {
        let now = app.now();
        let Some(mut request) = request(&app.published, index, new_order_id(now)?, now) else { continue };
        if index == 0 {
            for (steps, note) in [(24, "Chessboard for the lens"), (7, "The same from nearer")] {
                let Some(photo) = checkerboard(steps) else { continue };
                let sent = sent_photo(&photo, note);
                let whole = ContentRange { first: 0, last: sent.bytes.saturating_sub(1), total: sent.bytes };
                let named = photos::Photo { sender, hash: sent.sha256 };
                photos::store_part(
                    &app.database,
                    &app.photo_store,
                    named,
                    whole,
                    photo.into(),
                    now,
                    u64::MAX,
                )
                .await?;
                request.photos.push(sent);
            }
        }
        let hash = sha256(request.id.to_string().as_bytes());
        let claimed = orders::claim(&app.database, sender, request.id, hash, now, 0).await?;
        if let orders::ClaimOutcome::Acquired(claim) = claimed {
            orders::store(&app.database, &claim, request, app.contact.as_deref(), now).await?;
        }
    }
    Ok(())
}

/// A drawn checkerboard with `fields` fields across, as a substitute for a photo.
fn checkerboard(fields: u32) -> Option<Vec<u8>> {
    const WIDTH: u32 = 960;
    const HEIGHT: u32 = 640;
    let field = WIDTH / fields.max(1);
    let pixels: Vec<u8> = (0..HEIGHT)
        .flat_map(|y| {
            (0..WIDTH).map(move |x| if (x / field + y / field).is_multiple_of(2) { 60 } else { 205 })
        })
        .collect();
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 80);
    encoder.encode(&pixels, WIDTH, HEIGHT, image::ExtendedColorType::L8).ok()?;
    Some(bytes)
}
