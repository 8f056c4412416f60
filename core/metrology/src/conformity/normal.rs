//! The normal distribution function and its upper tail.

use std::f64::consts::FRAC_1_SQRT_2;

/// The standard normal distribution function: `Phi(z) = erfc(-z / sqrt(2)) / 2`, the probability of a value up to `z`.
///
/// Relative error at most `4e-16 (1 + z^2)` where the result is a normal number; the factor is the sensitivity to the
/// rounding of `z`. `tests/oracle/normal.py` computes the reference values with 50 digits. NaN for NaN.
pub fn normal_cdf(z: f64) -> f64 {
    libm::erfc(-z * FRAC_1_SQRT_2) / 2.0
}

/// The upper tail of the standard normal distribution: `1 - Phi(z) = Phi(-z)`, the probability of a value over `z`.
///
/// As accurate as [`normal_cdf`].
pub fn normal_tail(z: f64) -> f64 {
    normal_cdf(-z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_and_middle_are_exact() {
        assert_eq!(normal_cdf(0.0).to_bits(), 0.5f64.to_bits());
        assert_eq!(normal_cdf(-0.0).to_bits(), 0.5f64.to_bits());
        assert_eq!(normal_cdf(f64::INFINITY).to_bits(), 1f64.to_bits());
        assert_eq!(normal_cdf(f64::NEG_INFINITY).to_bits(), 0f64.to_bits());
        assert_eq!(normal_tail(f64::MAX).to_bits(), 0f64.to_bits());
        assert!(normal_cdf(f64::NAN).is_nan());
        assert!(normal_tail(f64::NAN).is_nan());
    }
}
