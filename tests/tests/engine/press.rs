//! Press fits compared with textbook examples, standards, hand arithmetic and numerical integration.
#![expect(clippy::unwrap_used, reason = "a helper of tests may panic like a test")]

use proptest::prelude::*;
use serde_json::Value;
use steerwright_core::headset::sizes;
use steerwright_core::press::lame::{Elastic, Rings};
use steerwright_core::press::{
    Diameter, Material, Metal, PressError, PressFit, PressInput, PressVerdict, press_fit,
};
use steerwright_core::quantity::Estimate;

#[track_caller]
fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} within {tolerance}");
}

fn measured(value: f64, u: f64) -> Diameter {
    Diameter::measured(Estimate::new(value, u))
}

fn limits(low: f64, high: f64) -> Diameter {
    Diameter::Limits { low, high }
}

fn fit(cup: Diameter, bore: Diameter, material: Material) -> PressFit {
    press_fit(&PressInput { material: Some(material), ..PressInput::new(cup, bore) }).unwrap()
}

const STEEL: Elastic = Elastic { young_mpa: 207_000.0, poisson: 0.3 };

/// Bhandari, Design of Machine Elements, example 22.8 (V): tube 50/75, jacket 75/100, E 207 GPa, pressure
/// 3.615169 N/mm2, jacket bore 74.991916. The bore is printed to 1e-6 mm.
#[test]
fn a_jacketed_tube_presses_as_in_the_textbook() {
    let rings = Rings { outside_mm: 100.0, contact_mm: 75.0, inside_mm: 50.0, outer: STEEL, inner: STEEL };
    close(rings.compliance().unwrap() * 3.615_169, 75.0 - 74.991_916, 5e-7);
    // Half of the last printed digit of the bore, as pressure.
    close(rings.pressure(75.0 - 74.991_916).unwrap(), 3.615_169, 5e-7 / rings.compliance().unwrap());
}

/// Greatest hoop stress of the outer ring at an interference, MPa.
fn hoop_stress(rings: &Rings, interference_mm: f64) -> f64 {
    rings.pressure(interference_mm).unwrap() * rings.hoop_factor().unwrap()
}

/// The same book, example 22.6 (V): tubes 20/40 and 40/60, greatest stress 100 N/mm2 in the jacket, whose bore
/// comes to 39.968289.
#[test]
fn a_jacket_bears_what_the_textbook_allows() {
    let rings = Rings { outside_mm: 60.0, contact_mm: 40.0, inside_mm: 20.0, outer: STEEL, inner: STEEL };
    // (3600 + 1600) / (3600 - 1600)
    close(rings.hoop_factor().unwrap(), 2.6, 1e-12);
    let per_mm = hoop_stress(&rings, 1.0);
    close(hoop_stress(&rings, 40.0 - 39.968_289), 100.0, 5e-7 * per_mm);
}

/// ISO 286-2, over 30 to 50 mm (F): H7 +0.025/0, s6 +0.059/+0.043. Bhandari, example 3.3 (V): 50 H7/s6 has an
/// interference of 0.018 to 0.059 mm.
#[test]
fn limits_of_a_standard_fit_give_its_interference() {
    let fit = fit(limits(50.043, 50.059), limits(50.0, 50.025), Material::Steel);
    close(fit.smallest, 0.018, 1e-9);
    close(fit.largest, 0.059, 1e-9);
    // Uniform between limits: middle 0.051 - 0.0125, u = sqrt(0.008^2 + 0.0125^2) / sqrt(3).
    close(fit.interference.value, 0.0385, 1e-9);
    close(fit.interference.u, 0.008_568, 5e-7);
    // Loose below 0.02: a corner of two uniform distributions, (0.02 - 0.018)^2 / 2 / (0.016 * 0.025) = 0.005.
    close(fit.p_loose, 0.005, 1e-9);
    assert!(!fit.bore_measured);
}

/// A 44 mm reamer cuts 43.95 (F); a cup of 44.00 then holds, with at most 0.1 mm required (F).
#[test]
fn a_reamed_bore_holds_its_cup() {
    let fit = fit(measured(44.0, 0.01), measured(43.95, 0.01), Material::Aluminium);
    close(fit.interference.value, 0.05, 1e-9);
    close(fit.interference.u, 0.014_142, 5e-7);
    // (0.02 - 0.05) / 0.014142 = -2.1213 -> 0.01695; (0.05 - 0.1) / 0.014142 = -3.5355 -> 0.000203.
    close(fit.p_loose, 0.016_95, 5e-6);
    close(fit.p_tight, 0.000_203, 5e-7);
    close(fit.p_right, 1.0 - 0.016_95 - 0.000_203, 6e-6);
    assert_eq!(fit.verdict, PressVerdict::Right);
    assert!(fit.bore_measured);
}

/// Reamed bores are often 0.05 mm oval (F).
#[test]
fn an_oval_bore_shows_in_the_extremes() {
    let oval = Diameter::Measured { estimate: Estimate::new(43.945, 0.01), smallest: 43.92, largest: 43.97 };
    let fit = fit(measured(44.0, 0.01), oval, Material::Aluminium);
    close(fit.smallest, 0.03, 1e-9);
    close(fit.largest, 0.08, 1e-9);
    close(fit.interference.value, 0.055, 1e-9);
}

#[test]
fn every_size_fits_its_own_limits() {
    for size in sizes() {
        let Some(cup) = &size.cup else { continue };
        let ([low, high], [narrow, wide]) = (cup.limits, size.bore.limits);
        let fit = fit(limits(low, high), limits(narrow, wide), Material::Aluminium);
        // The least interference is 0.02 by the table's own rule; 1e-9 for its decimals.
        assert!(fit.p_loose < 1e-9 && fit.smallest > 0.02 - 1e-9, "{} {fit:?}", size.code);
        // Bores of 0.05 mm tolerance are never tight; wider ones (EC30, EC34, ...) have to be measured.
        if wide - narrow < 0.0501 {
            assert!(fit.p_tight < 1e-9 && fit.verdict == PressVerdict::Right, "{} {fit:?}", size.code);
        }
    }
}

/// By hand, all walls exact: tube 44/50, cup 41/44, aluminium 68.9 GPa, 0.33.
/// (2500+1936)/(2500-1936) = 7.865248; (1936+1681)/(1936-1681) = 14.184314;
/// 44 * (7.865248 + 14.184314) / 68900 = 0.01408100 mm per MPa; 0.05 mm -> 3.5509 MPa, hoop 27.929 MPa.
#[test]
fn an_aluminium_head_tube_by_hand() {
    let input = PressInput {
        wall: Some(Estimate::exact(3.0)),
        cup_wall: Some(Estimate::exact(1.5)),
        material: Some(Material::Aluminium),
        ..PressInput::new(measured(44.05, 0.01), measured(44.0, 0.01))
    };
    let fit = press_fit(&input).unwrap();
    let stress = fit.stress.unwrap();
    assert_eq!((stress.metal, stress.assumed), (Metal::Aluminium, false));
    close(stress.pressure_mpa.value, 3.5509, 5e-5);
    close(stress.hoop_stress_mpa.value, 27.929, 5e-4);
    // All uncertainty is that of the interference, 0.0141421 / 0.05 of the value.
    close(stress.hoop_stress_mpa.u, 27.929 * 0.282_843, 5e-4);
    // A third of 276 MPa corresponds to 0.1647 mm, so 0.1 governs.
    close(stress.allowed_mpa, 92.0, 1e-9);
    assert_eq!(fit.admissible, [Estimate::exact(0.02), Estimate::exact(0.1)]);
}

/// A steel head tube with a 1 mm wall, 44/46: (2116+1936)/(2116-1936) = 22.51111;
/// 44 * ((22.51111+0.29)/205000 + (14.184314-0.33)/68900) = 0.01374135; 350/3 MPa at
/// 116.6667 * 0.01374135 / 22.51111 = 0.071216 mm.
#[test]
fn a_thin_steel_head_tube_bears_less_than_a_tenth() {
    let input = |mm: f64| PressInput {
        wall: Some(Estimate::exact(1.0)),
        cup_wall: Some(Estimate::exact(1.5)),
        material: Some(Material::Steel),
        ..PressInput::new(measured(44.0 + mm, 0.0), measured(44.0, 0.0))
    };
    let fit = press_fit(&input(0.08)).unwrap();
    close(fit.admissible[1].value, 0.071_216, 5e-7);
    assert_eq!((fit.verdict, fit.p_tight), (PressVerdict::Tight, 1.0));
    assert_eq!(press_fit(&input(0.07)).unwrap().verdict, PressVerdict::Right);
}

#[test]
fn an_unmeasured_wall_is_uncertain() {
    let fit = fit(measured(44.05, 0.0), measured(44.0, 0.0), Material::Aluminium);
    let stress = fit.stress.unwrap();
    close(stress.wall.value, 3.0, 1e-12);
    // Half-width 1 mm: u = 1/sqrt(3).
    close(stress.wall.u, 0.577_350, 5e-7);
    close(stress.hoop_stress_mpa.value, 27.929, 5e-4);
    assert!(stress.hoop_stress_mpa.u > 1.0);
}

#[test]
fn an_unknown_metal_is_the_one_that_bears_least() {
    let known = |material| {
        let bearable = |metal: Metal| {
            let aluminium = Metal::Aluminium.elastic();
            let rings = Rings {
                outside_mm: 50.0,
                contact_mm: 44.0,
                inside_mm: 41.0,
                outer: metal.elastic(),
                inner: aluminium,
            };
            metal.yield_mpa() / 3.0 / hoop_stress(&rings, 1.0)
        };
        bearable(material)
    };
    // By hand: aluminium 0.165, steel 0.157, titanium 0.264 mm.
    close(known(Metal::Aluminium), 0.165, 5e-4);
    close(known(Metal::Steel), 0.157, 5e-4);
    close(known(Metal::Titanium), 0.264, 5e-4);
    for material in [None, Some(Material::NotKnown)] {
        let input = PressInput { material, ..PressInput::new(measured(44.05, 0.01), measured(44.0, 0.01)) };
        let stress = press_fit(&input).unwrap().stress.unwrap();
        assert_eq!((stress.metal, stress.assumed), (Metal::Steel, true));
    }
}

#[test]
fn carbon_has_no_stress_verdict() {
    let carbon = |cup| fit(measured(cup, 0.005), measured(43.95, 0.005), Material::Carbon);
    let right = carbon(44.0);
    assert_eq!((right.verdict, right.stress), (PressVerdict::AskFrameMaker, None));
    // Results that do not depend on the material are still given.
    assert_eq!(carbon(43.95).verdict, PressVerdict::Loose);
    assert_eq!(carbon(44.2).verdict, PressVerdict::Tight);
}

/// Cup 44.00, bore uniform in 43.90-44.00: interference uniform over 0-0.1 mm, a fifth of it below 0.02. Cup uniform in
/// 44.00-44.02, bore in 43.98-44.00: a triangle over 0-0.04 mm, half of it below 0.02.
#[test]
fn limits_are_even_not_normal() {
    let one = fit(measured(44.0, 0.0), limits(43.9, 44.0), Material::Aluminium);
    close(one.p_loose, 0.2, 1e-9);
    close(one.p_tight, 0.0, 1e-9);
    let two = fit(limits(44.0, 44.02), limits(43.98, 44.0), Material::Aluminium);
    close(two.p_loose, 0.5, 1e-9);
    // The normal distribution of the same u would give Phi((0.02 - 0.05) / 0.028868) = 0.149 for the first.
    assert!((one.p_loose - 0.149).abs() > 0.05);
}

#[test]
fn on_the_limit_is_within() {
    // Binary fractions, so that the difference is exact: 0.125 mm is over the rule, 0 is under it.
    let exact = |cup| fit(measured(cup, 0.0), measured(44.0, 0.0), Material::Aluminium);
    assert_eq!((exact(44.125).p_loose, exact(44.125).p_tight), (0.0, 1.0));
    assert_eq!((exact(44.0).p_loose, exact(44.0).p_tight), (1.0, 0.0));
    assert_eq!((exact(44.0625).p_loose, exact(44.0625).p_tight, exact(44.0625).p_right), (0.0, 0.0, 1.0));
}

#[test]
fn a_cup_that_falls_through_presses_with_nothing() {
    let fit = fit(measured(43.8, 0.01), measured(44.0, 0.01), Material::Aluminium);
    let stress = fit.stress.unwrap();
    close(stress.pressure_mpa.value, 0.0, 0.0);
    assert!(stress.pressure_mpa.u > 0.0);
    assert_eq!(fit.verdict, PressVerdict::Loose);
}

#[test]
fn numbers_out_of_domain_are_refused_by_name() {
    let good = measured(44.0, 0.01);
    for bad in [
        measured(f64::NAN, 0.01),
        measured(44.0, -0.1),
        measured(44.0, f64::INFINITY),
        measured(4.4, 0.01),
        limits(44.0, 43.0),
        limits(43.0, f64::INFINITY),
        Diameter::Measured { estimate: Estimate::new(44.0, 0.01), smallest: 44.1, largest: 43.9 },
    ] {
        assert_eq!(
            press_fit(&PressInput::new(bad, good)),
            Err(PressError::Diameter { part: "cup" }),
            "{bad:?}"
        );
        assert_eq!(
            press_fit(&PressInput::new(good, bad)),
            Err(PressError::Diameter { part: "bore" }),
            "{bad:?}"
        );
    }
    let wall = |value, u| PressInput { wall: Some(Estimate::new(value, u)), ..PressInput::new(good, good) };
    for (value, u) in [(0.0, 0.0), (-3.0, 0.1), (30.0, 0.1), (3.0, 4.0), (3.0, f64::NAN)] {
        let error = press_fit(&wall(value, u)).unwrap_err();
        assert!(error.to_string().starts_with("head tube wall of "), "{error}");
    }
    let thick = PressInput { cup_wall: Some(Estimate::exact(22.0)), ..PressInput::new(good, good) };
    assert_eq!(
        press_fit(&thick).unwrap_err().to_string(),
        "cup wall of 22 mm: expected from 0.2 to under 22 mm, with an uncertainty no greater than the wall"
    );
}

#[test]
fn rings_out_of_domain_have_no_pressure() {
    let rings = Rings { outside_mm: 60.0, contact_mm: 40.0, inside_mm: 20.0, outer: STEEL, inner: STEEL };
    assert_eq!(Rings { contact_mm: 60.0, ..rings }.pressure(0.1), None);
    assert_eq!(Rings { inside_mm: 40.0, ..rings }.hoop_factor(), None);
    assert_eq!(Rings { inside_mm: -1.0, ..rings }.compliance(), None);
    assert_eq!(Rings { outside_mm: f64::NAN, ..rings }.compliance(), None);
    assert_eq!(Rings { outer: Elastic { young_mpa: 0.0, poisson: 0.3 }, ..rings }.compliance(), None);
    assert_eq!(rings.pressure(f64::NAN), None);
    assert_eq!(rings.pressure(-0.1), Some(0.0));
    assert!(Rings { inside_mm: 0.0, ..rings }.pressure(0.1).unwrap() > rings.pressure(0.1).unwrap());
}

// Against tests/oracle/press.py.

fn oracle() -> Value {
    serde_json::from_str(include_str!("../../data/oracle/press.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn rings_of_two_metals_press_as_elasticity_says() {
    let document = oracle();
    let cases = document["rings"].as_array().unwrap();
    assert!(cases.len() >= 40);
    for case in cases {
        let elastic =
            |name: &str| Elastic { young_mpa: number(&case[name][0]), poisson: number(&case[name][1]) };
        let rings = Rings {
            outside_mm: number(&case["outside"]),
            contact_mm: number(&case["contact"]),
            inside_mm: number(&case["inside"]),
            outer: elastic("outer"),
            inner: elastic("inner"),
        };
        let interference = number(&case["interference"]);
        let (pressure, hoop) = (number(&case["pressure"]), number(&case["hoop"]));
        close(rings.pressure(interference).unwrap(), pressure, 1e-12 * pressure);
        close(hoop_stress(&rings, interference), hoop, 1e-12 * hoop);
    }
}

#[test]
fn probabilities_are_those_of_numerical_integration() {
    let document = oracle();
    let cases = document["below"].as_array().unwrap();
    assert!(cases.len() >= 60);
    for case in cases {
        let diameter = |part: &Value| match part["u"].as_f64() {
            Some(u) => measured(number(&part["value"]), u),
            None => limits(number(&part["low"]), number(&part["high"])),
        };
        // Carbon: the upper limit is 0.1 mm, whatever the wall.
        let fit = fit(diameter(&case["cup"]), diameter(&case["bore"]), Material::Carbon);
        let below = if number(&case["limit"]) < 0.05 { fit.p_loose } else { 1.0 - fit.p_tight };
        // A diameter of 44 mm carries 7e-15 mm of rounding; over the narrowest spread here, 2e-5 mm, that is 4e-10.
        close(below, number(&case["p"]), 1e-9);
    }
}

// Properties.

fn diameters(middle: f64) -> impl Strategy<Value = Diameter> {
    let value = middle - 0.2..middle + 0.2;
    prop_oneof![
        (value.clone(), prop_oneof![Just(0.0), 0.0..0.1f64]).prop_map(|(value, u)| measured(value, u)),
        (value, prop_oneof![Just(0.0), 1e-12..0.2f64]).prop_map(|(low, width)| limits(low, low + width)),
    ]
}

fn materials() -> impl Strategy<Value = Option<Material>> {
    prop_oneof![
        Just(None),
        Just(Some(Material::Aluminium)),
        Just(Some(Material::Carbon)),
        Just(Some(Material::Steel)),
        Just(Some(Material::Titanium)),
        Just(Some(Material::NotKnown)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn a_larger_bore_is_looser(
        cup in diameters(44.0), bore in diameters(43.93), more in 0.0..0.2f64, material in materials(),
    ) {
        let wider = match bore {
            Diameter::Measured { estimate, .. } => measured(estimate.value + more, estimate.u),
            Diameter::Limits { low, high } => limits(low + more, high + more),
        };
        let input = |bore| PressInput { material, ..PressInput::new(cup, bore) };
        let (before, after) = (press_fit(&input(bore)).unwrap(), press_fit(&input(wider)).unwrap());
        // Both are exact to about 1e-12 of probability; see the rounding of 44 mm above for the rest.
        prop_assert!(after.p_loose >= before.p_loose - 1e-9);
        // The allowed interference grows slightly with the bore, so the probability of tightness falls all the more.
        prop_assert!(after.p_tight <= before.p_tight + 1e-9);
    }

    #[test]
    fn probabilities_are_probabilities(
        cup in diameters(44.0), bore in diameters(43.93), material in materials(), wall in 0.2..29.0f64, u in 0.0..1.0f64,
    ) {
        let wall = Some(Estimate::new(wall, u * wall));
        let fit = press_fit(&PressInput { material, wall, ..PressInput::new(cup, bore) }).unwrap();
        for p in [fit.p_loose, fit.p_tight, fit.p_right] {
            prop_assert!((0.0..=1.0).contains(&p), "{fit:?}");
        }
        prop_assert!(fit.smallest <= fit.interference.value + 1e-9 && fit.interference.value <= fit.largest + 1e-9);
        prop_assert!(fit.admissible[1].is_sound() && fit.admissible[1].value <= 0.1);
        if let Some(stress) = fit.stress {
            prop_assert!(stress.pressure_mpa.is_sound() && stress.hoop_stress_mpa.is_sound(), "{stress:?}");
        }
    }

    /// Thinner walls are stressed more, and thick-ring stress tends to the boiler formula p d / (2 t): the difference
    /// is between a half and one pressure.
    #[test]
    fn a_thin_wall_is_a_boiler(wall in 0.05..5.0f64) {
        let rings = |wall: f64| Rings {
            outside_mm: 44.0 + 2.0 * wall, contact_mm: 44.0, inside_mm: 41.0, outer: STEEL, inner: STEEL,
        };
        prop_assert!(hoop_stress(&rings(wall), 0.05) > hoop_stress(&rings(wall * 1.01), 0.05));
        // (D^2 + d^2) / (D^2 - d^2) with D = d + 2 t is d / (2 t) + (d + 2 t) / (2 (d + t)).
        let rest = rings(wall).hoop_factor().unwrap() - 44.0 / (2.0 * wall);
        prop_assert!((rest - (44.0 + 2.0 * wall) / (2.0 * (44.0 + wall))).abs() < 1e-9, "{rest}");
    }
}
