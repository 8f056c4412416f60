//! Arbitrary valid bikes and catalogues, for `proptest`.

use proptest::prelude::*;
use proptest::sample::{Index, select};
use steerwright_core::bike::{Bearings, Bike, BikeSchema, Material, Measurement, Observed, ObservedSeat};
use steerwright_core::catalogue::{
    Bearing, BearingSupply, Catalogue, CatalogueSchema, Kit, KitEnd, KitSteerer,
};
use steerwright_core::headset::{Style, sizes};
use steerwright_core::quantity::{Instrument, Instruments, Quantity, Unit, quantity_info};
use steerwright_core::tilt::Offsets;

/// A short text that a file may contain.
pub fn text() -> impl Strategy<Value = String> {
    // Letters of several scripts and punctuation, nothing that is refused.
    "[A-Za-z0-9äöüß二 .,\"\\\\/&()-]{0,39}[A-Za-z0-9é]"
}

/// A reading of any quantity, with any unit and instrument that match it.
pub fn measurement() -> impl Strategy<Value = Measurement> {
    let instruments = Instruments::default();
    (
        select(Quantity::ALL),
        0.0..=1.0f64,
        any::<Index>(),
        any::<Index>(),
        prop::option::of(1e-6..=1.0f64),
        prop::option::of(text()),
        prop::option::of(0..24u8),
    )
        .prop_map(move |(what, place, unit, with, part, note, hour)| {
            let [low, high] = quantity_info(what).plausible;
            let units: Vec<Unit> = [Unit::Mm, Unit::Cm, Unit::In, Unit::Deg]
                .into_iter()
                .filter(|unit| unit.dimension() == what.dimension())
                .collect();
            let unit = *unit.get(&units);
            let tools: Vec<Instrument> = Instrument::ALL
                .into_iter()
                .filter(|tool| instruments.plus_minus(what, *tool).is_some())
                .collect();
            // Slightly inside the limits, so that the rounding of unit conversion does not exceed them.
            let inside = low + (high - low) * (1e-9 + place * (1.0 - 2e-9));
            Measurement {
                what,
                value: inside / unit.in_base(),
                unit,
                with: *with.get(&tools),
                plus_minus: part.map(|part| part * (high - low) * (1.0 - 1e-9) / unit.in_base()),
                at: hour.map(|hour| format!("2026-05-12T{hour:02}:40:00+01:00")),
                note,
            }
        })
}

/// Any combination of observations, including none.
pub fn observed() -> impl Strategy<Value = Observed> {
    use prop::option::of;
    let seat = || {
        of(select(vec![
            ObservedSeat::DropIn,
            ObservedSeat::ThinLip,
            ObservedSeat::ExternalCup,
            ObservedSeat::NotSeen,
        ]))
    };
    let material = || {
        of(select(vec![
            Material::Aluminium,
            Material::Carbon,
            Material::Steel,
            Material::Titanium,
            Material::NotKnown,
        ]))
    };
    let bearings = of(select(vec![Bearings::Good, Bearings::Rough, Bearings::NotKnown]));
    let flag = || of(any::<bool>());
    ((seat(), seat(), flag(), material(), material()), (flag(), flag(), flag(), bearings, flag(), flag()))
        .prop_map(
            |(
                (upper_seat, lower_seat, fork_out, frame_material, steerer_material),
                (hoses, stop, dual, bearings, cups_changed, maker_allows_pressing),
            )| Observed {
                upper_seat,
                lower_seat,
                fork_out,
                frame_material,
                steerer_material,
                hoses_through_headset: hoses,
                steering_stop: stop,
                dual_crown: dual,
                bearings,
                cups_changed,
                maker_allows_pressing,
            },
        )
}

/// Any bike that a file can contain: its readings need not be consistent.
pub fn bike() -> impl Strategy<Value = Bike> {
    (text(), prop::option::of(text()), observed(), prop::collection::vec(measurement(), 0..30)).prop_map(
        |(name, owner, observed, measured)| Bike {
            schema: BikeSchema::V1,
            name,
            owner,
            observed,
            fitted: None,
            measured,
        },
    )
}

fn half(upper: bool) -> impl Strategy<Value = KitEnd> {
    let codes: Vec<_> = sizes().iter().map(|size| size.code).collect();
    (
        select(codes),
        0.0..60.0f64,
        -40.0..40.0f64,
        prop::option::of(0.0..1.0f64),
        prop::option::of(0.0..20.0f64),
        prop::option::of(0.0..5.0f64),
    )
        .prop_map(move |(seat, stack_mm, plane_mm, place, depth, running_clearance_mm)| {
            let drop_in = seat.style == Style::Is;
            KitEnd {
                seat,
                stack_mm,
                plane_mm,
                throat_min_mm: place.filter(|_| drop_in).map(|place| 28.0 + place * 34.0),
                recess_max_mm: depth.filter(|_| drop_in && upper),
                bore_depth_min_mm: depth.filter(|_| !drop_in).map(|depth| 4.0 + depth),
                cup_mm: place.filter(|_| !drop_in).map(|place| f64::from(seat.name_mm) + place * 0.9),
                // The upper bearing is offset rearward, the lower one forward.
                offset_mm: place.map(|place| (0.1 + place) * if upper { -1.0 } else { 1.0 }),
                running_clearance_mm,
            }
        })
}

fn price() -> impl Strategy<Value = rust_decimal::Decimal> {
    (0..10_000_000i64, 0..=4u32).prop_map(|(digits, scale)| rust_decimal::Decimal::new(digits, scale))
}

/// Two halves whose stated offsets give the kit's tilt in its range, if both state one.
fn agreeing([mut upper, mut lower]: [KitEnd; 2], tilt_deg: f64, range: [f64; 2]) -> [KitEnd; 2] {
    if upper.offset_mm.is_some() && lower.offset_mm.is_some() {
        let even = Offsets::from_range(tilt_deg, range, upper.plane_mm, lower.plane_mm).ok();
        // A file's offsets lie within 12 mm.
        let even = even.filter(|even| even.upper.abs() <= 12.0 && even.lower.abs() <= 12.0);
        upper.offset_mm = even.map(|even| even.upper);
        lower.offset_mm = even.map(|even| even.lower);
    }
    [upper, lower]
}

/// Any kit that a file can contain.
pub fn kit() -> impl Strategy<Value = Kit> {
    let range = (60.0..180.0f64, 1.0..120.0f64).prop_map(|(short, width)| [short, short + width]);
    let steerer =
        (20.0..40.0f64, 24.0..45.0f64).prop_map(|(upper_mm, lower_mm)| KitSteerer { upper_mm, lower_mm });
    let supply = select(vec![BearingSupply::Included, BearingSupply::Reused]);
    (
        (text(), 0.1..5.0f64, half(true), half(false), range, steerer),
        (supply, any::<[bool; 3]>(), price(), prop::option::of(any::<u32>())),
    )
        .prop_map(
            |(
                (name, tilt_deg, upper, lower, head_tube_length_mm, steerer),
                (bearings, flags, price, stock),
            )| {
                let [reversible, hoses, steering_stop] = flags;
                let sku = String::new();
                let [upper, lower] = agreeing([upper, lower], tilt_deg, head_tube_length_mm);
                Kit {
                    sku,
                    name,
                    tilt_deg,
                    reversible,
                    upper,
                    lower,
                    head_tube_length_mm,
                    steerer,
                    bearings,
                    hoses,
                    steering_stop,
                    price,
                    stock,
                }
            },
        )
}

/// Any bearing that a file can contain.
pub fn bearing() -> impl Strategy<Value = Bearing> {
    (30.0..65.0f64, 0.0..1.0f64, 4.0..14.0f64, [30.0..60.0f64, 30.0..60.0f64], price()).prop_map(
        |(outer_mm, place, height_mm, contact_deg, price)| {
            let inner_mm = 22.0 + place * (outer_mm.min(50.0) - 22.5);
            Bearing { sku: String::new(), outer_mm, inner_mm, height_mm, contact_deg, price }
        },
    )
}

/// Any catalogue that a file can contain: up to seven kits and three bearings.
pub fn catalogue() -> impl Strategy<Value = Catalogue> {
    let day = (1..=12u8, 1..=28u8).prop_map(|(month, day)| format!("2026-{month:02}-{day:02}"));
    (
        text(),
        1..=u32::MAX,
        day,
        "[A-Z]{3}",
        prop::collection::vec(kit(), 0..8),
        prop::collection::vec(bearing(), 0..4),
    )
        .prop_map(|(maker, number, issued, currency, mut kits, mut bearings)| {
            // Order codes are unique over the whole file.
            kits.iter_mut().enumerate().for_each(|(n, kit)| kit.sku = format!("K-{n}"));
            bearings.iter_mut().enumerate().for_each(|(n, bearing)| bearing.sku = format!("B-{n}"));
            Catalogue { schema: CatalogueSchema::V1, maker, number, issued, currency, kits, bearings }
        })
}
