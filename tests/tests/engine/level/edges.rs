//! Refusals, with their reasons; and that nothing else ends in a panic or in an unjustified number.

use super::phone::{Draw, Sensor, Stand, axes, session};
use proptest::prelude::*;
use steerwright_core::level::{
    Bearing, Doubt, LevelError, LevelPriors, Phones, Pose, Reading, Sample, Session, Still, Unsteady, change,
};
use steerwright_core::quantity::{Instrument, Quantity, Unit};

fn jittered(mean: Sample, count: usize) -> Vec<Sample> {
    let mut draw = Draw::new(7);
    let noise = |draw: &mut Draw| draw.normal(0.02);
    (0..count)
        .map(|_| Sample::new(mean.x + noise(&mut draw), mean.y + noise(&mut draw), mean.z + noise(&mut draw)))
        .collect()
}

const ALONG: Sample = Sample::new(-3.99, 8.96, 0.0);

#[test]
fn samples_that_are_no_reading() {
    assert_eq!(Still::of(&[]), Err(Unsteady::TooFew { count: 0 }));
    assert_eq!(Still::of(&jittered(ALONG, 9)), Err(Unsteady::TooFew { count: 9 }));
    for odd in [f64::NAN, f64::INFINITY] {
        let mut samples = jittered(ALONG, 20);
        samples[4].y = odd;
        assert_eq!(Still::of(&samples), Err(Unsteady::NotFinite { number: 5 }));
    }
    assert_eq!(Still::of(&[ALONG; 50]), Err(Unsteady::Frozen));
    let weightless = Still::of(&jittered(Sample::new(0.0, 0.0, 0.0), 30));
    assert!(matches!(weightless, Err(Unsteady::NotGravity { length }) if length < 0.1), "{weightless:?}");
    let swung = Still::of(&jittered(Sample::new(-4.4, 9.8, 0.0), 30));
    assert!(matches!(swung, Err(Unsteady::NotGravity { length }) if length > 10.3), "{swung:?}");
    assert_eq!(Still::of(&[Sample::new(0.0, 0.5, 0.866); 30]), Err(Unsteady::InUnitsOfG));
    let huge = Still::of(&[Sample::new(1e300, 1e300, 1e300); 30]);
    assert!(matches!(huge, Err(Unsteady::NotGravity { .. })), "{huge:?}");
    let mut shaken = jittered(ALONG, 40);
    shaken.iter_mut().enumerate().for_each(|(i, it)| it.z += if i % 2 == 0 { 0.6 } else { -0.6 });
    let shaken = Still::of(&shaken);
    assert!(matches!(shaken, Err(Unsteady::Shaken { scatter, .. }) if scatter > 0.55), "{shaken:?}");
    // A slow turn of 0.4 degrees in total, half of it between the halves' means, is accepted; three times that is not.
    let turning = |degrees: f64| {
        let at = |i: usize| (66.0 + degrees * i as f64 / 39.0).to_radians();
        let sample = |i: usize| Sample::new(-9.81 * at(i).cos(), 9.81 * at(i).sin(), 0.0);
        Still::of(&(0..40).map(sample).collect::<Vec<_>>())
    };
    assert!(turning(0.4).is_ok());
    assert!(matches!(turning(1.2), Err(Unsteady::Moved { degrees, .. }) if (degrees - 0.6).abs() < 0.05));
}

/// Correlated samples count for less: a mean of smoothed noise is less certain than its scatter over the root of the
/// count, and its u matches its own spread over many readings.
#[test]
fn the_means_uncertainty_is_its_own_spread() {
    let mut draw = Draw::new(11);
    let (mut sum, mut square, mut told) = (0.0, 0.0, 0.0);
    const READINGS: usize = 400;
    for _ in 0..READINGS {
        let mut noise = 0.0;
        let mut next = || {
            noise = 0.6 * noise + draw.normal(0.02);
            Sample::new(-3.99, 8.96 + noise, 0.0)
        };
        let samples: Vec<Sample> = (0..200).map(|_| next()).collect();
        let still = Still::of(&samples).unwrap();
        sum += still.mean.y;
        square += (still.mean.y - 8.96).powi(2);
        told += still.u.y.powi(2);
    }
    assert!((sum / READINGS as f64 - 8.96).abs() < 0.001);
    // Twenty samples a block against a correlation of three: blocks are correlated by a few percent; 400 readings leave
    // 7 %.
    let ratio = told / square;
    assert!((0.8..1.2).contains(&ratio), "{ratio}");
}

fn reading(stand: Stand, bearing: Bearing, pose: Pose) -> Reading {
    let mut draw = Draw::new(3);
    let sensor = Sensor { noise: 0.02, ..Sensor::perfect() };
    let samples = sensor.samples(axes(stand, bearing, pose, true, true, 0.0), 40, &mut draw);
    Reading { bearing, pose, still: Still::of(&samples).unwrap() }
}

fn level(readings: Vec<Reading>) -> Result<steerwright_core::level::Level, LevelError> {
    Session { what: Quantity::HeadAngle, readings }.level(&LevelPriors::default())
}

#[test]
fn sessions_that_give_no_angle() {
    let upright = Stand { angle: 66.0, slope: 0.0, lean: 0.0 };
    assert_eq!(level(vec![]), Err(LevelError::NoReading));
    let rim = reading(upright, Bearing::OneWay, Pose::LeanLeft);
    assert_eq!(level(vec![rim]), Err(LevelError::NoReading));
    let along = reading(upright, Bearing::OneWay, Pose::Along);
    for lean in [16.0, 90.0] {
        let lying = reading(Stand { lean, ..upright }, Bearing::OneWay, Pose::LeanLeft);
        let error = level(vec![along, lying]).unwrap_err();
        assert!(
            matches!(error, LevelError::Leaning { lean: told } if (told - lean).abs() < 0.2),
            "{error:?}"
        );
        assert!(error.to_string().contains("hold it upright"), "{error}");
    }
    for angle in [30.0, 89.9] {
        let error = level(vec![along, reading(Stand { angle, ..upright }, Bearing::OneWay, Pose::Along)]);
        assert!(matches!(error, Err(LevelError::NotAlong { reading: 2, .. })), "{error:?}");
    }
    // A bike on its side: the edge is nearly horizontal.
    let error = level(vec![reading(Stand { lean: 90.0, ..upright }, Bearing::OneWay, Pose::Along)]);
    assert!(matches!(error, Err(LevelError::NotAlong { reading: 1, .. })), "{error:?}");
    let reach = Session { what: Quantity::Reach, readings: vec![along] };
    assert_eq!(reach.level(&LevelPriors::default()), Err(LevelError::What { what: Quantity::Reach }));
    let seat = Session { what: Quantity::SeatAngle, readings: vec![along] };
    let head = Session { what: Quantity::HeadAngle, readings: vec![along] };
    let known = LevelPriors::default();
    assert_eq!(change(&head, &seat, Phones::Same, &known), Err(LevelError::DifferentAngles));
    for zero in [0.0, -1.0, f64::NAN] {
        assert_eq!(head.level(&LevelPriors { zero, ..known }), Err(LevelError::NoAnswer));
    }
}

/// One reading alone: the floor's u of 1 degree dominates, and both doubts are reported.
#[test]
fn one_reading_is_worth_what_the_floor_is() {
    let upright = Stand { angle: 66.0, slope: 0.0, lean: 0.0 };
    let level = level(vec![reading(upright, Bearing::OneWay, Pose::Along)]).unwrap();
    assert!((1.1..1.3).contains(&level.angle.u), "{level:?}");
    assert_eq!(level.doubts, [Doubt::NotTurnedRound, Doubt::PhoneNotTurned]);
}

/// A reading of another tube among good ones is identified and widens the uncertainty.
#[test]
fn a_wrong_reading_is_named() {
    let known = LevelPriors::default();
    let mut draw = Draw::new(5);
    let sensor = Sensor::drawn(&mut draw, &known);
    let mut good = session(&mut draw, &sensor, &known, 66.0, 0.3);
    let before = good.level(&known).unwrap();
    assert!(before.doubts.is_empty(), "{before:?}");
    let stand = Stand { angle: 68.0, slope: 0.3, lean: 0.0 };
    let samples = sensor.samples(axes(stand, Bearing::OneWay, Pose::Along, false, false, 0.0), 40, &mut draw);
    good.readings[2].still = Still::of(&samples).unwrap();
    let after = good.level(&known).unwrap();
    assert!(matches!(after.doubts[..], [Doubt::Disagree { reading: 3, .. }]), "{after:?}");
    assert!(after.angle.u > 2.0 * before.angle.u, "{} {}", after.angle.u, before.angle.u);
}

/// A lean of 5 degrees alone would reduce an angle of 66 by 0.49: asin(sin 66 cos 5) = 65.511.
#[test]
fn a_lean_is_taken_back() {
    let leaning = Stand { angle: 66.0, slope: 0.0, lean: 5.0 };
    let readings: Vec<_> = Bearing::ALL
        .into_iter()
        .flat_map(|bearing| {
            [Pose::Along, Pose::LeanLeft, Pose::LeanRight].map(|pose| reading(leaning, bearing, pose))
        })
        .collect();
    let shown = readings[0].still.mean.elevation();
    assert!((shown - 65.511).abs() < 0.05, "{shown}");
    let level = level(readings).unwrap();
    assert!((level.angle.value - 66.0).abs() < 0.03, "{level:?}");
    assert!((level.lean[0].unwrap().value - 5.0).abs() < 0.05, "{level:?}");
}

#[test]
fn the_row_for_the_bike_file() {
    let known = LevelPriors::default();
    let mut draw = Draw::new(21);
    let sensor = Sensor::drawn(&mut draw, &known);
    let level = session(&mut draw, &sensor, &known, 66.0, -0.6).level(&known).unwrap();
    let row = level.measurement();
    assert_eq!((row.what, row.unit, row.with), (Quantity::HeadAngle, Unit::Deg, Instrument::PhoneLevel));
    assert!((row.value - level.angle.value).abs() <= 0.005);
    assert!((row.plus_minus.unwrap() - 2.0 * level.angle.u).abs() <= 0.005);
}

proptest! {
    /// The phone's roll about its edge does not change the edge's elevation.
    #[test]
    fn roll_changes_nothing(angle in 40.0..88.0f64, roll in -180.0..180.0f64, lean in -10.0..10.0f64) {
        let stand = Stand { angle, slope: 0.0, lean };
        let at = |roll: f64| {
            let axes = axes(stand, Bearing::OneWay, Pose::Along, true, true, roll);
            Sensor::perfect().samples(axes, 1, &mut Draw::new(1))[0].elevation()
        };
        prop_assert!((at(roll) - at(0.0)).abs() < 1e-9);
        let expected = (angle.to_radians().sin() * lean.to_radians().cos()).asin().to_degrees();
        prop_assert!((at(roll) - expected).abs() < 1e-6);
    }

    /// Arbitrary input: a sound angle or an error.
    #[test]
    fn anything_at_all(
        numbers in prop::collection::vec((any::<[f64; 3]>(), any::<bool>(), 0usize..3), 0..6),
        near in prop::collection::vec((-12.0..12.0f64, -12.0..12.0f64, -12.0..12.0f64), 0..6),
    ) {
        let still = |[x, y, z]: [f64; 3]| Still {
            mean: Sample::new(x, y, z), u: Sample::new(0.01, 0.01, 0.01), count: 10,
        };
        let bearing = |way: bool| if way { Bearing::OneWay } else { Bearing::OtherWay };
        let mut readings: Vec<Reading> = numbers
            .iter()
            .map(|(axes, way, pose)| Reading { bearing: bearing(*way), pose: Pose::ALL[*pose], still: still(*axes) })
            .collect();
        readings.extend(near.iter().map(|(x, y, z)| Reading {
            bearing: bearing(*x > 0.0), pose: Pose::Along, still: still([*x, *y, *z]),
        }));
        if let Ok(level) = (Session { what: Quantity::HeadAngle, readings }).level(&LevelPriors::default()) {
            prop_assert!(level.angle.is_sound() && level.angle.u > 0.0, "{level:?}");
        }
        let samples: Vec<Sample> = near.iter().map(|(x, y, z)| Sample::new(*x, *y, *z)).collect();
        if let Ok(still) = Still::of(&samples.repeat(3)) {
            prop_assert!(still.mean.length().is_finite());
        }
    }
}
