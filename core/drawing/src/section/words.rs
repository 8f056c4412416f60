//! Text of the section: notes at their positions, and a description in sentences.

use super::input::{Deepening, LeastClearance, Relief, ReliefSide, SectionSeat};
use super::profile::end_shape;
use super::{SEEN_DEG, Shown};
use crate::sheet::Sheet;
use crate::world::View;
use crate::{BoundingBox, Point, Role};
use steerwright_mechanics::clearance::Side;
use steerwright_mechanics::headset::End;
use steerwright_metrology::quantity::Quantity;

/// "head tube 112.0 mm".
pub(super) fn mm(name: &str, value: f64) -> String {
    format!("{name} {value:.1}\u{a0}mm")
}

/// "Ø 41.9 mm", with hundredths if they are not zero: they matter for a press fit.
fn diameter(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.strip_suffix('0').unwrap_or(&text);
    format!("Ø\u{a0}{text}\u{a0}mm")
}

pub(super) fn least_clearance(clearance: &LeastClearance) -> String {
    let side = clearance.side.name();
    if clearance.clearance_mm < 0.0 {
        format!(
            "touches by {:.1}\u{a0}mm, {side}; needs {:.1}\u{a0}mm room",
            -clearance.clearance_mm, clearance.needed_mm
        )
    } else {
        format!(
            "least room {:.1}\u{a0}mm, {side}; needs {:.1}\u{a0}mm",
            clearance.clearance_mm, clearance.needed_mm
        )
    }
}

fn deepening_words(deepening: &Deepening) -> String {
    let Deepening { from_mm, to_mm, .. } = deepening;
    format!("ream {:.1}\u{a0}mm deeper, to {to_mm:.1}\u{a0}mm", to_mm - from_mm)
}

fn relief_words(relief: &Relief) -> String {
    let depth_mm = relief.depth_mm;
    // Without these words the note would contradict the clearance next to it.
    let why = if relief.by_maker_figure { " (kit maker's figure; dry fit first)" } else { "" };
    let side = match relief.side {
        ReliefSide::Front => "at the front",
        ReliefSide::Rear => "at the rear",
        ReliefSide::Around => "all round",
    };
    format!("remove {depth_mm:.1}\u{a0}mm {side}{why}")
}

fn seat_words(end: End, seat: SectionSeat) -> String {
    let name = match seat {
        SectionSeat::DropIn => "seat",
        SectionSeat::Pressed => "bore",
    };
    format!("{} {name}", end.name())
}

/// Notes in the main view.
pub(super) fn notes(shown: &Shown, sheet: &mut Sheet, view: View) {
    let input = shown.input;
    let length = input.head_tube_length_mm;
    let right = Point::new(1.0, 0.0);
    for end in End::BOTH {
        let at = input.end(end);
        let shape = end_shape(input, end);
        let height = |depth: f64| match end {
            End::Upper => length - depth,
            End::Lower => depth,
        };
        let seat = seat_words(end, at.seat);
        let middle = view.at(shape.bore_radius, height(shape.bore_depth / 2.0));
        match at.bore_diameter_mm {
            Some(bore) => sheet.note(Role::Dimension, middle, right, &format!("{seat} {}", diameter(bore))),
            None => sheet.note(Role::Hidden, middle, right, &format!("{seat} not measured")),
        }
        let (bore_name, throat_name, seat_name) = match end {
            End::Upper => {
                (Quantity::UpperBoreDiameter.name(), Quantity::UpperThroatDiameter.name(), "upper_seat")
            }
            End::Lower => {
                (Quantity::LowerBoreDiameter.name(), Quantity::LowerThroatDiameter.name(), "lower_seat")
            }
        };
        sheet.opening(bore_name);
        // The seat itself, in the whole width of the tube, opens what was seen there.
        let corners = [(-shape.outside_radius, 0.0), (shape.outside_radius, shape.bore_depth)];
        if let Some(area) = BoundingBox::of(corners.map(|(x, depth)| view.at(x, height(depth)))) {
            sheet.target(seat_name, &format!("{seat}: what it looks like"), area);
        }
        if let Some(throat) = shape.throat {
            let middle = view.at(throat.radius, height(f64::midpoint(throat.near, throat.far)));
            let name = format!("{} throat", end.name());
            if throat.known {
                let words = format!("{name} {}", diameter(throat.radius * 2.0));
                sheet.note(Role::Dimension, middle, right, &words);
            } else {
                sheet.note(Role::Hidden, middle, right, &format!("{name} not measured"));
            }
            sheet.opening(throat_name);
        }
    }
    let left = Point::new(-1.0, 0.0);
    if input.tube_inside_diameter_mm.is_none() {
        let corners = super::profile::inside(input);
        let middle =
            corners.iter().find(|corner| corner.z < length / 2.0).map_or(15.0, |corner| corner.radius);
        sheet.note(Role::Hidden, view.at(-middle, length / 2.0), left, "inside not measured");
    }
    if input.steerer.lower_diameter_mm.is_none() {
        let z = length * 0.3;
        let surface = view.at(shown.surface_x(z, -1.0), z);
        sheet.note(Role::Hidden, surface, left, "steerer's lower end not measured");
        sheet.opening(Quantity::SteererLowerDiameter.name());
    }
    let old = view.at(0.0, shown.bottom_z - 10.5);
    sheet.note(Role::Axis, old, left, "head tube's axis");
    let z = shown.top_z - 3.0;
    sheet.note(Role::After, view.at(shown.axis_x(z), z), left, "new steering axis");
}

/// Notes about material to remove, next to the enlarged detail if it is visible there.
pub(super) fn relief_notes(shown: &Shown, sheet: &mut Sheet, view: View, window: BoundingBox) {
    for relief in &shown.input.relief {
        let shape = end_shape(shown.input, relief.end);
        let (radius, near, far) = shape.throat.map_or((shape.bore_radius, 0.0, shape.bore_depth), |throat| {
            (throat.radius, throat.near, throat.far)
        });
        let depth = f64::midpoint(near, far);
        let z = match relief.end {
            End::Upper => shown.input.head_tube_length_mm - depth,
            End::Lower => depth,
        };
        let text = relief_words(relief);
        for sign in [1.0, -1.0] {
            let place = view.at(sign * (radius + relief.depth_mm / 2.0), z);
            let there = relief.side != (if sign > 0.0 { ReliefSide::Rear } else { ReliefSide::Front });
            if there && window.holds(BoundingBox { min: place, max: place }) {
                sheet.note(Role::Remove, place, Point::new(sign, 0.0), &text);
            }
        }
    }
}

/// Notes about bores to ream deeper.
pub(super) fn deepening_notes(shown: &Shown, sheet: &mut Sheet, view: View, window: BoundingBox) {
    for deepening in &shown.input.deepening {
        let middle = f64::midpoint(deepening.from_mm, deepening.to_mm);
        let z = match deepening.end {
            End::Upper => shown.input.head_tube_length_mm - middle,
            End::Lower => middle,
        };
        let place = view.at(end_shape(shown.input, deepening.end).bore_radius, z);
        if window.holds(BoundingBox { min: place, max: place }) {
            sheet.note(Role::Remove, place, Point::new(1.0, 0.0), &deepening_words(deepening));
        }
    }
}

/// The picture in sentences.
pub(super) fn description(shown: &Shown) -> String {
    let input = shown.input;
    let mut said = vec![format!(
        "Head tube of {:.1} mm, cut in the steering plane, front to the right.",
        input.head_tube_length_mm
    )];
    for end in End::BOTH {
        let at = input.end(end);
        let seat = match at.seat {
            SectionSeat::DropIn => "a drop-in seat",
            SectionSeat::Pressed => "a bore for a pressed cup",
        };
        let part = |name: &str, value: Option<f64>| {
            value.map_or_else(|| format!("{name} not measured"), |value| format!("{name} {value:.1} mm"))
        };
        let mut parts = vec![part("diameter", at.bore_diameter_mm)];
        if at.seat == SectionSeat::DropIn || at.throat_diameter_mm.is_some() {
            parts.push(part("throat", at.throat_diameter_mm));
        }
        said.push(format!("At the {} end {seat}: {}.", end.name(), parts.join(", ")));
    }
    let tilt = input.tilt_deg();
    said.push(if tilt.abs() < SEEN_DEG {
        "The new steering axis is not tilted.".to_owned()
    } else {
        let way = if tilt > 0.0 { "slacker" } else { "steeper" };
        format!("The new steering axis is tilted by {:.2} degrees, {way}.", tilt.abs())
    });
    if let Some(clearance) = &input.least_clearance {
        let end = if clearance.z_mm > input.head_tube_length_mm / 2.0 { "upper" } else { "lower" };
        let side = match clearance.side {
            Side::Front => "front",
            Side::Rear => "rear",
        };
        said.push(format!(
            "The steerer has {:.1} mm of room at the {side} near the {end} end and needs {:.1}\u{a0}mm.",
            clearance.clearance_mm, clearance.needed_mm
        ));
    }
    for relief in &input.relief {
        let words = relief_words(relief);
        said.push(format!("At the {} throat: {words}.", relief.end.name()));
    }
    for deepening in &input.deepening {
        said.push(format!("At the {} bore: {}.", deepening.end.name(), deepening_words(deepening)));
    }
    said.join(" ")
}
