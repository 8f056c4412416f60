//! Frame, kit and steerer as shapes in the section's coordinates: `x` forward of the head tube's axis, `y` up from its
//! lower face.

use super::Shown;
use super::input::{Deepening, Relief, ReliefSide, SectionSeat};
use super::profile::{EndShape, end_shape, inside};
use crate::world::World;
use crate::{Fill, Role};
use steerwright_mechanics::headset::End;

/// Spacing of hatches, mm on the sheet.
const FRAME_HATCH: Fill = Fill::Hatch { spacing_mm: 1.5, direction_deg: 45.0 };
const KIT_HATCH: Fill = Fill::Hatch { spacing_mm: 1.0, direction_deg: 135.0 };
const REMOVE_HATCH: Fill = Fill::Hatch { spacing_mm: 0.7, direction_deg: 90.0 };

pub(super) fn draw(shown: &Shown, world: &mut World) {
    world.layer("steerer");
    steerer(shown, world);
    world.layer("frame");
    frame(shown, world);
    world.layer("kit");
    for end in End::BOTH {
        for sign in [-1.0, 1.0] {
            kit(shown, world, end, sign);
        }
    }
    world.layer("remove");
    for relief in &shown.input.relief {
        remove(shown, world, relief);
    }
    for deepening in &shown.input.deepening {
        ream(shown, world, deepening);
    }
}

fn steerer(shown: &Shown, world: &mut World) {
    let top = shown.outline.last().map_or(0.0, |(along, ..)| *along);
    let side = |sign: f64| shown.outline.iter().map(move |(along, radius, _)| (*along, sign * radius));
    let outline: Vec<(f64, f64)> =
        side(1.0).chain(side(-1.0).rev()).map(|(along, forward)| shown.on_axis(along, forward)).collect();
    world.surface(Role::After, Fill::Tint, outline);
    for sign in [-1.0, 1.0] {
        let corners = shown.outline.iter();
        for ((from, from_radius, _), (to, to_radius, known)) in corners.clone().zip(corners.skip(1)) {
            let role = if *known { Role::Outline } else { Role::Hidden };
            let ends = [(*from, sign * from_radius), (*to, sign * to_radius)];
            world.chain(role, ends.map(|(along, forward)| shown.on_axis(along, forward)));
        }
    }
    // Open at the top: the steerer continues.
    let upper = shown.input.steerer.upper_diameter_mm / 2.0;
    let wave = [(-1.0, 0.0), (-0.5, 1.5), (0.0, 0.0), (0.5, -1.5), (1.0, 0.0)];
    world.fine_chain(Role::Outline, wave.map(|(forward, rise)| shown.on_axis(top + rise, forward * upper)));
    // The crown, down to the end of the picture.
    let lower = shown.outline.first().map_or(upper, |(_, radius, _)| *radius);
    let crown = [(0.0, -lower - 5.0), (0.0, lower + 5.0), (-9.0, lower + 8.0), (-9.0, -lower - 8.0)];
    world.part(Role::Thin, Fill::Tint, &crown.map(|(along, forward)| shown.on_axis(along, forward)));
}

fn frame(shown: &Shown, world: &mut World) {
    let input = shown.input;
    let length = input.head_tube_length_mm;
    let [upper, lower] = End::BOTH.map(|end| end_shape(input, end));
    let inside = inside(input);
    for sign in [-1.0, 1.0] {
        let outer = [(sign * lower.outside_radius, 0.0), (sign * upper.outside_radius, length)];
        let wall = inside.iter().map(|corner| (sign * corner.radius, corner.z)).chain(outer);
        world.surface(Role::Outline, FRAME_HATCH, wall);
        for (from, to) in inside.iter().zip(inside.iter().skip(1)) {
            let role = if to.known { Role::Outline } else { Role::Hidden };
            world.chain(role, [(sign * from.radius, from.z), (sign * to.radius, to.z)]);
        }
        let known = [End::Upper, End::Lower].iter().all(|end| input.end(*end).outside_diameter_mm.is_some());
        world.chain(if known { Role::Outline } else { Role::Hidden }, outer);
        for (shape, z) in [(&upper, length), (&lower, 0.0)] {
            world.chain(Role::Outline, [(sign * shape.bore_radius, z), (sign * shape.outside_radius, z)]);
        }
    }
}

/// The kit's part on one side of one end, simplified: a ring between bore and steerer with its bearing.
fn kit(shown: &Shown, world: &mut World, end: End, sign: f64) {
    let input = shown.input;
    let at = input.end(end);
    let shape = end_shape(input, end);
    let height = |depth: f64| match end {
        End::Upper => input.head_tube_length_mm - depth,
        End::Lower => depth,
    };
    let depth = shape.bore_depth.min(match at.seat {
        SectionSeat::DropIn => 14.0,
        SectionSeat::Pressed => 22.0,
    });
    // A small gap to the steerer, so that both strokes stay visible.
    let near = |depth: f64| sign * 0.4 + shown.surface_x(height(depth), sign);
    let bearing = bearing(shown, end, sign, &shape);
    let bearing_reach = bearing.map(|[_, (x, _), ..]| x.abs() + 1.5).unwrap_or_default();
    let rim = (shape.bore_radius + 1.5).max(if at.plane_mm > 0.0 { bearing_reach } else { 0.0 });
    let stack = at.stack_mm;
    let lip = stack.min(2.0);
    // With the bearing outside the frame, the inner part is a skirt that leaves clearance to the steerer.
    let skirt = match at.seat {
        SectionSeat::DropIn => 5.0,
        SectionSeat::Pressed => 2.2,
    };
    let inner = |depth: f64| {
        let free = if at.plane_mm > 0.0 { shape.bore_radius - skirt } else { 0.0 };
        sign * (sign * near(depth)).max(free).min(shape.bore_radius)
    };
    let mut outline = vec![(inner(0.0), height(0.0)), (inner(depth), height(depth))];
    outline.push((sign * shape.bore_radius, height(depth)));
    outline.push((sign * shape.bore_radius, height(0.0)));
    if stack > 0.0 {
        outline.push((sign * rim, height(0.0)));
        outline.push((sign * rim, height(-lip)));
        let top = near(-stack);
        // The cover slopes to the steerer; the lower part carries the crown and ends level.
        let shoulder = match end {
            End::Upper => top + sign * 2.0,
            End::Lower => sign * rim.min((top + sign * 6.0).abs()),
        };
        outline.push((shoulder, height(-stack)));
        outline.push((top, height(-stack)));
        outline.push((near(0.0), height(0.0)));
    }
    world.surface(Role::Tool, Fill::Tint, outline.iter().copied());
    world.surface(Role::Tool, KIT_HATCH, outline.iter().copied());
    world.chain(Role::Tool, outline.iter().chain(outline.first()).copied());
    if let Some(corners) = bearing {
        let [a, b, c, d] = corners;
        world.part(Role::Outline, Fill::Tint, &corners);
        world.fine_chain(Role::Outline, [a, c]);
        world.fine_chain(Role::Outline, [b, d]);
    }
}

/// The bearing's cross-section, normal to the new axis, as the crossed box of engineering drawing (ISO 8826-1).
fn bearing(shown: &Shown, end: End, sign: f64, shape: &EndShape) -> Option<[(f64, f64); 4]> {
    let at = shown.input.end(end);
    let z = match end {
        End::Upper => shown.input.head_tube_length_mm + at.plane_mm,
        End::Lower => -at.plane_mm,
    };
    let along = (z - shown.bottom_z) / libm::cos(shown.tilt);
    let inner = (shown.surface_x(z, sign) - shown.axis_x(z)).abs() + 0.9;
    let clearance = if at.plane_mm > 0.0 {
        inner + 6.0
    } else {
        shape.bore_radius - (sign * shown.axis_x(z)).abs() - 0.6
    };
    let outer = clearance.min(inner + 6.0);
    (outer - inner > 1.5).then(|| {
        [(-3.2, inner), (-3.2, outer), (3.2, outer), (3.2, inner)]
            .map(|(up, out)| shown.on_axis(along + up, sign * out))
    })
}

/// The material to remove: a strip of the throat's wall.
fn remove(shown: &Shown, world: &mut World, relief: &Relief) {
    let shape = end_shape(shown.input, relief.end);
    let throat = shape.throat.map_or((shape.bore_radius, 0.0, shape.bore_depth), |throat| {
        (throat.radius, throat.near, throat.far)
    });
    let (radius, near, far) = throat;
    let height = |depth: f64| match relief.end {
        End::Upper => shown.input.head_tube_length_mm - depth,
        End::Lower => depth,
    };
    let signs: &[f64] = match relief.side {
        ReliefSide::Front => &[1.0],
        ReliefSide::Rear => &[-1.0],
        ReliefSide::Around => &[-1.0, 1.0],
    };
    for sign in signs {
        let strip = [
            (sign * radius, height(near)),
            (sign * (radius + relief.depth_mm), height(near)),
            (sign * (radius + relief.depth_mm), height(far)),
            (sign * radius, height(far)),
        ];
        strip_to_remove(world, strip);
    }
}

fn strip_to_remove(world: &mut World, strip: [(f64, f64); 4]) {
    world.surface(Role::Remove, Fill::Tint, strip);
    world.surface(Role::Remove, REMOVE_HATCH, strip);
    world.chain(Role::Remove, strip.iter().chain(strip.first()).copied());
}

/// The material that a reamer takes below a bore: from the tube's inside to the bore's radius, all round.
fn ream(shown: &Shown, world: &mut World, deepening: &Deepening) {
    /// Width of the step below a bore where the tube's inside was not measured, mm.
    const STEP_MM: f64 = 2.0;
    let outer = end_shape(shown.input, deepening.end).bore_radius;
    let inside = shown.input.tube_inside_diameter_mm.map_or(outer - STEP_MM, |diameter| diameter / 2.0);
    let inner = inside.min(outer - 0.5);
    let height = |depth: f64| match deepening.end {
        End::Upper => shown.input.head_tube_length_mm - depth,
        End::Lower => depth,
    };
    let [near, far] = [deepening.from_mm, deepening.to_mm].map(height);
    for sign in [-1.0, 1.0] {
        strip_to_remove(
            world,
            [(sign * inner, near), (sign * outer, near), (sign * outer, far), (sign * inner, far)],
        );
    }
}
