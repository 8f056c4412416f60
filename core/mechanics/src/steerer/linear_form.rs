//! A weighted sum of readings that keeps its terms.

use std::collections::BTreeMap;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// A weighted sum of readings and other lengths, mm.
///
/// Readings are identified by quantity, so the same reading in two sums is fully correlated. Other lengths (a kit's
/// stack, a new stem) are independent of everything.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LinearForm {
    readings: BTreeMap<Quantity, f64>,
    other: Vec<(f64, Estimate)>,
}

impl LinearForm {
    /// Adds a reading, `weight` times.
    #[must_use]
    pub fn reading(mut self, what: Quantity, weight: f64) -> Self {
        *self.readings.entry(what).or_default() += weight;
        self
    }

    /// Adds an independent length, `weight` times.
    #[must_use]
    pub fn length(mut self, length: Estimate, weight: f64) -> Self {
        self.other.push((weight, length));
        self
    }

    /// Adds another sum, `weight` times; terms of the same reading are combined.
    #[must_use]
    pub fn sum(mut self, other: &Self, weight: f64) -> Self {
        for (&what, &its) in &other.readings {
            *self.readings.entry(what).or_default() += weight * its;
        }
        self.other.extend(other.other.iter().map(|&(its, length)| (weight * its, length)));
        self
    }

    /// Readings with a nonzero weight, with their weights.
    pub fn weights(&self) -> impl Iterator<Item = (Quantity, f64)> {
        self.readings.iter().map(|(&what, &weight)| (what, weight)).filter(|(_, weight)| weight.abs() > 0.0)
    }

    /// The sum; `u` is the root of the sum of the weighted squares.
    ///
    /// # Errors
    /// The readings with a nonzero weight that are missing.
    pub fn estimate(
        &self,
        reading: impl Fn(Quantity) -> Option<Estimate>,
    ) -> Result<Estimate, Vec<Quantity>> {
        let mut missing = Vec::new();
        let mut total = self.other.iter().fold(Estimate::exact(0.0), |sum, &(weight, it)| sum + it * weight);
        for (what, weight) in self.weights() {
            match reading(what) {
                Some(it) => total = total + it * weight,
                None => missing.push(what),
            }
        }
        if missing.is_empty() { Ok(total) } else { Err(missing) }
    }
}
