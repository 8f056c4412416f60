//! The outline of frame and steerer in the section; assumed parts, which were not measured, are flagged.

use super::input::{SectionEnd, SectionInput, SectionSeat, SectionSteerer};
use steerwright_mechanics::headset::End;

/// A corner of the head tube's inside: height above the lower face, radius, and whether the stroke to it from the
/// previous corner was measured.
#[derive(Debug, Clone, Copy)]
pub(super) struct Corner {
    pub(super) z: f64,
    pub(super) radius: f64,
    pub(super) known: bool,
}

/// The dimensions of one end, with assumed values for missing ones. Assumed values only place dashed strokes.
pub(super) struct EndShape {
    pub(super) bore_radius: f64,
    pub(super) bore_depth: f64,
    pub(super) throat: Option<ThroatShape>,
    pub(super) outside_radius: f64,
}

/// The narrowest part beyond the seat.
#[derive(Clone, Copy)]
pub(super) struct ThroatShape {
    pub(super) radius: f64,
    /// From the face to its near and far edge, mm.
    pub(super) near: f64,
    pub(super) far: f64,
    pub(super) known: bool,
}

/// Drawn length of a throat, mm: the land's length is never measured.
const LAND_MM: f64 = 5.0;

pub(super) fn end_shape(input: &SectionInput, end: End) -> EndShape {
    let at = input.end(end);
    // For any input, a seat and its throat stay in their own half of the tube.
    let half = input.head_tube_length_mm * 0.48;
    let bore_radius = bore_radius(at, end);
    let guess_depth = match at.seat {
        SectionSeat::DropIn => 8.0,
        SectionSeat::Pressed => 20.0,
    };
    let bore_depth = at.bore_depth_mm.unwrap_or(guess_depth).min(half);
    let measured = at.throat_diameter_mm.map(|diameter| diameter / 2.0);
    let throat = match (measured, at.seat) {
        (None, SectionSeat::Pressed) => None,
        (measured, _) => {
            let near = at.throat_depth_mm.unwrap_or(bore_depth).max(bore_depth).min(half);
            let radius = measured.unwrap_or(bore_radius - 4.0);
            Some(ThroatShape { radius, near, far: (near + LAND_MM).min(half), known: measured.is_some() })
        }
    };
    let widest = throat.map_or(bore_radius, |throat| throat.radius.max(bore_radius));
    let outside_radius = at.outside_diameter_mm.map_or(widest + 4.5, |diameter| diameter / 2.0);
    EndShape { bore_radius, bore_depth, throat, outside_radius }
}

fn bore_radius(at: &SectionEnd, end: End) -> f64 {
    let guess = match end {
        End::Upper => 44.0,
        End::Lower => 54.0,
    };
    let guess = at.throat_diameter_mm.map_or(guess, |throat| throat + 8.0);
    at.bore_diameter_mm.unwrap_or(guess) / 2.0
}

/// The inside of the head tube from the upper face down to the lower one.
pub(super) fn inside(input: &SectionInput) -> Vec<Corner> {
    let length = input.head_tube_length_mm;
    let mut corners = from_face(input, End::Upper, |depth| length - depth);
    let mut lower = from_face(input, End::Lower, |depth| depth);
    // The flag describes the stroke that leads to a corner; in reverse order that stroke ends at the other corner.
    let known: Vec<bool> = lower.iter().map(|corner| corner.known).collect();
    let shifted = known.into_iter().skip(1).chain([input.tube_inside_diameter_mm.is_some()]);
    for (corner, known) in lower.iter_mut().zip(shifted) {
        corner.known = known;
    }
    corners.extend(lower.into_iter().rev());
    corners
}

fn from_face(input: &SectionInput, end: End, z: impl Fn(f64) -> f64) -> Vec<Corner> {
    let at = input.end(end);
    let shape = end_shape(input, end);
    let bore_known = at.bore_diameter_mm.is_some() && at.bore_depth_mm.is_some();
    let corner = |depth: f64, radius: f64, known: bool| Corner { z: z(depth), radius, known };
    let mut corners =
        vec![corner(0.0, shape.bore_radius, true), corner(shape.bore_depth, shape.bore_radius, bore_known)];
    let half = input.head_tube_length_mm * 0.49;
    let (radius, depth) = shape.throat.map_or((shape.bore_radius, shape.bore_depth), |throat| {
        corners.push(corner(throat.near, throat.radius, throat.known && bore_known));
        corners.push(corner(throat.far, throat.radius, throat.known));
        (throat.radius, throat.far)
    });
    let tube = input.tube_inside_diameter_mm.map_or(radius, |diameter| diameter / 2.0);
    let tube_known = input.tube_inside_diameter_mm.is_some();
    corners.push(corner((depth + (tube - radius).abs().min(6.0)).min(half), tube, tube_known));
    corners
}

/// The corners of the steerer's outline: height above the crown race seat, radius, and whether the stroke to it was
/// measured.
pub(super) fn steerer(steerer: &SectionSteerer, top: f64) -> Vec<(f64, f64, bool)> {
    let upper = steerer.upper_diameter_mm / 2.0;
    let Some(lower) = steerer.lower_diameter_mm.map(|diameter| diameter / 2.0) else {
        return vec![(0.0, upper, true), (top * 0.6, upper, false), (top, upper, true)];
    };
    let same = (lower - upper).abs() < 0.05;
    let known = same || steerer.taper_start_mm.is_some() && steerer.taper_end_mm.is_some();
    let start =
        steerer.taper_start_mm.unwrap_or_else(|| steerer.taper_end_mm.map_or(15.0, |end| end.min(15.0)));
    let end = steerer.taper_end_mm.unwrap_or(start + 55.0).max(start);
    let (start, end) = (start.min(top * 0.8), end.min(top * 0.9));
    vec![(0.0, lower, true), (start, lower, known), (end, upper, known), (top, upper, true)]
}

/// The steerer's radius at a height above the crown race seat.
pub(super) fn steerer_radius(outline: &[(f64, f64, bool)], height: f64) -> f64 {
    let mut last = outline.first().map_or((0.0, 0.0), |(at, radius, _)| (*at, *radius));
    for (at, radius, _) in outline {
        if height <= *at && *at > last.0 {
            let share = ((height - last.0) / (at - last.0)).clamp(0.0, 1.0);
            return last.1 + (radius - last.1) * share;
        }
        last = (*at, *radius);
    }
    last.1
}
