//! Parts to order with a kit, as far as the bike's readings and the catalogue show.

use steerwright_fit::bike::{Bearings, Bike};
use steerwright_fit::catalogue::{Bearing, BearingSupply, Catalogue, Kit};
use steerwright_fit::judgement::{BikeKnowledge, spare_bearing, steerer_readings};
use steerwright_mechanics::headset::{End, SeatDimension};
use steerwright_mechanics::steerer::{Plan, budget};
use steerwright_metrology::quantity::{Estimate, Instruments, Quantity};
use steerwright_protocol::wire::{Part, PartKind};

/// A height difference smaller than this is absorbed by the recess of the steerer's end, mm (common practice).
const FELT_MM: f64 = 0.5;
/// Height step of spacers, mm (common practice); a step too little only leaves the steerer's end deeper.
const STEP_MM: f64 = 1.0;

/// The parts to request along with `quantity` of a kit.
pub(super) fn with(
    kit: &Kit,
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    tilt_deg: f64,
    quantity: u32,
) -> Vec<Part> {
    let findings = steerwright_fit::bike::Findings::new(bike, instruments);
    let known = BikeKnowledge::new(bike, &findings);
    let mut parts = Vec::new();
    if kit.bearings == BearingSupply::Reused && known.observed.bearings == Some(Bearings::Rough) {
        for end in End::BOTH {
            let measured = known.get(SeatDimension::BearingOuter.quantity(end));
            let Some(bearing) = spare_bearing(kit, end, measured, catalogue) else { continue };
            parts.push(in_place(end, bearing, quantity));
            if end == End::Lower {
                parts.push(race(kit, bearing, quantity));
            }
        }
    }
    parts.extend(spacers(kit, &known, tilt_deg, quantity));
    parts
}

fn in_place(end: End, bearing: &Bearing, quantity: u32) -> Part {
    let place = if end == End::Upper { "upper" } else { "lower" };
    let Bearing { outer_mm, inner_mm, height_mm, .. } = bearing;
    Part {
        what: PartKind::Bearing,
        sku: Some(bearing.sku.clone()),
        quantity,
        height_mm: None,
        text: format!(
            "The {place} bearing, {outer_mm} x {inner_mm} x {height_mm} mm, in place of the rough one: the kit takes the \
             bike's own."
        ),
    }
}

/// A bearing runs on the race's cone: a new one on a race of another angle touches along a line and soon is rough too
/// (common practice). Catalogues list no races, so it is requested in words.
fn race(kit: &Kit, bearing: &Bearing, quantity: u32) -> Part {
    let [_, inside] = bearing.contact_deg;
    Part {
        what: PartKind::CrownRace,
        sku: None,
        quantity,
        height_mm: None,
        text: format!(
            "A crown race for a seat of {} mm and the new lower bearing ({inside}° inside), unless the one on the fork is \
             sound and of that angle.",
            kit.steerer.lower_mm
        ),
    }
}

/// Spacers above the stem, where the kit is lower than the present headset by more than the recess absorbs.
fn spacers(kit: &Kit, known: &BikeKnowledge, tilt_deg: f64, quantity: u32) -> Option<Part> {
    let exact = Estimate::exact;
    let plan = Plan::new(exact(kit.lower.stack_mm), exact(kit.upper.stack_mm), tilt_deg);
    let add = budget(&steerer_readings(known), &plan).ok()?.spacers_to_add_above;
    let height = (add / STEP_MM).floor() * STEP_MM;
    let clamp = known.get(Quantity::SteererUpperDiameter).map_or(kit.steerer.upper_mm, |it| it.value);
    (add > FELT_MM && height > 0.0 && height <= 300.0).then(|| Part {
        what: PartKind::Spacers,
        sku: None,
        quantity,
        height_mm: Some(height),
        text: format!(
            "Spacers of {height:.0} mm in all for a steerer of {clamp:.1} mm: with the kit its end stands so much higher."
        ),
    })
}
