//! Sine and cosine of an angle in degrees, and the angle of a small turn, as plain arithmetic.
//!
//! The library's own functions call out of line, which keeps a loop over many bicycles from being vectorised,
//! and their last bit differs between platforms. These do neither. Coefficients: Chebyshev fits of the tails
//! of the three series, computed with 60 digits by `tests/oracle/angles.py`.

/// Degrees in a radian.
const DEGREES: f64 = 180.0 / std::f64::consts::PI;
/// Radians in a degree.
const RADIANS: f64 = std::f64::consts::PI / 180.0;

/// Cosine of 30 degrees, the largest turn that [`turn`] is made for.
pub(super) const COS_MAX_TURN: f64 = 0.866_025_403_784_438_6;

/// Sine and cosine of `degrees` in [-45, 135]; NaN outside.
///
/// Relative error of both at most 4.5e-16 against mpmath within [0, 90], the cosine near 90 degrees included:
/// angles over 45 are taken from 90 first, which is exact.
#[inline(always)]
pub(super) fn sine_cosine(degrees: f64) -> (f64, f64) {
    let steep = degrees > 45.0;
    let inside = (-45.0..=135.0).contains(&degrees);
    let folded = if steep { 90.0 - degrees } else { degrees };
    let x = if inside { folded * RADIANS } else { f64::NAN };
    let u = x * x;
    let tail = 1.591_812_929_486_660_8e-10;
    let tail = tail * u - 2.505_113_184_500_362_4e-8;
    let tail = tail * u + 2.755_731_610_255_244e-6;
    let tail = tail * u - 0.000_198_412_698_367_585_74;
    let tail = tail * u + 0.008_333_333_333_330_948;
    let tail = tail * u - 0.166_666_666_666_666_66;
    let sine = x + x * (u * tail);
    let tail = -1.138_263_242_552_171_7e-11;
    let tail = tail * u + 2.087_614_626_840_32e-9;
    let tail = tail * u - 2.755_731_727_172_979_3e-7;
    let tail = tail * u + 2.480_158_729_876_569e-5;
    let tail = tail * u - 0.001_388_888_888_888_739_8;
    let tail = tail * u + 0.041_666_666_666_666_664;
    let cosine = 1.0 - (0.5 * u - u * (u * tail));
    if steep { (cosine, sine) } else { (sine, cosine) }
}

/// The angle in degrees of a turn with this cosine and sine, counter-clockwise positive.
///
/// For turns up to 30 degrees either way, where its error is at most 4e-16 of the angle against mpmath; the
/// two must come from one unit vector. Larger turns lose digits fast and are for the caller to refuse.
#[inline(always)]
pub(super) fn turn(cosine: f64, sine: f64) -> f64 {
    // The tangent of half the angle keeps the fit's range short.
    let t = sine / (1.0 + cosine);
    let u = t * t;
    let tail = -0.039_578_935_915_461_96;
    let tail = tail * u + 0.057_163_298_944_428_52;
    let tail = tail * u - 0.066_549_450_536_776_58;
    let tail = tail * u + 0.076_918_196_381_987_08;
    let tail = tail * u - 0.090_908_970_815_922_11;
    let tail = tail * u + 0.111_111_109_445_169_39;
    let tail = tail * u - 0.142_857_142_845_538_13;
    let tail = tail * u + 0.199_999_999_999_968_8;
    let tail = tail * u - 0.333_333_333_333_333_3;
    (t + t * (u * tail)) * (2.0 * DEGREES)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Deserialize)]
    struct Oracle {
        angles: Vec<[f64; 3]>,
        turns: Vec<[f64; 3]>,
    }

    fn oracle() -> Oracle {
        serde_json::from_str(include_str!("../../../../tests/data/oracle/angles.json")).unwrap()
    }

    fn worst(errors: impl Iterator<Item = f64>) -> f64 {
        errors.map(f64::abs).fold(0.0, f64::max)
    }

    /// Against mpmath with 60 digits, a thousand angles; the bound is the documented one.
    #[test]
    fn sine_and_cosine_keep_their_bound() {
        let rows = oracle().angles;
        assert!(rows.len() >= 1000);
        let error = worst(rows.iter().flat_map(|[degrees, sine, cosine]| {
            let (s, c) = sine_cosine(*degrees);
            // At the two ends one of them is exactly zero.
            let relative =
                |value: f64, truth: &f64| if *truth == 0.0 { value } else { (value - truth) / truth };
            [relative(s, sine), relative(c, cosine)]
        }));
        assert!(error <= 4.5e-16, "{error:e}");
    }

    #[test]
    fn turns_keep_their_bound() {
        let rows = oracle().turns;
        assert!(rows.len() >= 800);
        let error = worst(rows.iter().map(|[cosine, sine, degrees]| {
            let angle = turn(*cosine, *sine);
            if *degrees == 0.0 { angle } else { (angle - degrees) / degrees }
        }));
        assert!(error <= 4e-16, "{error:e}");
    }

    #[test]
    fn outside_is_not_a_number() {
        for degrees in [-45.1, 135.1, f64::INFINITY, f64::NAN] {
            assert!(sine_cosine(degrees).0.is_nan() && sine_cosine(degrees).1.is_nan(), "{degrees}");
        }
    }
}
