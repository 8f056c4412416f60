//! Several requirements at once, without assuming that they are independent.

/// The least and the greatest probability of an event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least, 0 to 1.
    pub low: f64,
    /// Greatest, `low` to 1.
    pub high: f64,
}

impl From<f64> for Bounds {
    /// A probability. One outside 0 to 1 is clamped; NaN gives no information, so the bounds are 0 and 1.
    fn from(p: f64) -> Self {
        if p.is_nan() {
            Self { low: 0.0, high: 1.0 }
        } else {
            Self { low: p.clamp(0.0, 1.0), high: p.clamp(0.0, 1.0) }
        }
    }
}

/// Bounds on the probability that all events happen, each having a probability within its own bounds: the
/// Frechet-Bonferroni inequalities, `max(0, 1 - sum(1 - low)) <= P <= min(high)` (M. Frechet 1935, Fundamenta
/// Mathematicae 25:379-387).
///
/// Requirements of one kit share measurements, so multiplying their probabilities would assume an independence that
/// does not hold. Without any event both bounds are 1.
pub fn joint_bounds<B: Into<Bounds>>(events: impl IntoIterator<Item = B>) -> Bounds {
    let (mut shortfall, mut high) = (0.0, 1.0f64);
    for event in events {
        let event: Bounds = event.into();
        shortfall += 1.0 - event.low;
        high = high.min(event.high);
    }
    // With a single event both bounds are its probability, but 1 - (1 - p) can round to just above p.
    Bounds { low: (1.0 - shortfall).clamp(0.0, high), high }
}
