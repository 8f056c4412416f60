//! Checks of a catalogue beyond its types.

use super::{Bearing, Catalogue, Kit, KitEnd};
use steerwright_input::{Path, Problems, check_text, number};
use steerwright_mechanics::headset::{End, Style, size, sizes};
use steerwright_mechanics::tilt::Offsets;
use steerwright_metrology::quantity::{Quantity, quantity_info};
use time::Date;
use time::format_description::well_known::Iso8601;

const SKU_LENGTH: usize = 40;
const NAME_LENGTH: usize = 120;

/// Stack heights outside the head tube, mm: a low drop-in cover to a tall external cup with its cover.
const STACK: [f64; 2] = [0.0, 60.0];
/// Bearing planes, mm outside the face: sunk in the frame to the top of an external cup.
const PLANE: [f64; 2] = [-40.0, 40.0];
/// A kit's tilt, degrees; none is made for more than a few.
const TILT: [f64; 2] = [0.1, 5.0];
/// Offsets of a bearing's centre, mm; more does not fit in a head tube.
const OFFSET: [f64; 2] = [-12.0, 12.0];
/// Room around the steerer, mm.
const RUNNING: [f64; 2] = [0.0, 5.0];
/// Contact angles of angular contact bearings, degrees.
const CONTACT: [f64; 2] = [30.0, 60.0];
/// A cup's diameter lies within this many millimetres of the size's whole-millimetre name (the widest in use is 49:
/// a bore of 49.6).
const CUP_FROM_NAME: f64 = 1.0;

/// What each field expects, in words.
pub(super) fn expects(field: &str) -> Option<String> {
    let range = |[low, high]: [f64; 2], unit: &str| {
        Some(format!("a number from {} to {} {unit}", number(low), number(high)))
    };
    let words = match field {
        "schema" => "\"steerwright.catalogue/1\"",
        "maker" | "name" => "1 to 120 plain characters",
        "sku" => "an order code of 1 to 40 plain characters",
        "number" => "a whole number from 1 to 4294967295",
        "issued" => "a date such as 2026-05-01",
        "currency" => "three capital letters such as EUR",
        "kits" => "a list of kits",
        "bearings" => "one of included, reused",
        "upper" | "lower" => "an object with one half of the kit",
        "steerer" => "an object with the diameters of the steerer",
        "seat" => "a seat code such as IS42, ZS44 or EC34",
        "reversible" | "hoses" | "steering_stop" => "true or false",
        "head_tube_length_mm" => "two lengths in mm, the shorter first",
        "contact_deg" => "two contact angles from 30 to 60 degrees, such as [45, 45]",
        "price" => "a price in quotes with at most 4 decimals, such as \"129.00\"",
        "stock" => "a whole number from 0 to 4294967295",
        "tilt_deg" => return range(TILT, "degrees"),
        "stack_mm" => return range(STACK, "mm"),
        "plane_mm" => return range(PLANE, "mm"),
        "offset_mm" => return range(OFFSET, "mm"),
        "running_clearance_mm" => return range(RUNNING, "mm"),
        "upper_mm" => return range(quantity_info(Quantity::SteererUpperDiameter).plausible, "mm"),
        "lower_mm" => return range(quantity_info(Quantity::SteererLowerDiameter).plausible, "mm"),
        "throat_min_mm" => return range(quantity_info(Quantity::UpperThroatDiameter).plausible, "mm"),
        "recess_max_mm" => return range(quantity_info(Quantity::UpperBearingRecess).plausible, "mm"),
        "bore_depth_min_mm" => return range(quantity_info(Quantity::UpperBoreDepth).plausible, "mm"),
        "cup_mm" => return range(quantity_info(Quantity::UpperCupOuterDiameter).plausible, "mm"),
        "outer_mm" => return range(quantity_info(Quantity::UpperBearingOuterDiameter).plausible, "mm"),
        "inner_mm" => return range(quantity_info(Quantity::UpperBearingInnerDiameter).plausible, "mm"),
        "height_mm" => return range(quantity_info(Quantity::UpperBearingHeight).plausible, "mm"),
        _ => return None,
    };
    Some(words.to_owned())
}

/// A valid text for each field whose type refuses most texts.
pub(super) fn example(field: &str) -> Option<&'static str> {
    match field {
        "seat" => Some("IS42"),
        "price" => Some("129.00"),
        _ => None,
    }
}

/// Refuses a number outside a range that [`expects`] words.
fn check_range(value: f64, [low, high]: [f64; 2], unit: &str, path: &Path<'_>, problems: &Problems<'_>) {
    if !(low..=high).contains(&value) {
        let expected = format!("{} to {} {unit}", number(low), number(high));
        problems.value(path, format!("{} {unit}", number(value)), expected, None);
    }
}

pub(super) fn check_head(head: &Catalogue, problems: &Problems<'_>) {
    let field = |name| Path::Field(&Path::Root, name);
    let refuse = |name: &'static str, found: String| {
        problems.value(&field(name), found, expects(name).unwrap_or_default(), None);
    };
    check_text(&head.maker, NAME_LENGTH, &field("maker"), problems);
    if head.number == 0 {
        refuse("number", "0".to_owned());
    }
    // The standard has shorter forms; the format has this one.
    if head.issued.len() != 10 || Date::parse(&head.issued, &Iso8601::DATE).is_err() {
        refuse("issued", format!("{:?}", shortened(&head.issued)));
    }
    if head.currency.len() != 3 || !head.currency.bytes().all(|byte| byte.is_ascii_uppercase()) {
        refuse("currency", format!("{:?}", shortened(&head.currency)));
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(60).collect()
}

pub(super) fn check_kit(kit: &Kit, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    check_text(&kit.sku, SKU_LENGTH, &field("sku"), problems);
    check_text(&kit.name, NAME_LENGTH, &field("name"), problems);
    check_range(kit.tilt_deg, TILT, "degrees", &field("tilt_deg"), problems);

    let range_path = field("head_tube_length_mm");
    let plausible = quantity_info(Quantity::HeadTubeLength).plausible;
    let mut sound = true;
    for (place, length) in kit.head_tube_length_mm.into_iter().enumerate() {
        let path = Path::Place(&range_path, place);
        check_range(length, plausible, "mm", &path, problems);
        sound &= problems.is_sound(&path);
    }
    let [short, long] = kit.head_tube_length_mm;
    if sound && short >= long {
        let found = format!("[{}, {}]", number(short), number(long));
        problems.value(&range_path, found, expects("head_tube_length_mm").unwrap_or_default(), None);
    }

    let steerer = field("steerer");
    let diameters = [
        ("upper_mm", kit.steerer.upper_mm, Quantity::SteererUpperDiameter),
        ("lower_mm", kit.steerer.lower_mm, Quantity::SteererLowerDiameter),
    ];
    for (name, value, quantity) in diameters {
        check_range(value, quantity_info(quantity).plausible, "mm", &Path::Field(&steerer, name), problems);
    }
    for end in End::BOTH {
        check_end(kit.end(end), end, &field(end.name()), problems);
    }
    check_offsets(kit, path, problems);
}

/// With both offsets given, the lower bearing lies in front of the upper one when the kit slackens.
fn check_offsets(kit: &Kit, path: &Path<'_>, problems: &Problems<'_>) {
    let [upper, lower] = [Path::Field(path, "upper"), Path::Field(path, "lower")];
    let [upper, lower] = [&upper, &lower].map(|half| Path::Field(half, "offset_mm"));
    let (Some(upper_mm), Some(lower_mm)) = (kit.upper.offset_mm, kit.lower.offset_mm) else { return };
    if lower_mm <= upper_mm && problems.is_sound(&upper) {
        let expected =
            format!("more than the upper half's {} mm, as forward counts positive", number(upper_mm));
        problems.value(&lower, format!("{} mm", number(lower_mm)), expected, None);
        return;
    }
    // Both stated: they have to give the kit's tilt somewhere in its own range.
    let fields = ["tilt_deg", "head_tube_length_mm"].map(|name| problems.is_sound(&Path::Field(path, name)));
    if fields != [true; 2] || !problems.is_sound(&upper) || !problems.is_sound(&lower) {
        return;
    }
    let offsets = Offsets {
        upper_plane: kit.upper.plane_mm,
        lower_plane: kit.lower.plane_mm,
        upper: upper_mm,
        lower: lower_mm,
    };
    if !offsets.agrees_with(kit.tilt_deg, kit.head_tube_length_mm) {
        let [short, long] = kit.head_tube_length_mm;
        let expected = format!(
            "both offsets to give {} degrees in a head tube of {} to {} mm",
            number(kit.tilt_deg),
            number(short),
            number(long)
        );
        let found = format!("{} mm with the upper half's {} mm", number(lower_mm), number(upper_mm));
        problems.value(&lower, found, expected, None);
    }
}

fn check_end(half: &KitEnd, end: End, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    check_range(half.stack_mm, STACK, "mm", &field("stack_mm"), problems);
    check_range(half.plane_mm, PLANE, "mm", &field("plane_mm"), problems);
    let upper = end == End::Upper;
    let of = |at_upper, at_lower| quantity_info(if upper { at_upper } else { at_lower }).plausible;
    let throat = of(Quantity::UpperThroatDiameter, Quantity::LowerThroatDiameter);
    let depth = of(Quantity::UpperBoreDepth, Quantity::LowerBoreDepth);
    let cup = of(Quantity::UpperCupOuterDiameter, Quantity::LowerCupOuterDiameter);
    let recess = quantity_info(Quantity::UpperBearingRecess).plausible;
    let optional = [
        ("throat_min_mm", half.throat_min_mm, throat),
        ("recess_max_mm", half.recess_max_mm, recess),
        ("bore_depth_min_mm", half.bore_depth_min_mm, depth),
        ("cup_mm", half.cup_mm, cup),
        ("offset_mm", half.offset_mm, OFFSET),
        ("running_clearance_mm", half.running_clearance_mm, RUNNING),
    ];
    for (name, value, range) in optional {
        if let Some(value) = value {
            check_range(value, range, "mm", &field(name), problems);
        }
    }
    if problems.is_sound(&field("seat")) {
        check_seat(half, end, path, problems);
    }
}

/// Whether the seat is one of the table's, and has no field of the other kind of seat.
fn check_seat(half: &KitEnd, end: End, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    if size(half.seat).is_none() {
        let same = sizes().iter().filter(|size| size.code.style == half.seat.style);
        let names: Vec<String> = same.map(|size| size.code.to_string()).collect();
        let expected = format!("a size of the table: {}", names.join(", "));
        problems.value(&field("seat"), format!("\"{}\"", half.seat), expected, None);
        return;
    }
    let drop_in = half.seat.style == Style::Is;
    let misplaced = [
        ("throat_min_mm", half.throat_min_mm.is_some() && !drop_in, "a drop-in seat"),
        ("recess_max_mm", half.recess_max_mm.is_some() && !drop_in, "a drop-in seat"),
        ("recess_max_mm", half.recess_max_mm.is_some() && end == End::Lower, "the upper seat"),
        ("bore_depth_min_mm", half.bore_depth_min_mm.is_some() && drop_in, "a pressed seat"),
        ("cup_mm", half.cup_mm.is_some() && drop_in, "a pressed seat"),
    ];
    for (name, wrong, owner) in misplaced {
        if wrong {
            let found = format!("given for the {} seat {}", end.name(), half.seat);
            let expected = format!("it for {owner} only");
            problems.value(&field(name), found, expected, None);
        }
    }
    let name_mm = f64::from(half.seat.name_mm);
    if let Some(cup) = half.cup_mm
        && !drop_in
        && (cup - name_mm).abs() > CUP_FROM_NAME
    {
        let (low, high) = (name_mm - CUP_FROM_NAME, name_mm + CUP_FROM_NAME);
        let expected = format!("{} to {} mm for {}", number(low), number(high), half.seat);
        problems.value(&field("cup_mm"), format!("{} mm", number(cup)), expected, None);
    }
}

pub(super) fn check_bearing(bearing: &Bearing, path: &Path<'_>, problems: &Problems<'_>) {
    let field = |name| Path::Field(path, name);
    check_text(&bearing.sku, SKU_LENGTH, &field("sku"), problems);
    let sizes = [
        ("outer_mm", bearing.outer_mm, Quantity::UpperBearingOuterDiameter),
        ("inner_mm", bearing.inner_mm, Quantity::UpperBearingInnerDiameter),
        ("height_mm", bearing.height_mm, Quantity::UpperBearingHeight),
    ];
    for (name, value, quantity) in sizes {
        check_range(value, quantity_info(quantity).plausible, "mm", &field(name), problems);
    }
    if problems.is_sound(&field("outer_mm")) && bearing.inner_mm >= bearing.outer_mm {
        let expected = format!("less than the outside diameter of {} mm", number(bearing.outer_mm));
        problems.value(&field("inner_mm"), format!("{} mm", number(bearing.inner_mm)), expected, None);
    }
    let contact = field("contact_deg");
    for (place, angle) in bearing.contact_deg.into_iter().enumerate() {
        check_range(angle, CONTACT, "degrees", &Path::Place(&contact, place), problems);
    }
}
