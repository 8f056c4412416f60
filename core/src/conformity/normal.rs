//! The normal distribution function and its tail.

use std::f64::consts::FRAC_1_SQRT_2;

/// The standard normal distribution function, the probability of a value up to `z`.
pub fn normal_cdf(z: f64) -> f64 {
    normal_tail(-z)
}

/// The upper tail of the standard normal distribution, the probability of a value over `z`.
pub fn normal_tail(z: f64) -> f64 {
    0.5 * libm::erfc(z * FRAC_1_SQRT_2)
}

/// [`normal_cdf`] of every element of `z`, written to `out`; the surplus of the longer slice is left alone.
pub fn normal_cdf_many(z: &[f64], out: &mut [f64]) {
    for (out, z) in out.iter_mut().zip(z) {
        *out = normal_cdf(*z);
    }
}
