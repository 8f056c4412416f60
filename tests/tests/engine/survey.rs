//! What readings determine of a side view, compared with SciPy and with hand computation.

use serde::Deserialize;
use steerwright_core::geometry::{
    Bicycle, Change, Figure, Offsets, Statement, Survey, UncertainChange, UncertainKit, survey,
};
use steerwright_core::quantity::{Estimate, Quantity};

/// A bike of ordinary size, for tests that need some numbers where the reference states none.
const ORDINARY: Bicycle = Bicycle {
    wheelbase: 1220.0,
    head_angle: 66.0,
    axle_to_crown: 555.0,
    fork_offset: 44.0,
    lower_stack: 12.0,
    head_tube_length: 115.0,
    front_radius: 372.0,
    rear_radius: 372.0,
    chainstay: 435.0,
    bottom_bracket_height: 340.0,
    seat_angle: 76.0,
};

#[track_caller]
fn close(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value}, not {expected} within {tolerance:e}");
}

#[derive(Deserialize)]
struct Oracle {
    change: Kit,
    sheets: Vec<Sheet>,
}

#[derive(Deserialize)]
struct Kit {
    kit: [f64; 4],
    lower_stack: f64,
    fork_offset: f64,
}

#[derive(Deserialize)]
struct Sheet {
    readings: Vec<Reading>,
    bicycle: Bicycle,
    bicycle_u: [f64; 11],
    chi_square: f64,
    degrees_of_freedom: usize,
    probability: Option<f64>,
    normalised: Vec<Option<f64>>,
    results: [f64; 32],
    results_u: [f64; 32],
}

#[derive(Deserialize)]
struct Reading {
    what: Quantity,
    value: f64,
    u: f64,
}

fn oracle() -> Oracle {
    serde_json::from_str(include_str!("../../data/oracle/geometry.json")).unwrap()
}

fn offsets([upper_plane, lower_plane, upper, lower]: [f64; 4]) -> Offsets {
    Offsets { upper_plane, lower_plane, upper, lower }
}

fn surveyed(sheet: &Sheet) -> Survey {
    let readings: Vec<_> = sheet.readings.iter().map(|r| Statement::new(r.what, r.value, r.u)).collect();
    survey(&readings)
}

fn numbers(b: &Bicycle) -> [f64; 11] {
    [
        b.wheelbase,
        b.head_angle,
        b.axle_to_crown,
        b.fork_offset,
        b.lower_stack,
        b.head_tube_length,
        b.front_radius,
        b.rear_radius,
        b.chainstay,
        b.bottom_bracket_height,
        b.seat_angle,
    ]
}

/// Over-determined sheets against SciPy's `least_squares` with derivatives from complex steps.
#[test]
fn reconciliation_agrees_with_scipy() {
    let oracle = oracle();
    let change: UncertainChange = Change {
        kit: Some(offsets(oracle.change.kit)),
        lower_stack: Some(oracle.change.lower_stack),
        fork_offset: Some(oracle.change.fork_offset),
        ..Change::default()
    }
    .into();
    assert!(oracle.sheets.len() >= 20);
    for sheet in &oracle.sheets {
        let found = surveyed(sheet);
        assert_eq!(found.degrees_of_freedom(), sheet.degrees_of_freedom);
        close(found.chi_square().unwrap(), sheet.chi_square, 1e-9 * (1.0 + sheet.chi_square));
        match (found.probability(), sheet.probability) {
            (Some(found), Some(expected)) => close(found, expected, 1e-9 * expected),
            (found, expected) => assert_eq!(found, expected),
        }
        // A nanometre: both iterate to their own rounding.
        let bicycle = found.bicycle().unwrap();
        for (found, expected) in numbers(&bicycle).into_iter().zip(numbers(&sheet.bicycle)) {
            close(found, expected, 1e-7);
        }
        for (residual, expected) in found.residuals().iter().zip(&sheet.normalised) {
            match (residual.normalised, expected) {
                (Some(found), Some(expected)) => close(found, *expected, 1e-6),
                (found, expected) => assert_eq!(found.is_some(), expected.is_some(), "{residual:?}"),
            }
        }
        let birge = found.birge_ratio();
        close(
            birge,
            (sheet.chi_square / sheet.degrees_of_freedom.max(1) as f64).sqrt().max(1.0),
            1e-9 * birge,
        );
        let comparison = found.compare(&change).unwrap();
        let outlooks = [&comparison.before, &comparison.after, &comparison.difference];
        let figures =
            outlooks.iter().flat_map(|outlook| Figure::ALL.map(|figure| outlook.get(figure).unwrap()));
        let turns = [comparison.tilt_deg.unwrap(), comparison.pitch_deg.unwrap()];
        let expected = sheet.results.iter().zip(sheet.results_u);
        let mut compared = 0;
        for (found, (value, u)) in figures.chain(turns).zip(expected) {
            close(found.value, *value, 1e-7);
            close(found.u, u * birge, 1e-7 * (u * birge) + 1e-9);
            compared += 1;
        }
        assert_eq!(compared, 32);
        assert!(comparison.before.missing.is_empty() && comparison.after.missing.is_empty());
        // Direct figures carry the unknown's own u.
        let head = comparison.before.get(Figure::HeadAngle).unwrap();
        close(head.u, sheet.bicycle_u[1] * birge, 1e-8);
    }
}

/// The quantities on which a figure at rest depends, when each is stated directly.
fn rests_on(figure: Figure) -> &'static [Quantity] {
    use Quantity::*;
    const STEERING: &[Quantity] = &[HeadAngle, ForkOffset, FrontTyreDiameter];
    match figure {
        Figure::HeadAngle => &[HeadAngle],
        Figure::SeatAngle => &[SeatAngle],
        Figure::BottomBracketHeight => &[BottomBracketHeight],
        Figure::Wheelbase => &[Wheelbase],
        Figure::Reach => &[
            Wheelbase,
            HeadAngle,
            AxleToCrown,
            ForkOffset,
            LowerStack,
            HeadTubeLength,
            RearTyreDiameter,
            ChainstayLength,
            BottomBracketHeight,
        ],
        Figure::Stack => &[
            HeadAngle,
            AxleToCrown,
            ForkOffset,
            LowerStack,
            HeadTubeLength,
            FrontTyreDiameter,
            BottomBracketHeight,
        ],
        Figure::FrontCentre => {
            &[Wheelbase, FrontTyreDiameter, RearTyreDiameter, ChainstayLength, BottomBracketHeight]
        }
        Figure::Trail | Figure::MechanicalTrail | Figure::WheelFlop => STEERING,
    }
}

fn direct() -> Vec<Statement> {
    use Quantity::*;
    let view = ORDINARY;
    [
        (Wheelbase, view.wheelbase, 1.0),
        (HeadAngle, view.head_angle, 0.1),
        (AxleToCrown, view.axle_to_crown, 1.0),
        (ForkOffset, view.fork_offset, 0.5),
        (LowerStack, view.lower_stack, 0.25),
        (HeadTubeLength, view.head_tube_length, 0.25),
        (FrontTyreDiameter, 2.0 * view.front_radius, 1.0),
        (RearTyreDiameter, 2.0 * view.rear_radius, 1.0),
        (ChainstayLength, view.chainstay, 0.5),
        (BottomBracketHeight, view.bottom_bracket_height, 0.5),
        (SeatAngle, view.seat_angle, 0.1),
    ]
    .map(|(what, value, u)| Statement::new(what, value, u))
    .to_vec()
}

/// Every subset of the eleven direct readings: a figure is present exactly if all its dependencies are, and
/// its needs are exactly the dependencies that were not read.
#[test]
fn every_subset_of_the_direct_readings() {
    let all = direct();
    let truth = ORDINARY.side_view().unwrap();
    for subset in 0u32..1 << all.len() {
        let some: Vec<_> = (0..all.len()).filter(|i| subset >> i & 1 == 1).map(|i| all[i]).collect();
        let known: Vec<_> = some.iter().map(|statement| statement.what).collect();
        let outlook = survey(&some).before();
        for figure in Figure::ALL {
            let needs: Vec<_> = Quantity::ALL
                .iter()
                .copied()
                .filter(|q| rests_on(figure).contains(q) && !known.contains(q))
                .collect();
            match outlook.get(figure) {
                Some(found) => {
                    assert!(needs.is_empty(), "{figure} from {known:?}");
                    close(found.value, truth.get(figure), 1e-9);
                }
                None => {
                    let missing = outlook.missing.iter().find(|missing| missing.result == figure).unwrap();
                    let mut named = missing.needs.clone();
                    named.sort();
                    assert_eq!(named, needs, "{figure} from {known:?}");
                    assert!(!needs.is_empty(), "{figure} from {known:?}");
                }
            }
        }
    }
}

#[test]
fn nothing_known_is_answered_with_what_is_needed() {
    let nothing = survey(&[]);
    assert!(nothing.chi_square().is_some() && nothing.bicycle().is_none() && nothing.probability().is_none());
    let before = nothing.before();
    assert!(before.figures.is_empty());
    assert_eq!(before.missing.len(), Figure::COUNT);
    assert_eq!(nothing.undetermined().len(), 11);
}

/// An angle that was not read follows from the maker's stack, as computed by hand.
#[test]
fn the_head_angle_follows_from_stack() {
    let truth = ORDINARY.side_view().unwrap();
    let mut readings: Vec<_> = direct().into_iter().filter(|s| s.what != Quantity::HeadAngle).collect();
    readings.push(Statement::new(Quantity::Stack, truth.stack, 0.5));
    let found = survey(&readings);
    let head = found.before().get(Figure::HeadAngle).unwrap();
    close(head.value, 66.0, 1e-8);
    // stack = r + (A + h + L) sin H - O cos H - b: a degree is worth (682 cos H + 44 sin H) pi / 180 mm.
    let per_degree = (682.0 * 66f64.to_radians().cos() + 44.0 * 66f64.to_radians().sin()).to_radians();
    let (s, c) = 66f64.to_radians().sin_cos();
    let mm = [0.5, 0.5, 0.5, s, 0.25 * s, 0.25 * s, 0.5 * c].iter().map(|u| u * u).sum::<f64>().sqrt();
    close(head.u, mm / per_degree, 1e-9);
}

/// Reach, stack and front centre cannot replace head angle, wheelbase and chainstay: both lengths enter reach
/// and front centre only as their difference.
#[test]
fn three_readings_that_do_not_fix_three_numbers() {
    use Quantity::*;
    let truth = ORDINARY.side_view().unwrap();
    let mut readings: Vec<_> =
        direct().into_iter().filter(|s| ![HeadAngle, Wheelbase, ChainstayLength].contains(&s.what)).collect();
    readings.extend([
        Statement::new(Reach, truth.reach, 0.5),
        Statement::new(Stack, truth.stack, 0.5),
        Statement::new(FrontCentre, truth.front_centre, 1.0),
    ]);
    let found = survey(&readings);
    assert_eq!(found.undetermined(), [Wheelbase, ChainstayLength]);
    // One of the two is checked by the other although neither is known.
    assert_eq!(found.degrees_of_freedom(), 1);
    let before = found.before();
    close(before.get(Figure::Reach).unwrap().value, truth.reach, 1e-6);
    close(before.get(Figure::HeadAngle).unwrap().value, 66.0, 1e-7);
    assert!(before.get(Figure::Wheelbase).is_none());
}

/// Bottom bracket at the height of the rear axle: there the reach does not change with the rear tyre to first
/// order, and a missing reading must still be reported as missing.
#[test]
fn a_level_bottom_bracket_does_not_hide_the_rear_tyre() {
    let level: Vec<_> = direct()
        .into_iter()
        .filter(|s| s.what != Quantity::RearTyreDiameter)
        .map(|s| match s.what {
            Quantity::BottomBracketHeight => Statement::new(s.what, 368.0, 0.5),
            _ => s,
        })
        .collect();
    let before = survey(&level).before();
    assert_eq!(before.get(Figure::Reach), None);
    let reach = before.missing.iter().find(|missing| missing.result == Figure::Reach).unwrap();
    assert_eq!(reach.needs, [Quantity::RearTyreDiameter]);
}

/// A plain tilt rotates the axis by exactly that much on any bike; its effect on the ground depends on all
/// numbers.
#[test]
fn a_plain_tilt_of_an_unknown_bike() {
    let change = UncertainChange {
        kit: Some(UncertainKit::Tilt(Estimate::new(1.5, 0.05))),
        ..UncertainChange::default()
    };
    let comparison = survey(&[]).compare(&change).unwrap();
    let tilt = comparison.tilt_deg.unwrap();
    close(tilt.value, 1.5, 1e-12);
    close(tilt.u, 0.05, 1e-12);
    assert_eq!(comparison.pitch_deg, None);
    assert!(comparison.difference.figures.is_empty());
    // Bearings held off the axis by known amounts: the tilt then depends on the head tube length.
    let kit = Offsets::for_tilt(1.5, 115.0, 5.0, 5.0).unwrap();
    let change: UncertainChange = Change { kit: Some(kit), ..Change::default() }.into();
    assert_eq!(survey(&[]).compare(&change).unwrap().tilt_deg, None);
    let tube = [Statement::new(Quantity::HeadTubeLength, 115.0, 0.5)];
    let tilt = survey(&tube).compare(&change).unwrap().tilt_deg.unwrap();
    close(tilt.value, 1.5, 1e-9);
    // d atan(E/s) = E/(s^2 + E^2) ds with s = 125 mm.
    let e = 125.0 * 1.5f64.to_radians().tan();
    close(tilt.u, (e / (125.0 * 125.0 + e * e) * 0.5).to_degrees(), 1e-9);
}

/// Terms common to both stances cancel in the difference.
#[test]
fn the_difference_is_surer_than_its_ends() {
    let kit = Offsets::for_tilt(1.5, 115.0, 5.0, 5.0).unwrap();
    let change: UncertainChange =
        Change { kit: Some(kit), lower_stack: Some(14.0), ..Change::default() }.into();
    let found = survey(&direct()).compare(&change).unwrap();
    for figure in Figure::ALL {
        let [before, after, difference] =
            [&found.before, &found.after, &found.difference].map(|outlook| outlook.get(figure).unwrap());
        close(after.value - before.value, difference.value, 1e-9);
        assert!(difference.u < before.u.hypot(after.u), "{figure}: {difference:?}");
    }
    let head = found.difference.get(Figure::HeadAngle).unwrap();
    assert!(head.u < 0.015 && found.before.get(Figure::HeadAngle).unwrap().u > 0.09, "{head:?}");
}

/// Five readings and the front centre that follows from them: an error in any has the same effect, so none is
/// singled out.
#[test]
fn one_redundant_reading_accuses_nobody() {
    use Quantity::*;
    let truth = ORDINARY.side_view().unwrap();
    let involved = [Wheelbase, ChainstayLength, BottomBracketHeight, FrontTyreDiameter, RearTyreDiameter];
    let mut readings: Vec<_> = direct().into_iter().filter(|s| involved.contains(&s.what)).collect();
    readings.push(Statement::new(FrontCentre, truth.front_centre + 30.0, 1.0));
    let found = survey(&readings);
    assert_eq!(found.degrees_of_freedom(), 1);
    assert!(found.probability().unwrap() < 1e-6);
    let sizes: Vec<_> = found.residuals().iter().map(|r| r.normalised.unwrap().abs()).collect();
    for size in &sizes {
        close(*size, sizes[0], 2e-3 * sizes[0]);
    }
    assert_eq!(found.suspect(), None);
    let mut suspects = found.suspects().to_vec();
    suspects.sort();
    let mut all = [involved.as_slice(), &[FrontCentre]].concat();
    all.sort();
    assert_eq!(suspects, all);
}

#[test]
fn readings_that_no_bicycle_can_have() {
    let mut readings = direct();
    readings.push(Statement::new(Quantity::Reach, f64::NAN, 1.0));
    readings.push(Statement::new(Quantity::Stack, 600.0, -1.0));
    readings.push(Statement::new(Quantity::HeadAngle, 120.0, 0.1));
    // Not part of the side view: ignored by this survey.
    readings.push(Statement::new(Quantity::CapGap, 3.0, 0.1));
    let found = survey(&readings);
    let unusable: Vec<_> = found.unusable().iter().map(|s| s.what).collect();
    assert_eq!(unusable, [Quantity::Reach, Quantity::Stack, Quantity::HeadAngle]);
    assert_eq!(found.statements().len(), 11);
    assert!(found.bicycle().is_some());
}

/// A chainstay shorter than the height of the bottom bracket below the axle: no bicycle exists, and the
/// culprits are named.
#[test]
fn contradictions_beyond_mending() {
    let mut readings = direct();
    for statement in &mut readings {
        if statement.what == Quantity::ChainstayLength {
            *statement = Statement::new(Quantity::ChainstayLength, 4.0, 0.5);
        }
    }
    let found = survey(&readings);
    assert!(found.chi_square().is_none() || found.probability().is_none_or(|p| p < 0.01));
    assert!(found.suspects().contains(&Quantity::ChainstayLength), "{:?}", found.suspects());
    let mended = found.without(Quantity::ChainstayLength);
    assert!(mended.chi_square().is_some());
    assert_eq!(mended.undetermined(), [Quantity::ChainstayLength]);
}
