//! Compared with the angles and uncertainties that `tests/oracle/level.py` computes with SciPy, and with the rule of
//! the spirit level.

use super::phone::{Draw, Sensor, Stand, axes};
use serde::Deserialize;
use steerwright_core::level::{Bearing, LevelPriors, Phones, Pose, Reading, Sample, Session, Still, change};
use steerwright_core::quantity::Quantity;

#[derive(Deserialize)]
struct Oracle {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    before: Vec<Row>,
    after: Vec<Row>,
    angle: [f64; 2],
    slope: [f64; 2],
    chi_square: f64,
    change: [f64; 2],
    correlation: f64,
}

#[derive(Deserialize)]
struct Row {
    bearing: Bearing,
    pose: Pose,
    mean: [f64; 3],
    u: [f64; 3],
}

fn sample([x, y, z]: [f64; 3]) -> Sample {
    Sample::new(x, y, z)
}

fn session(rows: &[Row]) -> Session {
    let reading = |row: &Row| Reading {
        bearing: row.bearing,
        pose: row.pose,
        still: Still { mean: sample(row.mean), u: sample(row.u), count: 100 },
    };
    Session { what: Quantity::HeadAngle, readings: rows.iter().map(reading).collect() }
}

/// SciPy's minimum is found to about 1e-8 of each unknown's uncertainty, its covariance from plain central
/// differences to about 1e-7; widened uncertainties (Birge) are not SciPy's, so no case here is doubted.
#[test]
fn the_fit_is_scipys() {
    let text = include_str!("../../../data/oracle/level.json");
    let oracle: Oracle = serde_json::from_str(text).unwrap();
    assert!(oracle.cases.len() >= 18);
    let known = LevelPriors::default();
    for (number, case) in oracle.cases.iter().enumerate() {
        let (before, after) = (session(&case.before), session(&case.after));
        let level = before.level(&known).unwrap();
        let both = change(&before, &after, Phones::Same, &known).unwrap();
        for (name, ours, theirs) in [
            ("angle", level.angle.value, case.angle[0]),
            ("u of angle", level.angle.u, case.angle[1]),
            ("slope", level.slope.value, case.slope[0]),
            ("u of slope", level.slope.u, case.slope[1]),
            ("chi-square", level.chi_square, case.chi_square),
            ("change", both.change.value, case.change[0]),
            ("u of change", both.change.u, case.change[1]),
            ("correlation", both.correlation, case.correlation),
        ] {
            assert!((ours - theirs).abs() <= 1e-6, "case {number}, {name}: {ours} and {theirs}");
        }
    }
}

fn placed(angle: f64, slope: f64, bearing: Bearing, top_up: bool, left: bool, sensor: &Sensor) -> Reading {
    let stand = Stand { angle, slope, lean: 0.0 };
    let axes = axes(stand, bearing, Pose::Along, top_up, left, 0.0);
    let mean = sensor.samples(axes, 1, &mut Draw::new(1))[0];
    Reading { bearing, pose: Pose::Along, still: Still { mean, u: Sample::new(0.0, 0.0, 0.0), count: 1 } }
}

/// F: the procedure of every spirit level, in signed readings: slope (r1 - r2)/2, angle (r1 + r2)/2. Here the floor has
/// no prior and the phone is known exactly.
#[test]
fn the_floor_cancels_when_the_bike_turns_round() {
    let known = LevelPriors {
        zero: 1e-6,
        edge: 1e-6,
        scale: 1e-7,
        floor: 1e3,
        lean: 1e-4,
        standing: 1e-4,
        ..LevelPriors::default()
    };
    let sensor = Sensor::perfect();
    let readings: Vec<_> =
        Bearing::ALL.map(|bearing| placed(66.25, 0.8, bearing, true, true, &sensor)).into();
    let shown: Vec<f64> = readings.iter().map(|it| it.still.mean.elevation()).collect();
    let (r1, r2) = (shown[0], shown[1]);
    assert!((r1 - 67.05).abs() < 1e-9 && (r2 - 65.45).abs() < 1e-9, "{shown:?}");
    let level = Session { what: Quantity::HeadAngle, readings }.level(&known).unwrap();
    assert!((level.angle.value - f64::midpoint(r1, r2)).abs() < 1e-5, "{level:?}");
    assert!((level.slope.value - (r1 - r2) / 2.0).abs() < 1e-5, "{level:?}");
    // Two readings of u 0.1 (repeatability of laying the phone), averaged.
    assert!((level.angle.u - 0.1 / 2f64.sqrt()).abs() < 1e-4, "{level:?}");
}

/// A misalignment of the edge in the phone by 0.5 degrees cancels when the screen is turned to the other side, and a
/// zero offset of y when the phone is turned end for end: the remainder is of second order.
#[test]
fn the_phone_cancels_when_it_is_turned() {
    let flat = LevelPriors { floor: 1e-5, lean: 1e-4, scale: 1e-6, ..LevelPriors::default() };
    let askew = Sensor { sits: [0.5, 0.0], ..Sensor::perfect() };
    let zero = Sensor { zero: [0.0, 0.15, 0.0], ..Sensor::perfect() };
    for (sensor, known, other) in [
        (askew, LevelPriors { edge: 5.0, zero: 1e-5, ..flat }, (true, false)),
        (zero, LevelPriors { edge: 1e-5, zero: 5.0, gravity: 5.0, ..flat }, (false, true)),
    ] {
        let one = placed(66.0, 0.0, Bearing::OneWay, true, true, &sensor);
        let two = placed(66.0, 0.0, Bearing::OneWay, other.0, other.1, &sensor);
        let alone = (one.still.mean.elevation().abs() - 66.0).abs();
        assert!(alone > 0.3, "{alone}");
        let level = Session { what: Quantity::HeadAngle, readings: vec![one, two] }.level(&known).unwrap();
        assert!((level.angle.value - 66.0).abs() < 0.01, "{level:?}");
    }
}
