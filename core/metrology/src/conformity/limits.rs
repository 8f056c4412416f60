//! Limits on one quantity, and how sure it is that the quantity keeps them.

use super::{normal_cdf, normal_tail};
use crate::quantity::Estimate;

/// The interval a quantity has to lie in; both ends belong to it. An infinite end is no limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Least value that conforms, or minus infinity.
    pub lower: f64,
    /// Greatest value that conforms, or infinity.
    pub upper: f64,
}

impl Limits {
    /// `lower` or more.
    pub const fn at_least(lower: f64) -> Self {
        Self { lower, upper: f64::INFINITY }
    }

    /// `upper` or less.
    pub const fn at_most(upper: f64) -> Self {
        Self { lower: f64::NEG_INFINITY, upper }
    }

    /// From `lower` to `upper`. If `lower` is the greater of the two, no value conforms.
    pub const fn between(lower: f64, upper: f64) -> Self {
        Self { lower, upper }
    }

    /// True if `value` itself lies within.
    pub fn contain(self, value: f64) -> bool {
        self.lower <= value && value <= self.upper
    }
}

/// The probability that the quantity estimated by `x` lies within `limits`, its error being normal with
/// standard deviation `x.u` (JCGM 106:2012, 7.2 to 7.4).
///
/// With `u = 0` it is 1 or 0; a value on a limit conforms. NaN if `x` is not sound or a limit is NaN; 0 if the
/// limits exclude each other.
pub fn probability(x: Estimate, limits: Limits) -> f64 {
    if !x.is_sound() || limits.lower.is_nan() || limits.upper.is_nan() {
        return f64::NAN;
    }
    if limits.lower > limits.upper {
        return 0.0;
    }
    if x.u == 0.0 {
        return if limits.contain(x.value) { 1.0 } else { 0.0 };
    }
    let low = (limits.lower - x.value) / x.u;
    let high = (limits.upper - x.value) / x.u;
    // Each case subtracts tails on the side where they are small, so that a tiny probability keeps its digits.
    let p = if low > 0.0 {
        normal_tail(low) - normal_tail(high)
    } else if high < 0.0 {
        normal_cdf(high) - normal_cdf(low)
    } else if low == f64::NEG_INFINITY {
        normal_cdf(high)
    } else if high == f64::INFINITY {
        normal_tail(low)
    } else {
        1.0 - (normal_cdf(low) + normal_tail(high))
    };
    p.clamp(0.0, 1.0)
}

/// How far `x` lies from the nearer limit, in its own unit: positive inside, negative outside, infinite where
/// there is no limit; `u` is that of `x`. Limits that exclude each other leave no inside: always negative.
pub fn margin(x: Estimate, limits: Limits) -> Estimate {
    let (above, below) = (x.value - limits.lower, limits.upper - x.value);
    // `f64::min` drops a NaN; a limit that is not a number must not look like no limit.
    let value = if above.is_nan() || below.is_nan() { f64::NAN } else { above.min(below) };
    Estimate::new(value, x.u)
}
