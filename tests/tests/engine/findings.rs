//! From readings to findings: units, default uncertainties, combination, contradictions.

use proptest::prelude::*;
use steerwright_core::bike::{Bike, BikeSchema, Measurement, Observed};
use steerwright_core::quantity::{Estimate, Instrument, Instruments, Quantity, Unit, quantity_info};

fn row(what: Quantity, value: f64, unit: Unit, with: Instrument, plus_minus: Option<f64>) -> Measurement {
    Measurement { what, value, unit, with, plus_minus, at: None, note: None }
}

fn bike(measured: Vec<Measurement>) -> Bike {
    Bike {
        schema: BikeSchema::V1,
        name: "b".into(),
        owner: None,
        observed: Observed::default(),
        fitted: None,
        measured,
    }
}

/// Half of the stated half-width, or of the instrument's own, in mm whatever the unit (JCGM 100:2008, 6.3.1, k = 2).
#[test]
fn one_reading_by_hand() {
    use Quantity::{CapGap, FrontTyreDiameter, HeadAngle, HeadTubeLength};
    let findings = bike(vec![
        row(HeadTubeLength, 11.2, Unit::Cm, Instrument::SteelRule, None),
        row(FrontTyreDiameter, 29.25, Unit::In, Instrument::Tape, Some(0.1)),
        row(HeadAngle, 66.4, Unit::Deg, Instrument::PhoneLevel, Some(0.3)),
        row(CapGap, 3.0, Unit::Mm, Instrument::Caliper, None),
    ])
    .findings();
    // value and u: 11.2 cm, rule +-0.5 mm; 29.25 in = 742.95 mm, +-0.1 in = 2.54 mm; stated +-0.3; caliper +-0.05.
    let expected = [
        (HeadTubeLength, 112.0, 0.25),
        (CapGap, 3.0, 0.025),
        (HeadAngle, 66.4, 0.15),
        (FrontTyreDiameter, 742.95, 1.27),
    ];
    let found: Vec<_> = findings.iter().collect();
    assert_eq!(found.len(), expected.len());
    for (what, value, u) in expected {
        let estimate = findings.get(what).unwrap();
        assert!((estimate.value - value).abs() < 1e-12 * value, "{what}: {estimate:?}");
        assert!((estimate.u - u).abs() < 1e-12 * u, "{what}: {estimate:?}");
        assert_eq!(findings.readings(what).len(), 1);
    }
    assert_eq!(findings.get(Quantity::Reach), None);
    assert!(findings.readings(Quantity::Reach).is_empty());
    assert!(findings.disagreements().is_empty());
}

/// 112.0 by rule (u 0.25) twice and 113.0 by tape (u 0.5): weights 16, 16, 4, mean (32 * 112 + 4 * 113) / 36 =
/// 112.1111; inner u 1/sqrt(36) = 0.1667; chi-square 2 (0.1111/0.25)^2 + (0.8889/0.5)^2 = 3.5556 over 2 degrees of
/// freedom: Birge ratio sqrt(1.7778) = 1.3333, so u = 0.2222. 1.0 is less than 3 hypot(0.25, 0.5) = 1.677: no
/// contradiction.
#[test]
fn three_readings_by_hand() {
    let readings =
        [(112.0, Instrument::SteelRule), (113.0, Instrument::Tape), (112.0, Instrument::SteelRule)];
    let rows = readings.map(|(value, with)| row(Quantity::HeadTubeLength, value, Unit::Mm, with, None));
    let findings = bike(rows.to_vec()).findings();
    let estimate = findings.get(Quantity::HeadTubeLength).unwrap();
    assert!((estimate.value - 112.0 - 1.0 / 9.0).abs() < 1e-9, "{estimate:?}");
    assert!((estimate.u - 2.0 / 9.0).abs() < 1e-9, "{estimate:?}");
    assert!(findings.disagreements().is_empty());
}

/// The contradicting pair is identified by the rows' indices in the file, other quantities' rows counted.
#[test]
fn a_contradiction_names_its_rows() {
    let length = |value| row(Quantity::HeadTubeLength, value, Unit::Mm, Instrument::SteelRule, None);
    let other = row(Quantity::CapGap, 3.0, Unit::Mm, Instrument::Caliper, None);
    let findings = bike(vec![other.clone(), length(112.0), other, length(113.5)]).findings();
    let [pair] = findings.disagreements() else { panic!("{:?}", findings.disagreements()) };
    assert_eq!(pair.what, Quantity::HeadTubeLength);
    assert_eq!(pair.readings.map(|reading| reading.index), [1, 3]);
    // 1.5 with u = 0.25 sqrt(2) = 0.3536: over 3 u = 1.0607.
    let difference = pair.difference();
    assert!((difference.value - 1.5).abs() < 1e-12 && (difference.u - 0.125f64.sqrt()).abs() < 1e-12);
}

/// A bike made in memory can contain what no file can: such rows are set aside and ignored.
#[test]
fn rows_that_say_nothing_are_set_aside() {
    let length = |value, unit, with, plus_minus| row(Quantity::HeadTubeLength, value, unit, with, plus_minus);
    let good = length(112.0, Unit::Mm, Instrument::Tape, None);
    let bad = [
        length(f64::NAN, Unit::Mm, Instrument::Tape, None),
        length(f64::INFINITY, Unit::Mm, Instrument::Tape, None),
        length(112.0, Unit::Deg, Instrument::Tape, None),
        length(112.0, Unit::Mm, Instrument::PhoneLevel, None),
        length(112.0, Unit::Mm, Instrument::Tape, Some(0.0)),
        length(112.0, Unit::Mm, Instrument::Tape, Some(-1.0)),
        length(112.0, Unit::Mm, Instrument::Tape, Some(f64::NAN)),
    ];
    let mut rows = bad.to_vec();
    rows.push(good);
    let findings = bike(rows).findings();
    assert_eq!(findings.unusable(), [0, 1, 2, 3, 4, 5, 6]);
    assert_eq!(findings.get(Quantity::HeadTubeLength), Some(Estimate::new(112.0, 0.5)));
}

proptest! {
    /// Every reading counts once, estimates are within the range of their readings, and another table of instruments
    /// changes the uncertainty of readings that state none, and of no others.
    #[test]
    fn findings_follow_from_their_readings(
        rows in prop::collection::vec((0..Quantity::COUNT, 0.0..1.0f64, prop::option::of(0.01..2.0f64)), 0..40)
    ) {
        let rows: Vec<Measurement> = rows.into_iter().map(|(what, place, plus_minus)| {
            let what = Quantity::ALL[what];
            let [low, high] = quantity_info(what).plausible;
            row(what, low + place * (high - low), what.base_unit(), Instrument::MakerSheet, plus_minus)
        }).collect();
        let bike = bike(rows);
        let findings = bike.findings();
        prop_assert!(findings.unusable().is_empty());
        let read: usize = Quantity::ALL.iter().map(|what| findings.readings(*what).len()).sum();
        prop_assert_eq!(read, bike.measured.len());
        for (what, estimate) in findings.iter() {
            let values = findings.readings(what).iter().map(|reading| reading.estimate.value);
            let low = values.clone().fold(f64::INFINITY, f64::min);
            let high = values.fold(f64::NEG_INFINITY, f64::max);
            // The mean is computed relative to one reading: a few units in the last place.
            let slack = 1e-12 * high.abs().max(low.abs());
            prop_assert!(low - slack <= estimate.value && estimate.value <= high + slack);
            prop_assert!(estimate.u > 0.0);
        }
        let coarse = br#"{"maker_sheet": {"plus_minus_mm": 5, "plus_minus_deg": 1, "source": "ten times the usual"}}"#;
        let coarse = Instruments::from_json(coarse, "coarse").unwrap();
        let coarse = steerwright_core::bike::Findings::new(&bike, &coarse);
        for what in Quantity::ALL {
            for (fine, coarse) in findings.readings(*what).iter().zip(coarse.readings(*what)) {
                let stated = bike.measured[fine.index].plus_minus.is_some();
                let ratio = coarse.estimate.u / fine.estimate.u;
                let expected = if stated { 1.0 } else { 10.0 };
                prop_assert!((ratio - expected).abs() < 1e-9);
            }
        }
    }
}
