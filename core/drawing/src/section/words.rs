//! Text of the section: notes at their positions, and a description in sentences.

use super::input::{Deepening, LeastClearance, Relief, ReliefSide, SectionSeat};
use super::profile::end_shape;
use super::{SEEN_DEG, Shown};
use crate::sheet::Sheet;
use crate::world::View;
use crate::{BoundingBox, Point, Role};
use steerwright_mechanics::headset::End;
use steerwright_metrology::quantity::Quantity;
use steerwright_words::say;

/// A length with its name; a no-break space keeps number and unit together.
pub(super) fn mm(shown: &Shown<'_>, id: &str, value: f64) -> String {
    say!(shown.voice, id, length = length(shown, value))
}

/// "112.0 mm".
fn length(shown: &Shown<'_>, value: f64) -> String {
    together(&shown.voice.fixed_length(value, 1))
}

fn together(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// "Ø 41.9 mm", with hundredths if they are not zero: they matter for a press fit.
fn diameter(shown: &Shown<'_>, value: f64) -> String {
    let text = format!("{value:.2}");
    let decimals = if text.ends_with('0') { 1 } else { 2 };
    format!("Ø\u{a0}{}", together(&shown.voice.fixed_length(value, decimals)))
}

/// The id part for a way of tilting.
pub(super) fn way(tilt: f64) -> &'static str {
    if tilt > 0.0 { "slacker" } else { "steeper" }
}

pub(super) fn least_clearance(shown: &Shown<'_>, clearance: &LeastClearance) -> String {
    let id = if clearance.clearance_mm < 0.0 { "drawn-touches" } else { "drawn-least-room" };
    let (room, needed) = (length(shown, clearance.clearance_mm.abs()), length(shown, clearance.needed_mm));
    say!(shown.voice, id, room = room, side = clearance.side.name(), needed = needed)
}

fn deepening_words(shown: &Shown<'_>, deepening: &Deepening) -> String {
    let Deepening { from_mm, to_mm, .. } = deepening;
    say!(shown.voice, "drawn-ream", more = length(shown, to_mm - from_mm), to = length(shown, *to_mm))
}

fn relief_words(shown: &Shown<'_>, relief: &Relief) -> String {
    let side = match relief.side {
        ReliefSide::Front => "front",
        ReliefSide::Rear => "rear",
        ReliefSide::Around => "around",
    };
    // Without these words the note would contradict the clearance next to it.
    let id = if relief.by_maker_figure { "drawn-remove-by-maker" } else { "drawn-remove" };
    say!(shown.voice, id, depth = length(shown, relief.depth_mm), side = side)
}

/// The name of a seat for its note, with its diameter or that it was not measured.
fn seat_words(shown: &Shown<'_>, end: End, seat: SectionSeat, bore: Option<f64>) -> String {
    let kind = match seat {
        SectionSeat::DropIn => "seat",
        SectionSeat::Pressed => "bore",
    };
    let id = if bore.is_some() { "drawn-seat" } else { "drawn-seat-not-measured" };
    match bore {
        Some(bore) => {
            say!(shown.voice, id, end = end.name(), kind = kind, diameter = diameter(shown, bore))
        }
        None => say!(shown.voice, id, end = end.name(), kind = kind),
    }
}

/// Notes in the main view.
pub(super) fn notes(shown: &Shown<'_>, sheet: &mut Sheet, view: View) {
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
        let middle = view.at(shape.bore_radius, height(shape.bore_depth / 2.0));
        let role = if at.bore_diameter_mm.is_some() { Role::Dimension } else { Role::Hidden };
        sheet.note(role, middle, right, &seat_words(shown, end, at.seat, at.bore_diameter_mm));
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
            sheet.target(seat_name, &say!(shown.voice, "drawn-seat-look", end = end.name()), area);
        }
        if let Some(throat) = shape.throat {
            let middle = view.at(throat.radius, height(f64::midpoint(throat.near, throat.far)));
            if throat.known {
                let diameter = diameter(shown, throat.radius * 2.0);
                let words = say!(shown.voice, "drawn-throat", end = end.name(), diameter = diameter);
                sheet.note(Role::Dimension, middle, right, &words);
            } else {
                let words = say!(shown.voice, "drawn-throat-not-measured", end = end.name());
                sheet.note(Role::Hidden, middle, right, &words);
            }
            sheet.opening(throat_name);
        }
    }
    let left = Point::new(-1.0, 0.0);
    if input.tube_inside_diameter_mm.is_none() {
        let corners = super::profile::inside(input);
        let middle =
            corners.iter().find(|corner| corner.z < length / 2.0).map_or(15.0, |corner| corner.radius);
        sheet.note(
            Role::Hidden,
            view.at(-middle, length / 2.0),
            left,
            &shown.voice.text("drawn-inside-not-measured"),
        );
    }
    if input.steerer.lower_diameter_mm.is_none() {
        let z = length * 0.3;
        let surface = view.at(shown.surface_x(z, -1.0), z);
        sheet.note(Role::Hidden, surface, left, &shown.voice.text("drawn-steerer-end-not-measured"));
        sheet.opening(Quantity::SteererLowerDiameter.name());
    }
    let old = view.at(0.0, shown.bottom_z - 10.5);
    sheet.note(Role::Axis, old, left, &shown.voice.text("drawn-old-axis"));
    let z = shown.top_z - 3.0;
    sheet.note(Role::After, view.at(shown.axis_x(z), z), left, &shown.voice.text("drawn-new-axis"));
}

/// Notes about material to remove, next to the enlarged detail if it is visible there.
pub(super) fn relief_notes(shown: &Shown<'_>, sheet: &mut Sheet, view: View, window: BoundingBox) {
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
        let text = relief_words(shown, relief);
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
pub(super) fn deepening_notes(shown: &Shown<'_>, sheet: &mut Sheet, view: View, window: BoundingBox) {
    for deepening in &shown.input.deepening {
        let middle = f64::midpoint(deepening.from_mm, deepening.to_mm);
        let z = match deepening.end {
            End::Upper => shown.input.head_tube_length_mm - middle,
            End::Lower => middle,
        };
        let place = view.at(end_shape(shown.input, deepening.end).bore_radius, z);
        if window.holds(BoundingBox { min: place, max: place }) {
            sheet.note(Role::Remove, place, Point::new(1.0, 0.0), &deepening_words(shown, deepening));
        }
    }
}

/// The picture in sentences.
pub(super) fn description(shown: &Shown<'_>) -> String {
    let (input, voice) = (shown.input, shown.voice);
    let plain = |value: f64| voice.fixed_length(value, 1);
    let mut said = vec![say!(voice, "drawn-section", length = plain(input.head_tube_length_mm))];
    for end in End::BOTH {
        let at = input.end(end);
        let kind = match at.seat {
            SectionSeat::DropIn => "seat",
            SectionSeat::Pressed => "bore",
        };
        let part = |id: &str, value: Option<f64>| {
            let value = value.map_or_else(|| voice.text("drawn-not-measured"), plain);
            say!(voice, id, value = value)
        };
        let mut parts = vec![part("drawn-part-diameter", at.bore_diameter_mm)];
        if at.seat == SectionSeat::DropIn || at.throat_diameter_mm.is_some() {
            parts.push(part("drawn-part-throat", at.throat_diameter_mm));
        }
        let parts = parts.join(", ");
        said.push(say!(voice, "drawn-end", end = end.name(), kind = kind, parts = parts));
    }
    let tilt = input.tilt_deg();
    said.push(if tilt.abs() < SEEN_DEG {
        voice.text("drawn-not-tilted")
    } else {
        say!(voice, "drawn-tilted", degrees = voice.fixed(tilt.abs(), 2), way = way(tilt))
    });
    if let Some(clearance) = &input.least_clearance {
        let end = if clearance.z_mm > input.head_tube_length_mm / 2.0 { "upper" } else { "lower" };
        let (room, needed) = (plain(clearance.clearance_mm), length(shown, clearance.needed_mm));
        let side = clearance.side.name();
        said.push(say!(voice, "drawn-room", room = room, side = side, end = end, needed = needed));
    }
    for relief in &input.relief {
        let words = relief_words(shown, relief);
        said.push(say!(voice, "drawn-at-throat", end = relief.end.name(), words = words));
    }
    for deepening in &input.deepening {
        let words = deepening_words(shown, deepening);
        said.push(say!(voice, "drawn-at-bore", end = deepening.end.name(), words = words));
    }
    said.join(" ")
}
