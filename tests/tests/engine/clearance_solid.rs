//! The side view's least clearance compared with the solid itself: points all over the tilted steerer's surface in
//! space, and the radial gap between each and the head tube's wall at its height.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at what is not there")]

use proptest::prelude::*;
use std::f64::consts::PI;
use steerwright_core::clearance::{Clearance, HeadTube, Profile, Steerer, clearance};
use steerwright_core::tilt::Offsets;

const AROUND: u32 = 720;

/// The surface in space, independent of the side view: p(s, phi) = K + (s - b) a + r(s) (cos phi n + sin phi m), with a
/// the axis, n forward and m sideways, both normal to it.
struct Solid<'a> {
    points: &'a [(f64, f64)],
    below: f64,
    offsets: Offsets,
    axis: [f64; 2],
}

impl<'a> Solid<'a> {
    fn new(steerer: &'a Steerer, offsets: Offsets, length: f64) -> Self {
        let (dx, dz) = (offsets.upper - offsets.lower, length + offsets.upper_plane + offsets.lower_plane);
        let size = (dx * dx + dz * dz).sqrt();
        Self {
            points: steerer.profile().points(),
            below: steerer.lower_stack() - offsets.lower_plane,
            offsets,
            axis: [dx / size, dz / size],
        }
    }

    /// Height and distance from the head tube's axis of a surface point.
    fn at(&self, s: f64, radius: f64, phi: f64) -> (f64, f64) {
        let [ax, az] = self.axis;
        let x = self.offsets.lower + (s - self.below) * ax + radius * phi.cos() * az;
        let z = -self.offsets.lower_plane + (s - self.below) * az - radius * phi.cos() * ax;
        let y = radius * phi.sin();
        (z, (x * x + y * y).sqrt())
    }

    /// Straight pieces of the profile, the outer ones extended.
    fn pieces(&self, length: f64) -> Vec<[(f64, f64); 2]> {
        let (first, last) = (self.points[0], self.points[self.points.len() - 1]);
        let mut pieces: Vec<_> = self.points.windows(2).map(|pair| [pair[0], pair[1]]).collect();
        pieces.push([(first.0.min(-50.0) - 2.0 * length, first.1), first]);
        pieces.push([last, (last.0.max(0.0) + 3.0 * length, last.1)]);
        pieces
    }
}

fn wall(head_tube: &HeadTube, z: f64) -> Option<f64> {
    let mut narrowest: Option<f64> = None;
    for stretch in head_tube.stretches() {
        for pair in stretch.points().windows(2) {
            let ((low, a), (high, b)) = (pair[0], pair[1]);
            if low <= z && z <= high {
                let here = if high - low > 0.0 { a + (b - a) * (z - low) / (high - low) } else { a.min(b) };
                narrowest = Some(narrowest.map_or(here, |so_far| so_far.min(here)));
            }
        }
    }
    narrowest
}

/// The least radial gap over circles at the profile's own corners, a ladder of circles `step` apart, and the horizontal
/// cuts at the tube's corners, where for each direction the surface point at that height is solved for.
fn least_gap(head_tube: &HeadTube, steerer: &Steerer, offsets: Offsets, step: f64) -> f64 {
    let solid = Solid::new(steerer, offsets, head_tube.length());
    let mut least = f64::INFINITY;
    let mut look = |s: f64, radius: f64, phi: f64, level: Option<f64>| {
        let (z, distance) = solid.at(s, radius, phi);
        if let Some(wall) = wall(head_tube, level.unwrap_or(z)) {
            least = least.min(wall - distance);
        }
    };
    for [(from, a), (to, b)] in solid.pieces(head_tube.length()) {
        let low = from.max(solid.below - head_tube.length());
        let high = to.min(solid.below + 2.0 * head_tube.length());
        let radius = |s: f64| if to > from { a + (b - a) * (s - from) / (to - from) } else { a };
        // Where the circle at the end of a piece passes a corner of the tube.
        for &(level, _) in head_tube.stretches().iter().flat_map(|stretch| stretch.points()) {
            for (s, radius) in [(from, a), (to, b)] {
                let phi = ((solid.at(s, 0.0, 0.0).0 - level) / (radius * solid.axis[0])).acos();
                if phi.is_finite() {
                    look(s, radius, phi, Some(level));
                }
            }
        }
        for turn in 0..AROUND {
            let phi = 2.0 * PI * f64::from(turn) / f64::from(AROUND);
            look(from, a, phi, None);
            look(to, b, phi, None);
            let mut s = low;
            while s < high {
                look(s, radius(s), phi, None);
                s += step;
            }
            if from < to {
                for &(level, _) in head_tube.stretches().iter().flat_map(|stretch| stretch.points()) {
                    let ((z_from, _), (z_to, _)) = (solid.at(from, a, phi), solid.at(to, b, phi));
                    let share = (level - z_from) / (z_to - z_from);
                    if (0.0..=1.0).contains(&share) {
                        let s = from + share * (to - from);
                        look(s, radius(s), phi, Some(level));
                    }
                }
            }
        }
    }
    least
}

/// The error of a ring of `AROUND` directions: between two of them the distance changes by less than (|x| + r sin^2 t)
/// (half a step)^2 / 2, under 4 mm times 9.5e-6.
const RING: f64 = 4e-5;

fn compare(head_tube: &HeadTube, steerer: &Steerer, offsets: Offsets, step: f64) -> (Clearance, f64) {
    let model = clearance(head_tube, steerer, &offsets, 0.5).unwrap();
    let solid = least_gap(head_tube, steerer, offsets, step);
    (model, solid)
}

fn tube(length: f64, points: &[(f64, f64)]) -> HeadTube {
    HeadTube::new(length, vec![Profile::new(points.to_vec()).unwrap()]).unwrap()
}

/// A head tube of 112 mm with drop-in seats and a long taper in it, tilted by 1, 2 and 3 degrees in either direction.
#[test]
fn a_usual_assembly() {
    let profile = Profile::new(vec![(12.0, 19.9), (62.0, 14.3)]).unwrap();
    let steerer = Steerer::new(profile, 8.0).unwrap();
    let head_tube = tube(
        112.0,
        &[
            (0.0, 26.0),
            (9.0, 26.0),
            (9.0, 22.0),
            (14.0, 22.0),
            (98.0, 17.0),
            (104.0, 17.0),
            (104.0, 21.0),
            (112.0, 21.0),
        ],
    );
    for tilt in [-3.0, -2.0, -1.0, 1.0, 2.0, 3.0] {
        let offsets = Offsets::for_tilt(tilt, 112.0, 4.0, 3.0).unwrap();
        let (model, solid) = compare(&head_tube, &steerer, offsets, 0.25);
        assert!(model.least <= solid + 1e-9, "{tilt}: {} over {solid}", model.least);
        assert!(solid - model.least < RING, "{tilt}: {} under {solid}", model.least);
    }
}

/// A throat's edge half way up a taper of 5.6 mm in 50: the short form R - |x| - r / cos t, taken at the axis's height,
/// is 0.08 mm too generous at 2 degrees; this model and the solid agree.
#[test]
fn the_taper_is_taken_at_its_edge() {
    let profile = Profile::new(vec![(12.0, 19.9), (62.0, 14.3)]).unwrap();
    let steerer = Steerer::new(profile, 8.0).unwrap();
    let head_tube = tube(112.0, &[(20.0, 22.0), (21.0, 22.0)]);
    let offsets = Offsets::for_tilt(2.0, 112.0, 0.0, 0.0).unwrap();
    let (model, solid) = compare(&head_tube, &steerer, offsets, 0.25);
    assert!((model.least - solid).abs() < RING);
    let (tan, cos) = (2f64.to_radians().tan(), 2f64.to_radians().cos());
    let radius = 19.9 - 5.6 / 50.0 * (20.0 / cos + 8.0 - 12.0);
    let short = 22.0 - (offsets.lower - 20.0 * tan).abs() - radius / cos;
    assert!((0.06..0.09).contains(&(short - model.least)), "{}", short - model.least);
}

/// The steerer's slope changes where both axes cross: points outside the side view stand out by up to r (1 - cos t),
/// here 18 (1 - cos 3 deg) = 0.0247 mm, and are not missed.
#[test]
fn the_crossing_of_both_axes() {
    let offsets = Offsets::for_tilt(3.0, 100.0, 0.0, 0.0).unwrap();
    for shift in [-0.2, -0.05, 0.0, 0.02, 0.1, 0.6] {
        // Crossing at s = 60 for a crown race seat 10 mm down, up to 0.07 mm for the slant.
        let profile = Profile::new(vec![(20.0, 15.0), (60.07 + shift, 18.0), (100.0, 15.0)]).unwrap();
        let steerer = Steerer::new(profile, 10.0).unwrap();
        let head_tube = tube(100.0, &[(0.0, 20.0), (100.0, 20.0)]);
        let (model, solid) = compare(&head_tube, &steerer, offsets, 0.25);
        // The model looks in 33 directions, the solid in 720: r sin^2 t / 2 (1/32)^2 is 2.5e-5.
        assert!((model.least - solid).abs() < 4e-5, "{shift}: {} against {solid}", model.least);
        if shift.abs() < 0.01 {
            // R - r: the whole circle's width, not R - r cos t.
            assert!((model.least - 2.0).abs() < 1e-3);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Random profiles of tube and steerer, steps included: the side view and the solid agree.
    #[test]
    fn random_profiles(
        length in 80.0..160.0f64,
        tube_heights in proptest::collection::vec(0.0..1.0f64, 6),
        tube_radii in proptest::collection::vec(17.0..26.0f64, 6),
        steerer_heights in proptest::collection::vec(0.0..140.0f64, 4),
        steerer_radii in proptest::collection::vec(12.7..20.0f64, 4),
        lower_stack in 0.0..20.0f64,
        planes in (-8.0..10.0f64, -8.0..10.0f64),
        offset in (-3.0..3.0f64, -3.0..3.0f64),
        step_at in 0..5usize,
    ) {
        let mut heights = tube_heights;
        heights.sort_by(f64::total_cmp);
        heights[step_at + 1] = heights[step_at];
        let points = heights.iter().map(|height| height * length).zip(tube_radii).collect::<Vec<_>>();
        prop_assume!(points.windows(3).all(|three| three[2].0 > three[0].0));
        let mut places = steerer_heights;
        places.sort_by(f64::total_cmp);
        let steerer =
            Steerer::new(Profile::new(places.into_iter().zip(steerer_radii).collect()).unwrap(), lower_stack).unwrap();
        let offsets = Offsets { upper_plane: planes.0, lower_plane: planes.1, upper: offset.0, lower: offset.1 };
        let (model, solid) = compare(&tube(length, &points), &steerer, offsets, 1.0);
        // 33 directions all round, tilts of up to 4.5 degrees: r sin^2 t / 2 (1/32)^2 is 6e-5.
        prop_assert!(model.least <= solid + 1e-4, "{} over {}", model.least, solid);
        // Horizontal cuts, circles and their crossings are exact; the remaining error is that of the ring's directions,
        // on pieces of random steepness.
        prop_assert!(solid - model.least < 1e-3, "{} under {}", model.least, solid);
    }
}
