//! The expected decrease of the probability of a wrong answer by a measurement.

use steerwright_metrology::conformity::{Limits, probability};
use steerwright_metrology::quantity::Estimate;

/// The chance that the likeliest of a requirement's three answers is wrong.
///
/// `p` is the probability that it is met as the bike is, `reworkable` the probability that work could mend it if it is
/// not; both 0 to 1.
pub fn wrong(p: f64, reworkable: f64) -> f64 {
    let [met, mended, failed] = [p, (1.0 - p) * reworkable, (1.0 - p) * (1.0 - reworkable)];
    (1.0 - met.max(mended).max(failed)).max(0.0)
}

/// By how much the chance of a wrong answer is expected to fall when a quantity known as `before` is measured, so that
/// its standard uncertainty becomes `u_after`.
///
/// The estimate after the measurement is normal around `before.value` with variance `before.u^2 - u_after^2` (the law of
/// total variance, exact for normal errors). The expectation is a trapezoidal sum over twelve standard deviations of it.
/// Never negative.
pub fn expected_gain(before: Estimate, u_after: f64, within: Limits, reworkable: f64) -> f64 {
    /// Steps either side of the middle.
    const STEPS: i32 = 400;
    const REACH: f64 = 6.0;
    let spread = before.u * before.u - u_after * u_after;
    if spread.is_nan() || spread <= 0.0 {
        return 0.0;
    }
    let sd = spread.sqrt();
    let (mut sum, mut weights) = (0.0, 0.0);
    for step in -STEPS..=STEPS {
        let z = REACH * f64::from(step) / f64::from(STEPS);
        let weight = (-0.5 * z * z).exp();
        let then = Estimate::new(before.value + sd * z, u_after);
        sum += weight * wrong(probability(then, within), reworkable);
        weights += weight;
    }
    (wrong(probability(before, within), reworkable) - sum / weights).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Nothing is left to be wrong about after an exact measurement, so it is worth the whole present risk.
    #[test]
    fn an_exact_measurement_is_worth_the_whole_risk() {
        for (value, limit) in [(34.5, 34.0), (33.0, 34.0), (34.0, 34.0)] {
            let before = Estimate::new(value, 1.0);
            let within = Limits::at_least(limit);
            let p = probability(before, within);
            let gain = expected_gain(before, 0.0, within, 0.0);
            // A step between two nodes is off by at most half a node's weight, 0.0030 x 0.4.
            assert!((gain - p.min(1.0 - p)).abs() < 4e-3, "{value}: {gain} but {}", p.min(1.0 - p));
        }
    }

    /// On the limit itself the answer after a measurement is wrong if estimate and truth lie on different sides: two
    /// normal variables of correlation r differ in sign with probability arccos(r)/pi (Sheppard 1899, Phil. Trans.
    /// R. Soc. A 192:101-167, from memory; r = sd of the estimate over sd of the truth).
    #[test]
    fn on_the_limit_the_worth_follows_from_an_angle() {
        for u_after in [0.1, 0.5, 0.9] {
            let before = Estimate::new(10.0, 1.0);
            let correlation = (1.0f64 - u_after * u_after).sqrt();
            let expected = 0.5 - correlation.acos() / PI;
            let gain = expected_gain(before, u_after, Limits::at_least(10.0), 0.0);
            assert!((gain - expected).abs() < 2e-4, "{u_after}: {gain} but {expected}");
        }
    }

    #[test]
    fn an_unsure_material_leaves_three_answers() {
        // Met 0.2, mended 0.8 x 0.65 = 0.52, failed 0.28: wrong with 0.48.
        assert!((wrong(0.2, 0.65) - 0.48).abs() < 1e-12);
        assert!((wrong(0.2, 0.0) - 0.2).abs() < 1e-12);
        assert!((wrong(0.2, 1.0) - 0.2).abs() < 1e-12);
    }

    #[test]
    fn measuring_no_better_than_before_is_worth_nothing() {
        let before = Estimate::new(10.0, 0.5);
        assert!(expected_gain(before, 0.5, Limits::at_least(10.0), 0.0).abs() < 1e-15);
        assert!(expected_gain(before, f64::NAN, Limits::at_least(10.0), 0.0).abs() < 1e-15);
    }
}
