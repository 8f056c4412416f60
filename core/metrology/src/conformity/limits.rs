//! Limits on one quantity, and the probability that the quantity is within them.

use super::{normal_cdf, normal_tail};
use crate::quantity::Estimate;

/// The closed interval in which a quantity has to be. An infinite end is no limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// The least conforming value, or minus infinity.
    pub lower: f64,
    /// The greatest conforming value, or infinity.
    pub upper: f64,
}

impl Limits {
    /// A lower limit alone.
    pub const fn at_least(lower: f64) -> Self {
        Self { lower, upper: f64::INFINITY }
    }

    /// An upper limit alone.
    pub const fn at_most(upper: f64) -> Self {
        Self { lower: f64::NEG_INFINITY, upper }
    }

    /// Both limits. If `lower > upper`, no value conforms.
    pub const fn between(lower: f64, upper: f64) -> Self {
        Self { lower, upper }
    }

    /// True if `value` is within.
    pub fn contain(self, value: f64) -> bool {
        self.lower <= value && value <= self.upper
    }
}

/// The probability that a normal quantity with mean `x.value` and standard deviation `x.u` is within `limits`:
/// `Phi((upper - value) / u) - Phi((lower - value) / u)` (JCGM 106:2012, 7.2 to 7.4).
///
/// With `u = 0` it is 1 or 0, and a value on a limit conforms. NaN if `x` is not sound or a limit is NaN; 0 if
/// `lower > upper`.
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
    // Differences of tails on the side where they are small keep the digits of a small probability.
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

/// The distance of `x` to the nearer limit, `min(value - lower, upper - value)`, in the unit of `x` and with its `u`:
/// positive inside, negative outside, infinite without a limit.
pub fn margin(x: Estimate, limits: Limits) -> Estimate {
    let (above, below) = (x.value - limits.lower, limits.upper - x.value);
    // `f64::min` drops NaN, so that a NaN limit would count as none.
    let value = if above.is_nan() || below.is_nan() { f64::NAN } else { above.min(below) };
    Estimate::new(value, x.u)
}
