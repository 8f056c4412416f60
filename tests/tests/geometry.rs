//! The side view against published bicycles, and against values computed by other means.

use serde::Deserialize;
use serde_json::Value;
use steerwright_core::geometry::{
    Bicycle, Change, Figure, GeometryError, Offsets, Point, Statement, Survey, UncertainChange, UncertainKit,
    Uncustomary, changed, crossing_height, survey, tilt_for, uncustomary,
};
use steerwright_core::quantity::{Estimate, Quantity, propagate};

/// A bike of ordinary size, for checks that need some numbers where the reference states none.
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

/// J. P. Meijaard, J. M. Papadopoulos, A. Ruina, A. L. Schwab, Linearized dynamics equations for the balance and steer
/// of a bicycle, Proc. R. Soc. A 463 (2007) 1955-1982, table 1: w 1.02, c 0.08, lambda pi/10, r_R 0.3, r_F 0.35 m (V).
/// The frame in between is free and taken from the ordinary bike.
fn benchmark() -> Bicycle {
    Bicycle {
        wheelbase: 1020.0,
        head_angle: 72.0,
        fork_offset: 32.071_426_727_6,
        front_radius: 350.0,
        rear_radius: 300.0,
        ..ORDINARY
    }
}

#[test]
fn benchmark_bicycle_has_its_trail() {
    let view = benchmark().side_view().unwrap();
    // Half the offset's last printed digit, over the sine of 72 degrees.
    close(view.trail, 80.0, 5.3e-11);
    close(view.mechanical_trail, 80.0 * 72f64.to_radians().sin(), 5.1e-11);
}

/// The distances of that paper's model between axles and steering axis, V: recomputed from its c, w, lambda, r_R, r_F.
#[test]
fn benchmark_bicycle_has_its_distances_from_the_steering_axis() {
    let view = benchmark().side_view().unwrap();
    let from_axis = |point: Point| {
        let (x, y) = (point.x - view.crown_race.x, point.y - view.crown_race.y);
        // Along the axis, and forward of it.
        (x * view.axis.x + y * view.axis.y, x * view.axis.y - y * view.axis.x)
    };
    let (rear_along, rear) = from_axis(view.rear_axle);
    let (front_along, front) = from_axis(view.front_axle);
    // The axles lie 1 m from each other in doubles of 1e-13 mm; the offset is printed to 1e-10 mm.
    close(-rear / 1000.0, 0.953_457_069_612_184_9, 1e-13);
    close(front / 1000.0, 0.032_071_426_727_6, 5e-14);
    close((rear_along - front_along) / 1000.0, 0.267_644_508_447_688_7, 1e-13);
}

/// An inclined axis worked in that literature: r 0.3 m, 10 degrees, offset 0.05 m (V).
#[test]
fn an_upright_axis_with_little_trail() {
    let bike = Bicycle { head_angle: 80.0, fork_offset: 50.0, front_radius: 300.0, ..ORDINARY };
    let view = bike.side_view().unwrap();
    // Cancellation of 52 mm against 50 in doubles.
    close(view.trail, 2.126_763_618_252_235, 5e-14);
    close(view.mechanical_trail, 2.094_453_300_079_096_6, 5e-14);
}

/// Wheel flop factor of 10 mm of trail at 30 degrees (F, not recomputed there; 10 sin 30 cos 30).
#[test]
fn wheel_flop_is_trail_times_sine_times_cosine() {
    let offset = 372.0 * 30f64.to_radians().cos() - 5.0;
    let view = Bicycle { head_angle: 30.0, fork_offset: offset, ..ORDINARY }.side_view().unwrap();
    close(view.trail, 10.0, 2e-13);
    close(view.wheel_flop, 4.330_127_018_922_19, 1e-13);
}

/// Six measured bicycles: J. K. Moore, Human Control of a Bicycle, PhD thesis, University of California, Davis, 2012,
/// data. u(d) 0.01 m, u(head angle) 0.2 degrees, u(offset) 0.001 m (V). The wheel's radius is that of n turns over d.
#[test]
fn six_measured_bicycles_to_every_printed_digit() {
    // d m, n, head angle deg, offset m, r m, its u where printed, trail m, its u
    let rows: [(f64, f64, f64, f64, f64, Option<f64>, f64, f64); 6] = [
        (
            28.06,
            13.0,
            67.1,
            0.0705,
            0.34352982332,
            Some(0.000122426879301),
            0.0685808540382,
            0.00169464113488,
        ),
        (
            29.366,
            14.0,
            74.2,
            0.0315,
            0.333838861345,
            Some(0.000113682102208),
            0.0617300113263,
            0.00160776211474,
        ),
        (29.044, 14.0, 71.1, 0.0385, 0.330178297654, None, 0.0723512958768, 0.00162907266827),
        (27.925, 13.0, 72.7, 0.0565, 0.341877060449, None, 0.0473057207886, 0.00162727102983),
        (27.925, 13.0, 70.6, -0.0565, 0.341877060449, None, 0.180294938773, 0.00176864639495),
        (27.98, 13.0, 69.0, 0.045, 0.342550408285, None, 0.0832912572138, 0.0016907620071),
    ];
    for (d, n, head, offset, r, u_r, trail, u_trail) in rows {
        let radius = propagate(&[Estimate::new(d, 0.01)], |x| x[0] / (std::f64::consts::TAU * n));
        close(radius.value, r, 5e-13);
        if let Some(u_r) = u_r {
            close(radius.u, u_r, 5e-16);
        }
        let readings = [
            Statement::new(Quantity::HeadAngle, head, 0.2),
            Statement::new(Quantity::ForkOffset, 1000.0 * offset, 1.0),
            Statement::new(Quantity::FrontTyreDiameter, 2000.0 * radius.value, 2000.0 * radius.u),
        ];
        let found = survey(&readings).before().get(Figure::Trail).unwrap();
        // Twelve or thirteen digits are printed; the last may be one off in either.
        close(found.value / 1000.0, trail, if trail > 0.1 { 5e-13 } else { 5e-14 });
        close(found.u / 1000.0, u_trail, 1e-14);
    }
}

/// ISO 4210-2:2014, Annex A, read through a national adoption (F): 65 to 75 degrees, crossing at 15 to 60 % of the wheel
/// radius, its height the trail times the tangent of the head angle.
#[test]
fn customary_steering_axes() {
    let view = benchmark().side_view().unwrap();
    // 80 tan 72 = 246.215 mm, 70.3 % of 350: outside, as real bicycles are.
    close(crossing_height(&view), 246.214_682_973_715, 1e-9);
    assert!(
        matches!(uncustomary(&view).as_slice(), [Uncustomary::Crossing { percent }] if (percent - 70.347).abs() < 1e-3)
    );
    // 73 degrees, offset 60: trail 42.8 mm, crossing at 140 mm of 336.
    let road = Bicycle { head_angle: 73.0, fork_offset: 60.0, front_radius: 336.0, ..ORDINARY };
    assert_eq!(uncustomary(&road.side_view().unwrap()), []);
    let slack = ORDINARY.side_view().map(|view| uncustomary(&view)).unwrap();
    assert!(matches!(slack.as_slice(), [Uncustomary::Crossing { .. }]), "{slack:?}");
    let slacker =
        Bicycle { head_angle: 63.0, ..ORDINARY }.side_view().map(|view| uncustomary(&view)).unwrap();
    assert!(matches!(slacker.as_slice(), [Uncustomary::HeadAngle { .. }, Uncustomary::Crossing { .. }]));
    assert!(slacker.iter().all(|note| note.to_string().contains("customary")));
}

#[derive(Deserialize)]
struct Oracle {
    figures: Vec<Figure>,
    change: Kit,
    changes: Vec<Case>,
    sheets: Vec<Sheet>,
}

#[derive(Deserialize)]
struct Kit {
    kit: [f64; 4],
    lower_stack: f64,
    fork_offset: f64,
}

#[derive(Deserialize)]
struct Case {
    bicycle: Bicycle,
    kit: [f64; 4],
    parts: serde_json::Map<String, Value>,
    sag: [f64; 2],
    before: [f64; 10],
    after: [f64; 10],
    tilt_deg: f64,
    pitch_deg: f64,
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
    let oracle: Oracle = serde_json::from_str(include_str!("../data/oracle/geometry.json")).unwrap();
    assert_eq!(oracle.figures, Figure::ALL);
    oracle
}

fn offsets([upper_plane, lower_plane, upper, lower]: [f64; 4]) -> Offsets {
    Offsets { upper_plane, lower_plane, upper, lower }
}

/// Random bicycles and changes, computed from the angles with 40 digits (`oracle/geometry.py`).
#[test]
fn changes_agree_with_forty_digits() {
    let cases = oracle().changes;
    assert!(cases.len() >= 100);
    for case in cases {
        let part = |name: &str| case.parts.get(name).and_then(Value::as_f64);
        let change = Change {
            kit: Some(offsets(case.kit)),
            axle_to_crown: part("axle_to_crown"),
            fork_offset: part("fork_offset"),
            front_radius: part("front_radius"),
            rear_radius: part("rear_radius"),
            lower_stack: part("lower_stack"),
            front_sag: case.sag[0],
            rear_sag: case.sag[1],
        };
        let found = changed(&case.bicycle, &change).unwrap();
        for (i, figure) in Figure::ALL.into_iter().enumerate() {
            // Coordinates of 1 m carry 1e-13 mm; a dozen operations make ten times that.
            close(found.before.get(figure), case.before[i], 3e-12);
            close(found.after.get(figure), case.after[i], 3e-12);
        }
        close(found.tilt_deg, case.tilt_deg, 1e-14);
        close(found.pitch_deg, case.pitch_deg, 1e-13);
    }
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

/// The quantities that a standing figure rests on, when each is stated directly.
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

/// Every subset of the eleven direct readings: a figure is there exactly if all it rests on is, and what it needs is
/// exactly what it rests on and was not read.
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
    assert!(nothing.is_consistent() && nothing.bicycle().is_none() && nothing.probability().is_none());
    let before = nothing.before();
    assert!(before.figures.is_empty());
    assert_eq!(before.missing.len(), Figure::COUNT);
    assert_eq!(nothing.undetermined().len(), 11);
}

/// An angle that nobody read follows from the maker's stack, in the way a person would work it out by hand.
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

/// Reach, stack and front centre cannot replace head angle, wheelbase and chainstay: both lengths enter reach and front
/// centre only as their difference.
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

/// Bottom bracket level with the rear axle: there the reach does not change with the rear tyre to first order, and
/// a reading that is missing must still be missed.
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

/// A plain tilt turns the axis by just that much on any bike; how much of it arrives on the ground depends on all of it.
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
    // Bearings held off the axis by known amounts: the tilt then asks for the head tube.
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

/// What both stances share cancels in the difference.
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

/// Five readings and the front centre that follows from them: a mistake in any shows equally, so none is singled out.
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
    // Not of the side view: no concern of this survey.
    readings.push(Statement::new(Quantity::CapGap, 3.0, 0.1));
    let found = survey(&readings);
    let unusable: Vec<_> = found.unusable().iter().map(|s| s.what).collect();
    assert_eq!(unusable, [Quantity::Reach, Quantity::Stack, Quantity::HeadAngle]);
    assert_eq!(found.statements().len(), 11);
    assert!(found.bicycle().is_some());
}

/// A chainstay shorter than the bottom bracket is below the axle: no bicycle at all, and the culprits are named.
#[test]
fn contradictions_beyond_mending() {
    let mut readings = direct();
    for statement in &mut readings {
        if statement.what == Quantity::ChainstayLength {
            *statement = Statement::new(Quantity::ChainstayLength, 4.0, 0.5);
        }
    }
    let found = survey(&readings);
    assert!(!found.is_consistent() || found.probability().is_none_or(|p| p < 0.01));
    assert!(found.suspects().contains(&Quantity::ChainstayLength), "{:?}", found.suspects());
    let mended = found.without(Quantity::ChainstayLength);
    assert!(mended.is_consistent());
    assert_eq!(mended.undetermined(), [Quantity::ChainstayLength]);
}

/// Which tilt gives the worked example's head angle of 64.781 degrees: its own 1.5.
#[test]
fn the_inverse_of_the_worked_example() {
    let planes = Offsets { upper_plane: 5.0, lower_plane: 5.0, ..Offsets::NONE };
    let change = Change { kit: Some(planes), lower_stack: Some(14.0), ..Change::default() };
    let tilt = tilt_for(&ORDINARY, &change, Figure::HeadAngle, 64.781, [-4.0, 4.0]).unwrap();
    // A degree of tilt is worth 0.8 on the ground; the angle is printed to a thousandth.
    close(tilt, 1.5, 0.0007);
    let error = tilt_for(&ORDINARY, &change, Figure::HeadAngle, 60.0, [-2.0, 2.0]).unwrap_err();
    let GeometryError::OutOfReach { reachable: [low, high], wanted, .. } = error else { panic!("{error}") };
    close(wanted, 60.0, 0.0);
    assert!(64.0 < low && low < 64.5 && 67.0 < high && high < 67.8, "{low} to {high}");
    assert!(error.to_string().starts_with("head_angle of 60 is not reached"), "{error}");
}
