//! Conformity with limits against the worked examples of JCGM 106:2012, and its properties.
#![expect(clippy::float_cmp, reason = "these results are exact")]

use proptest::prelude::*;
use steerwright_core::conformity::{Limits, joint_bounds, margin, probability};
use steerwright_core::quantity::Estimate;

/// Composite Simpson rule.
fn integral(from: f64, to: f64, pieces: usize, f: impl Fn(f64) -> f64) -> f64 {
    let h = (to - from) / (2 * pieces) as f64;
    let inner =
        (1..2 * pieces).map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * f(from + i as f64 * h)).sum::<f64>();
    (f(from) + inner + f(to)) * h / 3.0
}

/// Gamma density with shape 4 and rate 4 per micrometre.
fn run_out(x: f64) -> f64 {
    256.0 / 6.0 * x.powi(3) * (-4.0 * x).exp()
}

/// JCGM 106:2012, 9.5.4, run-out of ball bearings: prior gamma(4, 4), limit 2 um, u 0.25 um. V.
#[test]
fn ball_bearings() {
    let (limit, u) = (2.0, 0.25);
    // Less than 1e-17 of the prior is beyond 12 um.
    let not_conforming = integral(limit, 12.0, 4000, run_out);
    assert!((not_conforming - 0.04238).abs() <= 0.000005, "{not_conforming}");

    let accepted_wrongly = |acceptance: f64| {
        integral(limit, 12.0, 4000, |x| {
            run_out(x) * probability(Estimate::new(x, u), Limits::at_most(acceptance))
        })
    };
    let risk = accepted_wrongly(limit);
    assert!((risk - 0.00802).abs() <= 0.000005, "{risk}");

    // The acceptance limit at which the consumer's risk is 0.1 %, by bisection.
    let (mut low, mut high) = (1.0, 2.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if accepted_wrongly(middle) > 0.001 { high = middle } else { low = middle }
    }
    assert!((low - 1.6718).abs() <= 0.00005, "{low}");
}

/// Specific risk of y 9.8, u 0.1 with limits 9 and 10: 0.022750131948. V.
#[test]
fn specific_risk_of_one_item() {
    let risk = 1.0 - probability(Estimate::new(9.8, 0.1), Limits::between(9.0, 10.0));
    assert!((risk - 0.022750131948).abs() <= 5e-13, "{risk}");
}

/// A voltage of -5.47 with u 0.05 and the limit -5.40: conforms with probability 0.92. M (from memory), recomputed.
#[test]
fn voltage_below_its_limit() {
    let p = probability(Estimate::new(-5.47, 0.05), Limits::at_most(-5.40));
    assert!((p - 0.92).abs() <= 0.005, "{p}");
}

#[test]
fn a_far_away_interval_keeps_its_digits() {
    // 1 - Phi(10) and 1 - Phi(11) are 7.6e-24 and 1.9e-28: mpmath gives 7.61966195820308e-24 for the difference.
    for (limits, x) in [(Limits::between(10.0, 11.0), 0.0), (Limits::between(-11.0, -10.0), 0.0)] {
        let p = probability(Estimate::new(x, 1.0), limits);
        assert!((p / 7.619_661_958_203_08e-24 - 1.0).abs() < 1e-14, "{p:e}");
    }
}

#[test]
fn exact_values_step_and_a_value_on_the_limit_conforms() {
    let limits = Limits::between(100.0, 125.0);
    for (value, conforms) in [(100.0, 1.0), (125.0, 1.0), (99.999, 0.0), (125.001, 0.0), (110.0, 1.0)] {
        assert_eq!(probability(Estimate::exact(value), limits), conforms, "{value}");
    }
}

#[test]
fn what_makes_no_question_has_no_answer() {
    let limits = Limits::at_least(1.0);
    for x in [
        Estimate::new(f64::NAN, 1.0),
        Estimate::new(1.0, f64::NAN),
        Estimate::new(1.0, -0.1),
        Estimate::new(f64::INFINITY, 1.0),
        Estimate::new(1.0, f64::INFINITY),
    ] {
        assert!(probability(x, limits).is_nan(), "{x:?}");
    }
    assert!(probability(Estimate::new(1.0, 1.0), Limits::between(f64::NAN, 2.0)).is_nan());
    assert!(margin(Estimate::new(1.0, 1.0), Limits::between(0.0, f64::NAN)).value.is_nan());
    assert_eq!(probability(Estimate::new(1.5, 1.0), Limits::between(2.0, 1.0)), 0.0);
    assert!(margin(Estimate::new(1.5, 1.0), Limits::between(2.0, 1.0)).value < 0.0);
}

#[test]
fn margin_is_the_distance_to_the_nearer_limit() {
    let head_tube = Estimate::new(113.0, 0.25);
    assert_eq!(margin(head_tube, Limits::between(100.0, 125.0)), Estimate::new(12.0, 0.25));
    assert_eq!(margin(head_tube, Limits::between(100.0, 110.0)), Estimate::new(-3.0, 0.25));
    assert_eq!(margin(head_tube, Limits::at_least(100.0)), Estimate::new(13.0, 0.25));
    let unlimited = Limits::between(f64::NEG_INFINITY, f64::INFINITY);
    assert_eq!(margin(head_tube, unlimited).value, f64::INFINITY);
    assert_eq!(probability(head_tube, unlimited), 1.0);
}

#[test]
fn joint_bounds_of_nothing_one_and_unknown() {
    let bounds = |p: &[f64]| {
        let bounds = joint_bounds(p.iter().copied());
        (bounds.low, bounds.high)
    };
    assert_eq!(bounds(&[]), (1.0, 1.0));
    assert_eq!(bounds(&[0.75]), (0.75, 0.75));
    assert_eq!(bounds(&[0.75, 0.5]), (0.25, 0.5));
    assert_eq!(bounds(&[0.25, 0.5]), (0.0, 0.25));
    assert_eq!(bounds(&[0.75, f64::NAN]), (0.0, 0.75));
    assert_eq!(bounds(&[2.0, -1.0]), (0.0, 0.0));
}

proptest! {
    #[test]
    fn likelier_with_more_margin(lower in -100.0..100.0f64, u in 1e-3..10.0f64, x in -100.0..100.0f64, more in 1e-3..10.0f64) {
        let limits = Limits::at_least(lower);
        let (near, far) = (Estimate::new(x, u), Estimate::new(x + more, u));
        prop_assert!(margin(far, limits).value > margin(near, limits).value);
        // In the far tails neighbours may round equally; 4e-16 is a few units of the last place of 1.
        prop_assert!(probability(far, limits) >= probability(near, limits) * (1.0 - 4e-16));
    }

    #[test]
    fn inside_and_both_outsides_make_one(x in -10.0..10.0f64, u in 1e-3..10.0f64, a in -10.0..10.0f64, width in 0.0..10.0f64) {
        let (x, b) = (Estimate::new(x, u), a + width);
        let sum = probability(x, Limits::between(a, b))
            + probability(x, Limits::at_most(a))
            + probability(x, Limits::at_least(b));
        prop_assert!((sum - 1.0).abs() <= 1e-15, "{}", sum);
    }

    #[test]
    fn mirror_images_are_alike(x in -10.0..10.0f64, u in 0.0..10.0f64, a in -10.0..10.0f64, width in 0.0..10.0f64) {
        let there = probability(Estimate::new(x, u), Limits::between(a, a + width));
        let back = probability(Estimate::new(-x, u), Limits::between(-a - width, -a));
        prop_assert_eq!(there.to_bits(), back.to_bits());
    }

    #[test]
    fn bounds_are_ordered_and_shrink_with_every_event(p in prop::collection::vec(0.0..=1.0f64, 0..12), another in 0.0..=1.0f64) {
        let before = joint_bounds(p.iter().copied());
        prop_assert!(0.0 <= before.low && before.low <= before.high && before.high <= 1.0);
        // Independent events are between; the product rounds by half a unit for each factor.
        let product: f64 = p.iter().product();
        prop_assert!(before.low - 1e-14 <= product && product <= before.high);
        let after = joint_bounds(p.iter().copied().chain([another]));
        prop_assert!(after.low <= before.low && after.high <= before.high);
    }

    #[test]
    fn no_number_makes_it_panic_or_leave_the_unit_interval(bits in any::<[u64; 4]>()) {
        let [value, u, lower, upper] = bits.map(f64::from_bits);
        let x = Estimate::new(value, u);
        let limits = Limits::between(lower, upper);
        let p = probability(x, limits);
        prop_assert!(p.is_nan() || (0.0..=1.0).contains(&p));
        prop_assert_eq!(p.is_nan(), !x.is_sound() || lower.is_nan() || upper.is_nan());
        let bounds = joint_bounds([value, u, lower, upper]);
        prop_assert!(0.0 <= bounds.low && bounds.low <= bounds.high && bounds.high <= 1.0);
        prop_assert_eq!(margin(x, limits).u.to_bits(), u.to_bits());
    }
}
