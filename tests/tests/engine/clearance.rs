//! Clearance of the tilted steerer, compared with numbers computed by hand and the properties it must have.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at what is not there")]

use proptest::prelude::*;
use steerwright_core::clearance::{
    Clearance, ClearanceError, EndParts, HeadTube, HeadTubeParts, Profile, Relief, Side, Steerer,
    SteererParts, clearance, clearance_at, measured_clearance, rim_per_tenth_degree, throat_needed, turned,
};
use steerwright_core::headset::End;
use steerwright_core::quantity::{Estimate, Quantity};
use steerwright_core::tilt::Offsets;
use steerwright_tests::monte_carlo::{Distribution, monte_carlo};

/// 3 mm between the ends of a head tube of 100 mm: tan t = 0.03, sin t = 0.0299865, cos t = 0.9995503.
const THREE_IN_A_HUNDRED: Offsets = Offsets { upper_plane: 0.0, lower_plane: 0.0, upper: -1.5, lower: 1.5 };

fn end(throat: f64, depth: f64) -> EndParts {
    EndParts {
        throat_diameter: Some(Estimate::exact(throat)),
        throat_depth: Some(Estimate::exact(depth)),
        ..EndParts::default()
    }
}

/// 100 mm long, throats of 44 and 34 mm ten deep.
fn two_throats() -> HeadTubeParts {
    HeadTubeParts {
        length: Estimate::exact(100.0),
        lower: end(44.0, 10.0),
        upper: end(34.0, 10.0),
        inside_diameter: None,
    }
}

fn straight(diameter: f64) -> SteererParts {
    SteererParts {
        lower_diameter: Estimate::exact(diameter),
        upper_diameter: Estimate::exact(diameter),
        taper_start: None,
        taper_end: None,
        lower_stack: Estimate::exact(10.0),
    }
}

fn straight_room(offsets: &Offsets) -> Clearance {
    let head_tube = HeadTube::from_parts(&two_throats()).unwrap();
    clearance(&head_tube, &Steerer::from_parts(&straight(28.6)).unwrap(), offsets, 0.5).unwrap()
}

/// By hand: r / cos t = 14.3 sqrt(1.0009) = 14.3064336. At z = 10 the axis is 1.2 forward: clearance 22 - 15.5064336 =
/// 6.4935664 in front; at z = 90 it is 1.2 back: 17 - 15.5064336 = 1.4935664 behind, the least.
#[test]
fn a_straight_steerer_by_hand() {
    let it = straight_room(&THREE_IN_A_HUNDRED);
    assert!((it.least - 1.493_566_4).abs() < 5e-8, "{}", it.least);
    assert!((it.at_z - 90.0).abs() < 1e-12);
    assert_eq!((it.side, it.end), (Side::Rear, End::Upper));
    assert!(it.relieve_mm.abs() < 1e-12);
    // 2 (15.5064336 + 0.5)
    assert!((it.bore_to_mm - 32.012_867_2).abs() < 1e-7);
    let at = |z: f64, side| {
        it.corners.iter().find(|it| (it.z - z).abs() < 1e-12 && it.side == side).unwrap().clearance
    };
    assert!((at(10.0, Side::Front) - 6.493_566_4).abs() < 5e-8);
    // On the other side there is 2 x 1.2 more.
    assert!((at(10.0, Side::Rear) - 8.893_566_4).abs() < 5e-8);
    assert!((at(90.0, Side::Front) - 3.893_566_4).abs() < 5e-8);
    assert_eq!(it.corners.len(), 4);
}

/// With the kit rotated by 180 degrees, front and rear are exchanged and nothing else changes.
#[test]
fn steepening_mirrors_it() {
    let it = straight_room(&THREE_IN_A_HUNDRED.mirrored());
    assert!((it.least - 1.493_566_4).abs() < 5e-8);
    assert_eq!((it.side, it.end), (Side::Front, End::Upper));
}

/// A taper from radius 20 at s = 40 to 14 at s = 100, crown race seat 10 below the face, falls by 0.1 a mm. The front
/// edge at height z belongs to s - 10 = (z - 23 sin t) / (cos t - 0.1 sin t): for z = 40 that is 39.446335, and the
/// edge reaches 1.5 - 39.446335 sin t + (23 - 3.9446335) cos t = 19.363939 forward. Taken at the axis's own height, the
/// short form gives |1.5 - 1.2| + (23 - 4 / cos t) / cos t = 19.306748: 0.057 mm too little.
#[test]
fn a_taper_reaches_further_than_the_short_form_says() {
    let profile = Profile::new(vec![(40.0, 20.0), (100.0, 14.0)]).unwrap();
    let steerer = Steerer::new(profile, 10.0).unwrap();
    let head_tube =
        HeadTube::new(100.0, vec![Profile::new(vec![(40.0, 22.0), (60.0, 22.0)]).unwrap()]).unwrap();
    let at = clearance_at(&head_tube, &steerer, &THREE_IN_A_HUNDRED, 40.0).unwrap().unwrap();
    assert!((22.0 - at.front - 19.363_939).abs() < 6e-7, "{}", at.front);
    assert!(22.0 - at.front - 19.306_748 > 0.057);
    assert_eq!(clearance_at(&head_tube, &steerer, &THREE_IN_A_HUNDRED, 70.0).unwrap(), None);
}

/// The throats of the straight steerer by hand: 2 (1.2 + 14.3064336 + 0.5) = 32.0128672 ten deep, and 32.6128672 at the
/// face, where the axis is 1.5 off.
#[test]
fn the_throat_a_steerer_needs() {
    let steerer = Steerer::from_parts(&straight(28.6)).unwrap();
    for (place, side) in [(End::Upper, Side::Rear), (End::Lower, Side::Front)] {
        let needed =
            |depths| throat_needed(place, 100.0, &steerer, &THREE_IN_A_HUNDRED, depths, 0.5).unwrap();
        assert!((needed([10.0, 10.0]).diameter_mm - 32.012_867_2).abs() < 1e-7);
        assert!((needed([0.0, 10.0]).diameter_mm - 32.612_867_2).abs() < 1e-7);
        assert_eq!(needed([10.0, 10.0]).side, side);
    }
}

/// From 32.6 to 34 on one side only: 0.7 mm off the rear wall above, off the front wall below; rotated by 180 degrees,
/// the converse.
#[test]
fn work_lies_where_the_steerer_goes() {
    let offsets = THREE_IN_A_HUNDRED;
    let relief = |end, offsets: &Offsets| Relief::new(end, 32.6, 34.0, offsets).unwrap().unwrap();
    let upper = relief(End::Upper, &offsets);
    assert!((upper.remove_mm - 0.7).abs() < 1e-12);
    assert_eq!(upper.side, Side::Rear);
    assert_eq!(relief(End::Lower, &offsets).side, Side::Front);
    assert_eq!(relief(End::Upper, &offsets.mirrored()).side, Side::Front);
    assert_eq!(relief(End::Lower, &offsets.mirrored()).side, Side::Rear);
    // All the offset at the lower end: above, the tilt alone determines the side.
    let below = Offsets { upper: 0.0, lower: 3.0, ..offsets };
    assert_eq!(relief(End::Upper, &below).side, Side::Rear);
    assert_eq!(Relief::new(End::Upper, 34.0, 34.0, &offsets).unwrap(), None);
}

/// Shares: half of u(throat) 0.025; half of u(steerer) 0.025 over cos t; u(depth) 0.25 times tan t; and u(length) 0.25
/// times (the axis's shift d E / L^2 = 0.003 less 14.3 sin t tan t / L = 0.0001286 by which r / cos t shrinks). The
/// root of 0.0125^2 + 0.0125056^2 + 0.0075^2 + 0.0007178^2 is 0.0192199.
#[test]
fn uncertainty_by_hand() {
    let mut head_tube = two_throats();
    head_tube.length.u = 0.25;
    head_tube.upper.throat_diameter = Some(Estimate::new(34.0, 0.025));
    head_tube.upper.throat_depth = Some(Estimate::new(10.0, 0.25));
    let mut steerer = straight(28.6);
    steerer.lower_diameter.u = 0.025;
    steerer.upper_diameter.u = 0.025;
    steerer.taper_start = Some(Estimate::exact(0.0));
    steerer.taper_end = Some(Estimate::exact(1.0));
    let it = measured_clearance(&head_tube, &steerer, &THREE_IN_A_HUNDRED, 0.5).unwrap();
    assert!((it.least.value - 1.493_566_4).abs() < 5e-8);
    assert!((it.least.u - 0.019_219_9).abs() < 5e-8, "{}", it.least.u);
}

/// The stated u compared with random draws of all readings: the root mean square error of the reported clearance, with
/// one position of least clearance and with two that tie, where the clearance itself is most often less than reported.
/// Of 40,000 draws the root mean square is known to 0.4 % (one standard deviation); nonlinearity and kinks may add 1 %.
#[test]
fn uncertainty_against_random_draws() {
    // Throats of 34 mm at both ends tie; with 44 mm below, the upper one alone decides.
    for lower_throat in [44.0, 34.0] {
        let steerer = straight(28.6);
        let values = [100.0, 34.0, lower_throat, 10.0, 10.0, 28.6];
        let us = [0.25, 0.025, 0.025, 0.25, 0.25, 0.025];
        let parts = |at: &[f64], us: &[f64]| {
            let it = |index: usize| Some(Estimate::new(at[index], us[index]));
            let part = |throat, depth| EndParts {
                throat_diameter: it(throat),
                throat_depth: it(depth),
                ..EndParts::default()
            };
            let head_tube = HeadTubeParts {
                length: it(0).unwrap(),
                upper: part(1, 3),
                lower: part(2, 4),
                inside_diameter: None,
            };
            // One and the same reading of a straight steerer: all of it is below the taper's end.
            let thickness = it(5).unwrap();
            let taper = Some(Estimate::exact(200.0));
            (
                head_tube,
                SteererParts { lower_diameter: thickness, taper_start: taper, taper_end: taper, ..steerer },
            )
        };
        let (head_tube, bar) = parts(&values, &us);
        let stated = measured_clearance(&head_tube, &bar, &THREE_IN_A_HUNDRED, 0.5).unwrap().least;
        let inputs: Vec<_> =
            values.iter().zip(us).map(|(&mean, sd)| Distribution::Normal { mean, sd }).collect();
        let drawn = monte_carlo(&inputs, 40_000, 12, |at| {
            let (head_tube, bar) = parts(at, &[0.0; 6]);
            least(&head_tube, &bar, &THREE_IN_A_HUNDRED).least
        });
        let off = drawn.u.hypot(drawn.mean - stated.value);
        assert!((stated.u / off - 1.0).abs() < 0.02, "{lower_throat}: stated {}, drawn {off}", stated.u);
        let tied = lower_throat < 40.0;
        // Two throats that tie: the lesser of two is lower by about 0.5 of their difference.
        assert_eq!(drawn.mean < stated.value - 0.2 * stated.u, tied);
    }
}

/// By hand: with 1.5 degrees and a rim of 50 mm, sin psi = sin 0.1 / sin 1.5 = 0.0666743, psi = 3.822989 deg, rim
/// 1.668094 mm. Ten degrees off: in line 1.477222, lean 0.260443 deg (small angles: 1.477212 and 0.260472).
#[test]
fn turning_error_by_hand() {
    assert!((rim_per_tenth_degree(50.0, 1.5).unwrap() - 1.668_094).abs() < 5e-7);
    assert!((rim_per_tenth_degree(56.0, 2.0).unwrap() - 1.400_868).abs() < 5e-7);
    let it = turned(1.5, 10.0).unwrap();
    assert!((it.in_line_deg - 1.477_222).abs() < 5e-7 && (it.lean_deg - 0.260_443).abs() < 5e-7);
    let off = (1.668_093_687_8f64 / 25.0).to_degrees();
    assert!((turned(1.5, off).unwrap().lean_deg - 0.1).abs() < 1e-10);
    assert!(matches!(rim_per_tenth_degree(50.0, 0.05), Err(ClearanceError::Lean { .. })));
    assert!(matches!(rim_per_tenth_degree(50.0, 0.0), Err(ClearanceError::Lean { .. })));
    // Rotated by 180 degrees: it steepens instead.
    let reversed = turned(1.5, 180.0).unwrap();
    assert!((reversed.in_line_deg + 1.5).abs() < 1e-12 && reversed.lean_deg.abs() < 1e-12);
}

/// The profile from the measurements of an end: bore, cone to the throat if it is deeper, the throat over its length,
/// and nothing where nothing is known.
#[test]
fn head_tubes_from_what_was_measured() {
    let some = |value| Some(Estimate::exact(value));
    let lower = EndParts {
        bore_diameter: some(52.0),
        bore_depth: some(9.0),
        throat_diameter: some(44.0),
        throat_depth: some(12.0),
        throat_length: some(5.0),
    };
    let upper = EndParts {
        bore_diameter: some(42.0),
        bore_depth: some(8.0),
        throat_diameter: some(34.0),
        ..EndParts::default()
    };
    let parts = HeadTubeParts { length: Estimate::exact(110.0), lower, upper, inside_diameter: some(46.0) };
    let head_tube = HeadTube::from_parts(&parts).unwrap();
    let points: Vec<_> = head_tube.stretches().iter().map(|stretch| stretch.points().to_vec()).collect();
    assert_eq!(
        points,
        [
            vec![(0.0, 26.0), (9.0, 26.0), (12.0, 22.0), (17.0, 22.0)],
            vec![(17.0, 23.0), (102.0, 23.0)],
            vec![(102.0, 17.0), (102.0, 21.0), (110.0, 21.0)],
        ]
    );
    assert_eq!(head_tube.narrowest_at(102.0), Some(17.0));
    // A cone loses 4 mm of radius in 3 mm of depth.
    assert!((head_tube.narrowest_at(10.5).unwrap() - 24.0).abs() < 1e-12);
    let without = HeadTube::from_parts(&HeadTubeParts { inside_diameter: None, ..parts }).unwrap();
    assert_eq!(without.narrowest_at(50.0), None);
    // A throat of unknown depth is assumed at the face, where it matters most.
    let shallow = HeadTubeParts { upper: EndParts { bore_depth: None, ..upper }, ..parts };
    assert_eq!(HeadTube::from_parts(&shallow).unwrap().narrowest_at(110.0), Some(17.0));
}

#[test]
fn what_makes_no_sense_is_refused_with_its_reason() {
    let nothing = HeadTubeParts {
        length: Estimate::exact(110.0),
        lower: EndParts::default(),
        upper: EndParts::default(),
        inside_diameter: None,
    };
    assert_eq!(
        HeadTube::from_parts(&nothing),
        Err(ClearanceError::Missing(vec![Quantity::UpperThroatDiameter, Quantity::LowerThroatDiameter]))
    );
    let deep = HeadTubeParts { lower: end(44.0, 60.0), upper: end(34.0, 60.0), ..nothing };
    assert_eq!(HeadTube::from_parts(&deep), Err(ClearanceError::Depth { reach: 120.0, length: 110.0 }));
    let tapered = SteererParts { upper_diameter: Estimate::exact(28.6), ..straight(39.8) };
    assert_eq!(
        Steerer::from_parts(&tapered),
        Err(ClearanceError::Missing(vec![Quantity::SteererTaperStart, Quantity::SteererTaperEnd]))
    );
    assert_eq!(Profile::new(vec![(1.0, 20.0), (0.0, 20.0)]), Err(ClearanceError::Order));
    assert_eq!(Profile::new(vec![(1.0, 20.0); 3]), Err(ClearanceError::Order));
    assert_eq!(Profile::new(Vec::new()), Err(ClearanceError::Order));
    assert_eq!(
        Profile::new(vec![(1.0, 0.0)]),
        Err(ClearanceError::NotPositive { what: "a radius", value: 0.0 })
    );
}

prop_compose! {
    /// A tapered steerer, a measured head tube and a kit, all of plausible size.
    fn assembly()(
        length in 90.0..160.0f64,
        bores in (44.0..56.0f64, 38.0..50.0f64),
        throats in (36.0..46.0f64, 28.0..40.0f64),
        depths in (0.0..25.0f64, 0.0..25.0f64),
        more in (0.0..8.0f64, 0.0..8.0f64),
        inside in proptest::option::of(36.0..46.0f64),
        thickness in (33.0..40.0f64, 25.4..31.8f64),
        taper in (0.0..60.0f64, 0.0..90.0f64),
        lower_stack in 2.0..20.0f64,
        planes in (-8.0..10.0f64, -8.0..10.0f64),
        offset in (-3.0..1.0f64, -1.0..3.0f64),
    ) -> (HeadTubeParts, SteererParts, Offsets) {
        let some = |value| Some(Estimate::exact(value));
        let end = |bore, throat, depth, more| EndParts {
            bore_diameter: some(bore),
            bore_depth: some(depth),
            throat_diameter: some(throat),
            throat_depth: some(depth + more),
            throat_length: some(more / 2.0),
        };
        let head_tube = HeadTubeParts {
            length: Estimate::exact(length),
            lower: end(bores.0, throats.0, depths.0, more.0),
            upper: end(bores.1, throats.1, depths.1, more.1),
            inside_diameter: inside.map(Estimate::exact),
        };
        let steerer = SteererParts {
            lower_diameter: Estimate::exact(thickness.0),
            upper_diameter: Estimate::exact(thickness.1),
            taper_start: some(taper.0),
            taper_end: some(taper.0 + taper.1),
            lower_stack: Estimate::exact(lower_stack),
        };
        let offsets =
            Offsets { upper_plane: planes.0, lower_plane: planes.1, upper: offset.0, lower: offset.1 };
        (head_tube, steerer, offsets)
    }
}

fn least(head_tube: &HeadTubeParts, steerer: &SteererParts, offsets: &Offsets) -> Clearance {
    let (head_tube, steerer) = (HeadTube::from_parts(head_tube), Steerer::from_parts(steerer));
    clearance(&head_tube.unwrap(), &steerer.unwrap(), offsets, 0.5).unwrap()
}

fn wider(estimate: &mut Option<Estimate>, by: f64) {
    if let Some(estimate) = estimate {
        estimate.value += by;
    }
}

proptest! {
    /// Rotated by 180 degrees: the same clearance at the same heights, front and rear exchanged.
    #[test]
    fn mirrored((head_tube, steerer, offsets) in assembly()) {
        let (slack, steep) = (least(&head_tube, &steerer, &offsets), least(&head_tube, &steerer, &offsets.mirrored()));
        prop_assert!((slack.least - steep.least).abs() < 1e-12);
        prop_assert!((slack.bore_to_mm - steep.bore_to_mm).abs() < 1e-12);
        let mut swapped: Vec<_> = steep.corners.iter().map(|it| (it.z, it.side == Side::Front, it.clearance)).collect();
        let mut own: Vec<_> = slack.corners.iter().map(|it| (it.z, it.side == Side::Rear, it.clearance)).collect();
        let order = |a: &(f64, bool, f64), b: &(f64, bool, f64)| {
            a.1.cmp(&b.1).then(a.0.total_cmp(&b.0)).then(a.2.total_cmp(&b.2))
        };
        swapped.sort_by(order);
        own.sort_by(order);
        prop_assert_eq!(swapped.len(), own.len());
        for (a, b) in swapped.iter().zip(&own) {
            prop_assert!((a.0 - b.0).abs() < 1e-9 && (a.2 - b.2).abs() < 1e-9);
        }
    }

    /// A thicker steerer never has more clearance, a wider tube never less.
    #[test]
    fn monotone((head_tube, steerer, offsets) in assembly(), by in 0.0..2.0f64, which in 0..5usize) {
        let before = least(&head_tube, &steerer, &offsets).least;
        let thicker = SteererParts {
            lower_diameter: Estimate::exact(steerer.lower_diameter.value + by),
            upper_diameter: Estimate::exact(steerer.upper_diameter.value + by),
            ..steerer
        };
        prop_assert!(least(&head_tube, &thicker, &offsets).least <= before + 1e-12);
        let mut opened = head_tube;
        let each = [
            &mut opened.lower.bore_diameter, &mut opened.lower.throat_diameter, &mut opened.upper.bore_diameter,
            &mut opened.upper.throat_diameter, &mut opened.inside_diameter,
        ];
        for (place, diameter) in each.into_iter().enumerate() {
            if which == place {
                wider(diameter, by);
            }
        }
        prop_assert!(least(&opened, &steerer, &offsets).least >= before - 1e-12);
    }

    /// No tilt and no offset: the clearance is the same on both sides, the least difference of the radii.
    #[test]
    fn concentric_without_tilt((head_tube, steerer, offsets) in assembly()) {
        let plain = Offsets { upper: 0.0, lower: 0.0, ..offsets };
        let tube = HeadTube::from_parts(&head_tube).unwrap();
        let bar = Steerer::from_parts(&steerer).unwrap();
        let it = clearance(&tube, &bar, &plain, 0.5).unwrap();
        let radius = |s: f64| {
            let (start, end) = (steerer.taper_start.unwrap().value, steerer.taper_end.unwrap().value);
            let (low, high) = (steerer.lower_diameter.value / 2.0, steerer.upper_diameter.value / 2.0);
            if s <= start { low } else if s >= end { high } else { low + (high - low) * (s - start) / (end - start) }
        };
        for corner in &it.corners {
            let expected = radius(corner.z + steerer.lower_stack.value);
            let known = tube.narrowest_at(corner.z).unwrap();
            // A step has two radii, the wider of which may be the neighbouring stretch's.
            prop_assert!(corner.clearance >= known - expected - 1e-9);
        }
        let least = it.corners.iter().map(|it| tube.narrowest_at(it.z).unwrap() - radius(it.z + steerer.lower_stack.value));
        prop_assert!((it.least - least.fold(f64::INFINITY, f64::min)).abs() < 1e-9);
        for z in [0.0, head_tube.length.value / 3.0, head_tube.length.value] {
            if let Some(at) = clearance_at(&tube, &bar, &plain, z).unwrap() {
                prop_assert!((at.front - at.rear).abs() < 1e-9);
            }
        }
    }

    /// Nowhere is the clearance less than the least, and it is reached at its position on its side.
    #[test]
    fn the_least_is_the_least((head_tube, steerer, offsets) in assembly(), at in 0.0..1.0f64) {
        let tube = HeadTube::from_parts(&head_tube).unwrap();
        let bar = Steerer::from_parts(&steerer).unwrap();
        let it = clearance(&tube, &bar, &offsets, 0.5).unwrap();
        if let Some(there) = clearance_at(&tube, &bar, &offsets, at * head_tube.length.value).unwrap() {
            prop_assert!(there.front >= it.least - 1e-9 && there.rear >= it.least - 1e-9);
        }
        let there = clearance_at(&tube, &bar, &offsets, it.at_z).unwrap().unwrap();
        let own = if it.side == Side::Front { there.front } else { there.rear };
        // Only where both axes cross may a point outside the side view have less: r (1 - cos t), plus the change of the
        // taper over r sin t, by which that point's height differs from the edge's.
        let (thick, thin) = (steerer.lower_diameter.value / 2.0, steerer.upper_diameter.value / 2.0);
        let slope = (thick - thin) / (steerer.taper_end.unwrap().value - steerer.taper_start.unwrap().value);
        let tilt = offsets.tilt_deg(head_tube.length.value).unwrap().to_radians().abs();
        let beside = 20.0 * (1.0 - tilt.cos()) + 20.0 * tilt.sin() * slope;
        prop_assert!(own - it.least >= -1e-9);
        // A taper of zero length is a step, which may lose all of it.
        prop_assert!(slope.is_infinite() || slope.is_nan() || own - it.least < beside + 1e-9);
    }

    /// A plain tube bored to the diameter that the whole steerer needs has exactly the running clearance left.
    #[test]
    fn boring_to_what_is_needed_leaves_the_clearance((head_tube, steerer, offsets) in assembly(), gap in 0.0..2.0f64) {
        let length = head_tube.length.value;
        let bar = Steerer::from_parts(&steerer).unwrap();
        for end in End::BOTH {
            let needed = throat_needed(end, length, &bar, &offsets, [0.0, length], gap).unwrap();
            let radius = needed.diameter_mm / 2.0;
            let tube = HeadTube::new(length, vec![Profile::new(vec![(0.0, radius), (length, radius)]).unwrap()]).unwrap();
            let it = clearance(&tube, &bar, &offsets, gap).unwrap();
            prop_assert!((it.least - gap).abs() < 1e-9);
            prop_assert_eq!(it.side, needed.side);
            prop_assert!((it.bore_to_mm - needed.diameter_mm).abs() < 1e-9);
        }
    }

    /// Cups rotated by psi: the axis keeps its total tilt, cos t = cos(lean) cos(in line), and never tilts more in line
    /// or sideways than that.
    #[test]
    fn turning_keeps_the_whole_tilt(tilt in 0.0..5.0f64, off in -180.0..180.0f64) {
        let it = turned(tilt, off).unwrap();
        let whole = it.lean_deg.to_radians().cos() * it.in_line_deg.to_radians().cos();
        prop_assert!((whole - tilt.to_radians().cos()).abs() < 1e-12);
        prop_assert!(it.lean_deg.abs() <= tilt + 1e-12 && it.in_line_deg.abs() <= tilt + 1e-12);
        // Small angles: third order in the tilt.
        let first = (tilt * off.to_radians().cos(), tilt * off.to_radians().sin());
        let third = tilt.to_radians().powi(3).to_degrees();
        prop_assert!((it.in_line_deg - first.0).abs() <= third && (it.lean_deg - first.1).abs() <= third);
    }

    /// Arbitrary bits give a finite answer or a reason.
    #[test]
    fn nothing_panics(
        numbers in any::<[f64; 9]>(), offsets in any::<[f64; 4]>(), u in any::<f64>(), clearance in any::<f64>(),
    ) {
        let [length, bore, depth, throat, inside, thick, thin, start, end] = numbers;
        let [upper_plane, lower_plane, upper, lower] = offsets;
        let offsets = Offsets { upper_plane, lower_plane, upper, lower };
        let estimate = |value| Estimate::new(value, u);
        let part = EndParts {
            bore_diameter: Some(estimate(bore)),
            bore_depth: Some(estimate(depth)),
            throat_diameter: Some(estimate(throat)),
            throat_depth: None,
            throat_length: None,
        };
        let head_tube = HeadTubeParts {
            length: estimate(length), lower: part, upper: part, inside_diameter: Some(estimate(inside)),
        };
        let steerer = SteererParts {
            lower_diameter: estimate(thick), upper_diameter: estimate(thin), taper_start: Some(estimate(start)),
            taper_end: Some(estimate(end)), lower_stack: estimate(start),
        };
        if let Ok(it) = measured_clearance(&head_tube, &steerer, &offsets, clearance) {
            prop_assert!(it.least.is_sound());
        }
        if let Ok(steerer) = Steerer::from_parts(&steerer)
            && let Ok(it) = throat_needed(End::Upper, length, &steerer, &offsets, [depth, end], clearance)
        {
            prop_assert!(it.diameter_mm.is_finite());
        }
        if let Ok(mm) = rim_per_tenth_degree(bore, thin) {
            prop_assert!(mm.is_finite());
        }
    }
}
