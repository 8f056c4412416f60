//! A number with its standard uncertainty.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Neg, Sub};

/// A value with its standard uncertainty `u` (JCGM 100:2008, 2.3.1), both in the same unit.
///
/// Sums and differences take both operands as independent: `u^2 = u_1^2 + u_2^2`. For a function of shared inputs use
/// [`propagate`](super::propagate).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Estimate {
    /// The best estimate.
    pub value: f64,
    /// Its standard uncertainty, never negative.
    pub u: f64,
}

impl Estimate {
    /// An estimate with standard uncertainty `u`.
    pub const fn new(value: f64, u: f64) -> Self {
        Self { value, u }
    }

    /// A value without uncertainty, such as a limit in a catalogue.
    pub const fn exact(value: f64) -> Self {
        Self { value, u: 0.0 }
    }

    /// The rectangular distribution between two limits: mean `(low + high) / 2`, `u = (high - low) / (2 sqrt(3))` (JCGM
    /// 100:2008, 4.3.7).
    pub fn between(low: f64, high: f64) -> Self {
        Self { value: f64::midpoint(low, high), u: (high - low).abs() / 2.0 / 3f64.sqrt() }
    }

    /// The expanded uncertainty `U = 2 u` (coverage factor 2).
    pub fn expanded(self) -> f64 {
        2.0 * self.u
    }

    /// True if both numbers are finite and `u` is not negative.
    pub fn is_sound(self) -> bool {
        self.value.is_finite() && self.u.is_finite() && self.u >= 0.0
    }
}

impl Add for Estimate {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { value: self.value + other.value, u: self.u.hypot(other.u) }
    }
}

impl Sub for Estimate {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { value: self.value - other.value, u: self.u.hypot(other.u) }
    }
}

impl Neg for Estimate {
    type Output = Self;
    fn neg(self) -> Self {
        Self { value: -self.value, u: self.u }
    }
}

impl Mul<f64> for Estimate {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self { value: self.value * factor, u: self.u * factor.abs() }
    }
}
