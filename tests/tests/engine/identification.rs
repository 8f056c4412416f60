//! Identification of a seat's size, compared with hand computation and a second implementation.

#![expect(clippy::unwrap_used, reason = "a helper of tests may panic like a test")]

use proptest::prelude::*;
use serde_json::Value;
use steerwright_core::headset::{
    End, FrameSeat, ObservedSeat, Posterior, SeatCode, SeatDimension, SeatEvidence, frame_seat, identify,
    sizes,
};
use steerwright_core::quantity::{Estimate, Quantity};

fn code(text: &str) -> SeatCode {
    text.parse().unwrap()
}

fn upper() -> SeatEvidence {
    SeatEvidence::none(End::Upper)
}

/// A caliper's reading: plus or minus 0.05 mm with coverage factor 2.
fn caliper(mm: f64) -> Estimate {
    Estimate::new(mm, 0.025)
}

#[track_caller]
fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} within {tolerance}");
}

fn probability_drop_in(posterior: &Posterior) -> f64 {
    let drop_in = |code: &SeatCode| matches!(frame_seat(*code), FrameSeat::DropIn(_));
    posterior.entries().iter().filter(|(code, _)| code.as_ref().is_some_and(drop_in)).map(|(_, p)| p).sum()
}

// Identification, by hand.
//
// Upper weights: IS38 0.2, IS41 4, IS42 4, IS47 0.1, IS49 0.1, IS52 0.5; ZS41 0.2, ZS44 7, ZS49 0.3, ZS55 0.1, ZS56
// 0.5, ZS62 0.05; EC29 0.1, EC30 0.3, EC34 2, EC37 0.1, EC44 0.4, EC49 0.1, EC56 0.05. Sum 20.1. Weight times share of
// those that hold a 41.8: IS42 4; ZS44 3.5, ZS49 0.12, ZS56 0.025 (ZS 3.645); EC34 0.8, EC44 0.06, EC49 0.015 (EC
// 0.875). A reading of 41.8 with u 0.025 has under each of them the peak density of sd = sqrt(0.025^2 + 0.05^2/3) =
// 0.03819: 10.447 per mm; under the others that of an outlier, 0.001/60. "No standard size": 0.01/0.99 * 20.1 / 60 /
// 10.447 = 0.000324 in the same weights, a third of that if something was observed.

#[test]
fn nothing_known_leaves_the_prior() {
    let posterior = identify(&upper());
    // 4 of 20.1 in 99 of 100; both styles of 44: 7.4.
    close(posterior.probability_of(code("IS42")), 0.99 * 4.0 / 20.1, 1e-12);
    close(posterior.probability_of_frame_seat(code("EC44")), 0.99 * 7.4 / 20.1, 1e-12);
    close(probability_drop_in(&posterior), 0.99 * 8.9 / 20.1, 1e-12);
    close(posterior.probability_no_standard(), 0.01, 1e-12);
    assert_eq!(posterior.identified(), None);
    assert_eq!(posterior.entries().len(), sizes().len() + 1);
    let not_seen = upper().looked(ObservedSeat::NotSeen, true);
    assert_eq!(identify(&not_seen).entries(), posterior.entries());
}

#[test]
fn a_bearing_seen_in_the_frame_with_the_fork_out_tells_the_size() {
    let evidence =
        upper().looked(ObservedSeat::DropIn, true).with(SeatDimension::BearingOuter, caliper(41.8));
    let posterior = identify(&evidence);
    // 4 * 0.985 = 3.94 against 3.645 * 0.01 + 0.875 * 0.002 + 0.000108 = 0.03831: 3.94 / 3.97831 = 0.9904.
    close(posterior.probability_of(code("IS42")), 0.9904, 5e-5);
    assert_eq!(posterior.identified(), Some(code("IS42")));
    // Not the 41.0, 0.8 mm away: only an outlier would explain that.
    assert!(posterior.probability_of(code("IS41")) < 1e-4);
}

#[test]
fn the_same_only_looked_at_is_not_enough() {
    let evidence =
        upper().looked(ObservedSeat::DropIn, false).with(SeatDimension::BearingOuter, caliper(41.8));
    let posterior = identify(&evidence);
    // 4 * 0.94 = 3.76 against 3.645 * 0.10 + 0.875 * 0.01 + 0.000108 = 0.37336: 3.76 / 4.13336 = 0.9097.
    close(posterior.probability_of(code("IS42")), 0.9097, 5e-5);
    assert_eq!(posterior.identified(), None);
}

#[test]
fn a_bearing_of_41_0_is_an_is41() {
    let evidence =
        upper().looked(ObservedSeat::DropIn, true).with(SeatDimension::BearingOuter, caliper(41.0));
    let posterior = identify(&evidence);
    // A 41.0: IS41 4; ZS44 3.5 + ZS49 0.12 = 3.62; EC34 1.2 + EC44 0.06 + EC49 0.015 = 1.275.
    // 3.94 against 3.62 * 0.01 + 1.275 * 0.002 + 0.000108 = 0.03886: 3.94 / 3.97886 = 0.9902.
    close(posterior.probability_of(code("IS41")), 0.9902, 5e-5);
    assert_eq!(posterior.identified(), Some(code("IS41")));
}

#[test]
fn a_lip_over_a_41_8_is_a_zero_stack_cup() {
    let evidence =
        upper().looked(ObservedSeat::ThinLip, false).with(SeatDimension::BearingOuter, caliper(41.8));
    let posterior = identify(&evidence);
    // ZS44 3.5 * 0.87 = 3.045; ZS49 and ZS56 0.145 * 0.87 = 0.12615; IS42 4 * 0.05 = 0.2; EC 0.875 * 0.04 = 0.035;
    // none 0.000108: 3.045 / 3.40626 = 0.8939.
    close(posterior.probability_of(code("ZS44")), 0.8939, 5e-5);
    assert_eq!(posterior.entries()[0].0, Some(code("ZS44")));
    // The lip does not determine which cup is in which bore; the bore does.
    assert_eq!(posterior.identified(), None);
    let measured = identify(&evidence.with(SeatDimension::Bore, Estimate::new(43.93, 0.01)));
    assert_eq!(measured.identified(), Some(code("ZS44")));
}

#[test]
fn an_odd_reading_is_never_forced_into_a_size() {
    // Ten and more standard deviations from every bearing: outliers remain, 0.99 * 0.001, against 0.01, all at 1/60:
    // 0.01 / 0.01099 = 0.9099.
    for odd in [41.4, 45.3] {
        let posterior = identify(&upper().with(SeatDimension::BearingOuter, caliper(odd)));
        close(posterior.probability_no_standard(), 0.9099, 5e-5);
        assert_eq!(posterior.identified(), None);
    }
    let odd = upper().with(SeatDimension::Bore, caliper(45.3)).with(SeatDimension::CupOuter, caliper(45.4));
    // Two odd readings that confirm each other: 0.01 against 0.99 * 0.001^2 leaves no doubt.
    close(identify(&odd).probability_no_standard(), 0.9999, 5e-5);
}

#[test]
fn a_rule_cannot_tell_41_0_from_41_8() {
    // 41.4 read with a steel rule, u 0.25: 1.6 standard deviations from either.
    let evidence = upper()
        .looked(ObservedSeat::DropIn, true)
        .with(SeatDimension::BearingOuter, Estimate::new(41.4, 0.25));
    let posterior = identify(&evidence);
    let (one, other) = (posterior.probability_of(code("IS41")), posterior.probability_of(code("IS42")));
    // Equal weights, equal distances.
    close(one, other, 1e-9);
    assert!(one > 0.48);
    assert_eq!(posterior.identified(), None);
}

#[test]
fn one_slip_does_not_condemn_a_frame() {
    // Bearing and appearance indicate IS42, the bore was recorded wrong: undecided, so it is measured again.
    let evidence = upper()
        .looked(ObservedSeat::DropIn, true)
        .with(SeatDimension::BearingOuter, caliper(41.8))
        .with(SeatDimension::Bore, caliper(45.3));
    // IS42: 3.94 * 10.447 * 0.001 / 60; none: 0.01/0.99 * 20.1 / 3 / 60^2: 4.116e-2 against 1.128e-3 (both * 60):
    // 0.973 for the standard sizes, shared as above: 0.9904 * 0.973 = 0.964.
    let posterior = identify(&evidence);
    close(posterior.probability_no_standard(), 0.0264, 5e-5);
}

#[test]
fn a_bore_that_wore_loose_keeps_its_name() {
    // 0.05 mm over the limit: it is still a 44, and the press fit reports that it is loose.
    let evidence = upper().with(SeatDimension::Bore, Estimate::new(44.0, 0.01));
    assert_eq!(frame_seat(identify(&evidence).identified().unwrap()), FrameSeat::Pressed(44));
}

#[test]
fn quantities_lead_to_their_seat_and_back() {
    assert_eq!(SeatDimension::of(Quantity::LowerBoreDiameter), Some((End::Lower, SeatDimension::Bore)),);
    assert_eq!(SeatDimension::of(Quantity::LowerBoreDepth), None);
    for end in End::BOTH {
        for dimension in SeatDimension::ALL {
            assert_eq!(SeatDimension::of(dimension.quantity(end)), Some((end, dimension)));
        }
    }
}

// Identification against a second implementation (tests/oracle/seats.py).

#[test]
fn posteriors_are_those_of_plain_products_at_forty_digits() {
    let document: Value = serde_json::from_str(include_str!("../../data/oracle/seats.json")).unwrap();
    let cases = document["cases"].as_array().unwrap();
    assert!(cases.len() > 150);
    for case in cases {
        let mut evidence: SeatEvidence =
            SeatEvidence::none(if case["end"] == "upper" { End::Upper } else { End::Lower });
        evidence.observed = serde_json::from_value(case["observed"].clone()).unwrap();
        evidence.fork_out = case["fork_out"].as_bool();
        for (name, dimension) in [
            ("bearing_outer", SeatDimension::BearingOuter),
            ("bearing_inner", SeatDimension::BearingInner),
            ("bearing_height", SeatDimension::BearingHeight),
            ("bore", SeatDimension::Bore),
            ("cup_outer", SeatDimension::CupOuter),
        ] {
            if let Some(pair) = case[name].as_array() {
                evidence = evidence
                    .with(dimension, Estimate::new(pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap()));
            }
        }
        let posterior = identify(&evidence);
        let expected = case["posterior"].as_object().unwrap();
        assert_eq!(posterior.entries().len(), expected.len());
        for (code, p) in posterior.entries() {
            let name = code.map_or_else(|| "none".to_owned(), |code| code.to_string());
            let expected = expected[&name].as_f64().unwrap();
            // Rounding of a few sums of logarithms of size 100.
            assert!((p - expected).abs() <= 1e-12 + 1e-11 * expected, "{name} {p} {expected} in {case}");
        }
    }
}

// Properties.

fn readings() -> impl Strategy<Value = Option<Estimate>> {
    let wild = prop_oneof![
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(0.0),
        Just(f64::MAX),
        Just(f64::MIN_POSITIVE),
        Just(-1.0),
        any::<f64>(),
        20.0..70.0f64,
    ];
    let usual = (25.0..65.0f64, 0.0..2.0f64);
    proptest::option::of(
        prop_oneof![(wild.clone(), wild), usual].prop_map(|(value, u)| Estimate::new(value, u)),
    )
}

fn evidences() -> impl Strategy<Value = SeatEvidence> {
    let seen = prop_oneof![
        Just(None),
        Just(Some(ObservedSeat::DropIn)),
        Just(Some(ObservedSeat::ThinLip)),
        Just(Some(ObservedSeat::ExternalCup)),
        Just(Some(ObservedSeat::NotSeen)),
    ];
    (
        prop_oneof![Just(End::Upper), Just(End::Lower)],
        seen,
        any::<Option<bool>>(),
        (readings(), readings(), readings(), readings(), readings()),
    )
        .prop_map(
            |(end, observed, fork_out, (bearing_outer, bearing_inner, bearing_height, bore, cup_outer))| {
                SeatEvidence {
                    end,
                    fitted: None,
                    observed,
                    fork_out,
                    bearing_outer,
                    bearing_inner,
                    bearing_height,
                    bore,
                    cup_outer,
                }
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn a_posterior_is_one_whatever_is_put_in(evidence in evidences()) {
        let posterior = identify(&evidence);
        let sum: f64 = posterior.entries().iter().map(|(_, p)| p).sum();
        prop_assert!((sum - 1.0).abs() < 1e-9, "sum {sum}");
        prop_assert!(posterior.entries().iter().all(|(_, p)| (0.0..=1.0).contains(p)));
        prop_assert!(posterior.entries().windows(2).all(|pair| pair[0].1 >= pair[1].1));
        for (code, p) in posterior.entries() {
            if let Some(code) = code {
                prop_assert!(posterior.probability_of_frame_seat(*code) >= p - 1e-12);
            }
        }
    }

    /// A reading without information changes nothing: as its uncertainty grows all densities become one. To second
    /// order they differ by (distance / u)^2 / 2, with distances up to 45 mm. (That a cup could be measured at all is
    /// information, so cups are left out.)
    #[test]
    fn a_reading_without_worth_leaves_the_posterior(
        evidence in evidences(), value in 20.0..65.0f64, u in 1e4..1e6f64, which in 0usize..4,
    ) {
        let dimension = SeatDimension::ALL[which];
        let mut without = evidence;
        match dimension {
            SeatDimension::BearingOuter => without.bearing_outer = None,
            SeatDimension::BearingInner => without.bearing_inner = None,
            SeatDimension::BearingHeight => without.bearing_height = None,
            _ => without.bore = None,
        }
        let (before, after) = (identify(&without), identify(&without.with(dimension, Estimate::new(value, u))));
        for size in sizes() {
            let (before, after) = (before.probability_of(size.code), after.probability_of(size.code));
            prop_assert!((before - after).abs() < 2e-5, "{}: {before} {after}", size.code);
        }
    }

    /// At the nominal value of a size a more certain reading never makes that size less probable.
    #[test]
    fn a_surer_reading_of_the_nominal_value_speaks_for_it(a in 0.0..3.0f64, b in 0.0..3.0f64, which in 0usize..3) {
        let (name, outer) = [("IS41", 41.0), ("IS42", 41.8), ("IS52", 51.9)][which];
        let p = |u| {
            identify(&upper().with(SeatDimension::BearingOuter, Estimate::new(outer, u))).probability_of(code(name))
        };
        prop_assert!(p(a.min(b)) >= p(a.max(b)) - 1e-12);
    }

    #[test]
    fn pulling_the_fork_makes_a_look_count_more(outer in 37.0..53.0f64) {
        let evidence = upper().with(SeatDimension::BearingOuter, caliper(outer));
        let p = |fork_out| probability_drop_in(&identify(&evidence.looked(ObservedSeat::DropIn, fork_out)));
        prop_assert!(p(true) >= p(false));
    }
}

// Prediction.

/// The expected posterior is the present one: the posteriors after every possible reading, weighted by the probability
/// of that reading, add up to the present posterior.
#[test]
fn predictions_and_posteriors_agree() {
    let evidence = upper().looked(ObservedSeat::ThinLip, false);
    let u = 0.25;
    for (evidence, dimension) in [
        (evidence, SeatDimension::BearingOuter),
        (evidence, SeatDimension::Bore),
        (evidence.with(SeatDimension::BearingOuter, caliper(41.8)), SeatDimension::Bore),
        (evidence.with(SeatDimension::Bore, Estimate::new(43.9, 0.3)), SeatDimension::BearingOuter),
    ] {
        let now = identify(&evidence);
        let predictive = now.predictive(dimension, u).unwrap();
        let weights: f64 = predictive.components.iter().map(|component| component.weight).sum();
        close(weights + predictive.flat, 1.0, 1e-12);
        let [low, high] = predictive.flat_span;
        let density = |m: f64| {
            predictive.components.iter().fold(predictive.flat / (high - low), |sum, component| {
                let z = (m - component.mean) / component.sd;
                sum + component.weight * (-z * z / 2.0).exp() / component.sd / std::f64::consts::TAU.sqrt()
            })
        };
        let step = 0.01;
        let points: Vec<f64> = (0..6000).map(|i| low + (f64::from(i) + 0.5) * step).collect();
        close(points.iter().map(|m| density(*m) * step).sum(), 1.0, 1e-9);
        let mut mean = std::collections::BTreeMap::new();
        for m in points {
            for (code, p) in identify(&evidence.with(dimension, Estimate::new(m, u))).entries() {
                *mean.entry(*code).or_insert(0.0) += p * density(m) * step;
            }
        }
        for (code, p) in now.entries() {
            close(mean[code], *p, 1e-9);
        }
    }
}

#[test]
fn a_look_is_predicted_by_total_probability() {
    let posterior = identify(&upper().with(SeatDimension::BearingOuter, caliper(41.8)));
    // By the weights above: drop-in 4 * 0.94 + 3.645 * 0.10 + 0.875 * 0.01 + 0.000108 = 4.13336 of 8.52 + 0.000324;
    // outliers of other sizes (11.58 * 0.001 / 60 / 10.447 = 1.8e-5) are negligible.
    let [(seen, p), ..] = posterior.predicted_look(false);
    assert_eq!(seen, ObservedSeat::DropIn);
    close(p, 4.13336 / 8.52032, 5e-6);
    let all: f64 = posterior.predicted_look(true).iter().map(|(_, p)| p).sum();
    close(all, 1.0, 1e-12);
}

#[test]
fn a_cup_is_predicted_where_there_is_one() {
    let posterior = identify(&upper());
    let predictive = posterior.predictive(SeatDimension::CupOuter, 0.025).unwrap();
    // Pressed seats weigh 8.15 + 3.05 = 11.2 of 20.1, both 44 mm cups 7.4; "no standard size" 0.01.
    let pressed = 0.99 * 11.2 / 20.1;
    let first = predictive.components[0];
    close(first.weight, 0.999 * 0.99 * 7.4 / 20.1 / (pressed + 0.01), 1e-9);
    close(first.mean, 43.985, 1e-9);
    close(predictive.flat, (0.01 + 0.001 * pressed) / (pressed + 0.01), 1e-9);
    assert_eq!(posterior.predictive(SeatDimension::Bore, f64::NAN), None);
    assert_eq!(posterior.predictive(SeatDimension::Bore, -1.0), None);
    assert_eq!(posterior.predictive(SeatDimension::BearingHeight, 0.1), None);
}
