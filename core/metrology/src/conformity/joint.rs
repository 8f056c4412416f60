//! Several requirements at once, with nothing assumed about how they hang together.

/// The least and the greatest probability that several events all happen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Reached when the events' failures avoid each other as far as they can.
    pub low: f64,
    /// Reached when the likelier events happen whenever the least likely one does.
    pub high: f64,
}

/// Bounds on the probability that all events happen, each having the probability given: the
/// Frechet-Bonferroni inequalities, `max(0, 1 - sum(1 - p)) <= P <= min(p)` (M. Frechet 1935, Fundamenta
/// Mathematicae 25:379-387).
///
/// Requirements of one kit share measurements, so multiplying their probabilities would assume an independence
/// that is not there. No event at all is certain to happen: both bounds are 1. A probability outside 0 to 1 is
/// brought to the nearer end; a NaN says nothing about its event, which may then fail always or never.
pub fn joint_bounds(p: impl IntoIterator<Item = f64>) -> Bounds {
    let mut shortfall = 0.0;
    let mut high = 1.0f64;
    for p in p {
        if p.is_nan() {
            shortfall += 1.0;
            continue;
        }
        let p = p.clamp(0.0, 1.0);
        shortfall += 1.0 - p;
        high = high.min(p);
    }
    // With a single event both bounds are its probability, but 1 - (1 - p) can round to just above p.
    Bounds { low: (1.0 - shortfall).clamp(0.0, high), high }
}
