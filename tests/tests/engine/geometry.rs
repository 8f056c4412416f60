//! The side view compared with published bicycles, and with values computed by other means.

use serde::Deserialize;
use serde_json::Value;
use steerwright_core::geometry::{
    Bicycle, Change, Figure, GeometryError, Offsets, Point, Statement, changed, survey, tilt_for,
};
use steerwright_core::quantity::{Estimate, Quantity, propagate};

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

/// J. P. Meijaard, J. M. Papadopoulos, A. Ruina, A. L. Schwab, Linearized dynamics equations for the balance
/// and steer of a bicycle, Proc. R. Soc. A 463 (2007) 1955-1982, table 1: w 1.02, c 0.08, lambda pi/10, r_R
/// 0.3, r_F 0.35 m (V). The frame in between is free and taken from the ordinary bike.
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

/// The distances of that paper's model between axles and steering axis, V: recomputed from its c, w, lambda,
/// r_R, r_F.
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
    // The axles are 1 m from each other in doubles of 1e-13 mm; the offset is printed to 1e-10 mm.
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
    close(view.mechanical_trail, 2.094_453_300_079_097, 5e-14);
}

/// Wheel flop factor of 10 mm of trail at 30 degrees (F, not recomputed there; 10 sin 30 cos 30).
#[test]
fn wheel_flop_is_trail_times_sine_times_cosine() {
    let offset = 372.0 * 30f64.to_radians().cos() - 5.0;
    let view = Bicycle { head_angle: 30.0, fork_offset: offset, ..ORDINARY }.side_view().unwrap();
    close(view.trail, 10.0, 2e-13);
    close(view.wheel_flop, 4.330_127_018_922_19, 1e-13);
}

/// Six measured bicycles: J. K. Moore, Human Control of a Bicycle, PhD thesis, University of California,
/// Davis, 2012, data. u(d) 0.01 m, u(head angle) 0.2 degrees, u(offset) 0.001 m (V). The wheel's radius is
/// that of n turns over d.
#[test]
fn six_measured_bicycles_to_every_printed_digit() {
    // d m, n, head angle deg, offset m, r m, trail m, u(trail) m
    let rows = [
        [28.06, 13.0, 67.1, 0.0705, 0.34352982332, 0.0685808540382, 0.00169464113488],
        [29.366, 14.0, 74.2, 0.0315, 0.333838861345, 0.0617300113263, 0.00160776211474],
        [29.044, 14.0, 71.1, 0.0385, 0.330178297654, 0.0723512958768, 0.00162907266827],
        [27.925, 13.0, 72.7, 0.0565, 0.341877060449, 0.0473057207886, 0.00162727102983],
        [27.925, 13.0, 70.6, -0.0565, 0.341877060449, 0.180294938773, 0.00176864639495],
        [27.98, 13.0, 69.0, 0.045, 0.342550408285, 0.0832912572138, 0.0016907620071],
    ];
    // u(r) m is printed for the first two.
    let radius_u = [Some(0.000122426879301), Some(0.000113682102208), None, None, None, None];
    for ([d, n, head, offset, r, trail, u_trail], u_r) in rows.into_iter().zip(radius_u) {
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
        // Half the last printed digit: twelve decimals for the longest trail, thirteen else, fourteen for u.
        close(found.value / 1000.0, trail, if trail > 0.1 { 5e-13 } else { 5e-14 });
        close(found.u / 1000.0, u_trail, 5.1e-15);
    }
}

#[derive(Deserialize)]
struct Oracle {
    figures: Vec<Figure>,
    changes: Vec<Case>,
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

fn oracle() -> Oracle {
    let oracle: Oracle = serde_json::from_str(include_str!("../../data/oracle/geometry.json")).unwrap();
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

/// The tilt that gives the worked example's head angle of 64.781 degrees: its own 1.5.
#[test]
fn the_inverse_of_the_worked_example() {
    let planes = Offsets { upper_plane: 5.0, lower_plane: 5.0, ..Offsets::NONE };
    let change = Change { kit: Some(planes), lower_stack: Some(14.0), ..Change::default() };
    let tilt = tilt_for(&ORDINARY, &change, Figure::HeadAngle, 64.781, [-4.0, 4.0]).unwrap();
    // A degree of tilt changes the angle on the ground by 0.8; the angle is printed to a thousandth.
    close(tilt, 1.5, 0.0007);
    let error = tilt_for(&ORDINARY, &change, Figure::HeadAngle, 60.0, [-2.0, 2.0]).unwrap_err();
    let GeometryError::OutOfReach { reachable: [low, high], wanted, .. } = error else { panic!("{error}") };
    close(wanted, 60.0, 0.0);
    assert!(64.0 < low && low < 64.5 && 67.0 < high && high < 67.8, "{low} to {high}");
    assert!(error.to_string().starts_with("head_angle of 60 is not reached"), "{error}");
}
