//! The normal distribution function and its tail, one at a time or by the slice.
//!
//! One kernel without branches or library calls serves both, so that the compiler can lay it out over vector
//! registers and the two give the same bits. No fused multiply-add: it is slow where the processor lacks it, and
//! results would depend on the processor.

use std::f64::consts::LOG2_E;

/// `NUMERATOR(t) / DENOMINATOR(t)` is `exp(t^2/2) (1 - Phi(t))` for `0 <= t <= TOP`, relative error 1.6e-16;
/// lowest power first. A rational function in place of the single Chebyshev series of M. M. Shepherd and
/// J. G. Laframboise (1981, Math. Comp. 36:249-253), whose change of variable places the nodes: numerator and
/// denominator are evaluated side by side, and all terms are positive. `tests/oracle/normal_kernel.py` makes them.
const NUMERATOR: [f64; 10] = [
    0.5,
    0.7716234280094657,
    0.5892005723255932,
    0.28578241502152174,
    0.09606470645950055,
    0.023109401836147583,
    0.003977104706726715,
    0.0004736458586837202,
    3.5670922037286076e-05,
    1.3116573166380475e-06,
];
const DENOMINATOR: [f64; 11] = [
    1.0,
    2.3411314168217965,
    2.546353756943849,
    1.6986569909072566,
    0.7719355923602377,
    0.25058879255956673,
    0.05910735892999626,
    0.01005853683904129,
    0.0011905419390626304,
    8.941374175862107e-05,
    3.287837316522036e-06,
];

/// `exp(r)` for `|r| <= ln(2)/2`, relative error 1e-17; same script.
const EXPONENTIAL: [f64; 12] = [
    1.0,
    1.0,
    0.5000000000000006,
    0.16666666666666674,
    0.04166666666657314,
    0.00833333333332463,
    0.0013888888932488599,
    0.00019841269877676385,
    2.4801504346997686e-05,
    2.755725303142818e-06,
    2.7626357241447223e-07,
    2.5105931240829e-08,
];

/// From here on the tail is below the smallest number an `f64` holds (that is reached at 38.57).
const TOP: f64 = 39.0;

/// ln 2 in two parts, the first with 21 zero bits at its end: a whole number below 2^21 times it is exact.
const LN_2_HIGH: f64 = f64::from_bits(0x3FE6_2E42_FEE0_0000);
const LN_2_LOW: f64 = f64::from_bits(0x3DEA_39EF_3579_3C76);

/// Added to a number below 2^51, it leaves the nearest whole number in the low bits of the sum.
const ROUNDER: f64 = 6_755_399_441_055_744.0; // 1.5 * 2^52

/// Keeps the scaling power of two a normal number where the tail itself is none.
const LIFT: u64 = 128;

/// The standard normal distribution function `Phi(z)`, the probability of a value up to `z`.
///
/// Relative error at most 1.5e-15 for `z >= -37.5` (1.2e-15 measured at 60 000 places against 50-digit
/// arithmetic); below, the result is subnormal and good to its last digit, and it is 0 from -38.6 down. NaN for NaN.
pub fn normal_cdf(z: f64) -> f64 {
    upper_tail(-z)
}

/// The upper tail of the standard normal distribution, `1 - Phi(z)`, the probability of a value over `z`; as
/// accurate as [`normal_cdf`], whose mirror image it is.
pub fn normal_tail(z: f64) -> f64 {
    upper_tail(z)
}

/// [`normal_cdf`] of every element of `z`, written to `out`: the same bits, several at a time. The surplus of the
/// longer slice is left alone.
pub fn normal_cdf_many(z: &[f64], out: &mut [f64]) {
    pulp::Arch::new().dispatch(Many { z, out });
}

struct Many<'a> {
    z: &'a [f64],
    out: &'a mut [f64],
}

impl pulp::WithSimd for Many<'_> {
    type Output = ();

    // Inlined into a function compiled for the processor found, where the compiler vectorises the loop.
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        for (out, z) in self.out.iter_mut().zip(self.z) {
            *out = upper_tail(-*z);
        }
    }
}

#[inline(always)]
fn upper_tail(z: f64) -> f64 {
    let t = z.abs();
    // Not `min`, which would turn NaN into a number.
    let t = if t > TOP { TOP } else { t };
    let tail = exp_minus_half_square(t) * (horner(&NUMERATOR, t) / horner(&DENOMINATOR, t));
    // The two factors that `exp_minus_half_square` leaves out go in last, where no digits can be lost to them.
    let tail = tail * f64::from_bits((1023 - LIFT) << 52);
    if z > 0.0 { tail } else { 1.0 - tail }
}

/// `exp(-t^2/2) * 2^LIFT` for `0 <= t <= TOP`.
///
/// A rounded square would be off by up to t^2/2 units of the result's last place. So `t^2` is taken in two parts,
/// the square of its upper 26 bits, which is exact, and the small rest, which joins the reduced argument.
#[inline(always)]
fn exp_minus_half_square(t: f64) -> f64 {
    let head = f64::from_bits(t.to_bits() & 0xFFFF_FFFF_F800_0000);
    let rest = (t - head) * (t + head);

    let y = -0.5 * (head * head);
    let rounded = y * LOG2_E + ROUNDER;
    let k = rounded - ROUNDER;
    let r = (y - k * LN_2_HIGH) - (k * LN_2_LOW + 0.5 * rest);
    let power = f64::from_bits(rounded.to_bits().wrapping_add(1023 + LIFT) << 52);
    horner(&EXPONENTIAL, r) * power
}

#[inline(always)]
fn horner<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    match coefficients.split_last() {
        Some((last, rest)) => rest.iter().rev().fold(*last, |sum, coefficient| sum * x + coefficient),
        None => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(serde::Deserialize)]
    struct Made {
        numerator: Vec<f64>,
        denominator: Vec<f64>,
        exponential: Vec<f64>,
    }

    /// The coefficients above are those the script writes, to the bit.
    #[test]
    fn coefficients_are_the_scripts() {
        let made: Made =
            serde_json::from_str(include_str!("../../../../tests/data/oracle/normal_kernel.json")).unwrap();
        let bits = |numbers: &[f64]| numbers.iter().map(|number| number.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&made.numerator), bits(&NUMERATOR));
        assert_eq!(bits(&made.denominator), bits(&DENOMINATOR));
        assert_eq!(bits(&made.exponential), bits(&EXPONENTIAL));
    }

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
