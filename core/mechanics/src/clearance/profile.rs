//! A radius as a function of the position along an axis.

use super::{ClearanceError, finite, positive};

/// A radius that is piecewise linear along an axis: points of (position, radius), mm, in ascending order. A
/// repeated position is a step.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile(Vec<(f64, f64)>);

impl Profile {
    /// A profile through these points of (position, radius), mm.
    ///
    /// # Errors
    /// No point, a position lower than the one before, more than two radii at one position, a radius that is
    /// not above zero, or a number that is not finite.
    pub fn new(points: Vec<(f64, f64)>) -> Result<Self, ClearanceError> {
        for &(place, radius) in &points {
            finite(place, "a place along the axis")?;
            positive(radius, "a radius")?;
        }
        let places = || points.iter().map(|&(place, _)| place);
        let falls = places().zip(places().skip(1)).any(|(here, next)| next < here);
        let crowded = places().zip(places().skip(2)).any(|(here, third)| third <= here);
        if points.is_empty() || falls || crowded {
            return Err(ClearanceError::Order);
        }
        Ok(Self(points))
    }

    /// The points of (position, radius), mm, in order.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// First and last position, mm.
    pub fn extent(&self) -> [f64; 2] {
        let place = |point: Option<&(f64, f64)>| point.map_or(f64::NAN, |&(place, _)| place);
        [place(self.0.first()), place(self.0.last())]
    }

    /// The smallest radius at a position, mm: the narrower one at a step; `None` outside the profile's
    /// extent.
    pub fn narrowest_at(&self, place: f64) -> Option<f64> {
        along(&self.0, place).reduce(f64::min)
    }
}

/// Every value that a polyline of (position, value) takes at one position: none outside, one within, two or
/// more at a step or where the line reverses direction.
pub(super) fn along(points: &[(f64, f64)], place: f64) -> impl Iterator<Item = f64> {
    let corners =
        points.iter().filter(move |&&(at, _)| at.total_cmp(&place).is_eq()).map(|&(_, value)| value);
    let between = points.iter().zip(points.iter().skip(1)).filter_map(move |(&(from, a), &(to, b))| {
        let inside = (from < place && place < to) || (to < place && place < from);
        inside.then(|| a + (b - a) * ((place - from) / (to - from)))
    });
    corners.chain(between)
}
