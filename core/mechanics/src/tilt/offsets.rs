//! Positions at which a kit holds its two bearings.

use super::{TiltError, kit_range, kit_tilt};
use serde::{Deserialize, Serialize};

/// Positions at which a kit holds its two bearings in the side view, relative to the head tube.
///
/// Lengths in mm. A plane is the distance of a bearing's reference plane outside its face of the head tube (negative:
/// inside). An offset is the distance of its centre from the head tube's axis, forward positive. A slackening kit has
/// `upper < lower`: the axis leans back at its top. Rotated by 180 degrees it steepens, see [`Offsets::mirrored`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Offsets {
    /// Upper bearing's reference plane above the upper face, z_u.
    pub upper_plane: f64,
    /// Lower bearing's reference plane below the lower face, z_l.
    pub lower_plane: f64,
    /// Upper bearing's offset, forward positive, e_u.
    pub upper: f64,
    /// Lower bearing's offset, forward positive, e_l.
    pub lower: f64,
}

impl Offsets {
    /// A plain headset: both bearings on the head tube's axis, at its faces.
    pub const NONE: Self = Self { upper_plane: 0.0, lower_plane: 0.0, upper: 0.0, lower: 0.0 };

    /// Offsets that give `tilt_deg` (slacker positive) in a head tube of this length, split evenly between the ends.
    ///
    /// # Errors
    /// A tilt beyond 45 degrees either way, bearings that are not one above the other, or a number that is not
    /// finite.
    pub fn for_tilt(
        tilt_deg: f64,
        head_tube_length: f64,
        upper_plane: f64,
        lower_plane: f64,
    ) -> Result<Self, TiltError> {
        kit_tilt(tilt_deg.abs())?;
        let planes = Self { upper_plane, lower_plane, upper: 0.0, lower: 0.0 };
        let half = planes.span(head_tube_length)? * tilt_deg.to_radians().tan() / 2.0;
        Ok(Self { upper: -half, lower: half, ..planes })
    }

    /// The offsets of a kit whose maker states only its tilt (degrees, 0 to 45) and the head tube range (mm). The tilt
    /// is assumed to hold in the middle of the range, split evenly between the ends. Common practice, no published
    /// source.
    ///
    /// # Errors
    /// As [`Offsets::for_tilt`], and an invalid range.
    pub fn from_range(
        nominal_tilt_deg: f64,
        range: [f64; 2],
        upper_plane: f64,
        lower_plane: f64,
    ) -> Result<Self, TiltError> {
        let [shortest, longest] = kit_range(range)?;
        Self::for_tilt(
            kit_tilt(nominal_tilt_deg)?,
            f64::midpoint(shortest, longest),
            upper_plane,
            lower_plane,
        )
    }

    /// A slackening kit's offsets from the numbers that its maker states. Both offsets stated: used as they are. One
    /// stated: the other follows from tilt and range as in [`Offsets::from_range`]. None stated: both follow from them.
    ///
    /// Two stated offsets are not checked here; [`Offsets::agrees_with`] reports whether tilt and range contradict
    /// them.
    ///
    /// # Errors
    /// As [`Offsets::from_range`].
    pub fn complete(
        nominal_tilt_deg: f64,
        range: [f64; 2],
        upper_plane: f64,
        lower_plane: f64,
        stated_upper: Option<f64>,
        stated_lower: Option<f64>,
    ) -> Result<Self, TiltError> {
        let even = Self::from_range(nominal_tilt_deg, range, upper_plane, lower_plane)?;
        let total = even.total();
        let (upper, lower) = match (stated_upper, stated_lower) {
            (Some(upper), Some(lower)) => (upper, lower),
            (Some(upper), None) => (upper, upper + total),
            (None, Some(lower)) => (lower - total, lower),
            (None, None) => (even.upper, even.lower),
        };
        let complete = Self { upper, lower, ..even };
        if !(upper.is_finite() && lower.is_finite()) {
            return Err(TiltError::NotFinite("a stated offset"));
        }
        Ok(complete)
    }

    /// The same kit rotated by 180 degrees: a slackening kit steepens.
    #[must_use]
    pub fn mirrored(self) -> Self {
        Self { upper: -self.upper, lower: -self.lower, ..self }
    }

    /// These planes with offsets from another axis than the head tube's: the one through the bearings of a kit `now` in a
    /// head tube of this length (mm). The two axes lean by a few degrees at most, and a distance across one counts as a
    /// distance across the other (cos 2 degrees = 0.9994).
    #[must_use]
    pub fn relative_to(self, now: &Self, head_tube_length: f64) -> Self {
        let slope = now.span(head_tube_length).map_or(0.0, |span| now.total() / span);
        // The present axis moves forward by `slope` for each mm towards the lower end.
        Self {
            upper: self.upper - (now.upper - slope * (self.upper_plane - now.upper_plane)),
            lower: self.lower - (now.lower + slope * (self.lower_plane - now.lower_plane)),
            ..self
        }
    }

    /// The offset between both bearings, E = lower - upper, mm; positive slackens.
    pub fn total(self) -> f64 {
        self.lower - self.upper
    }

    /// Distance of both bearing planes along the head tube's axis, mm.
    ///
    /// # Errors
    /// A head tube that is not a finite length above zero, or planes that are not one above the other.
    pub fn span(self, head_tube_length: f64) -> Result<f64, TiltError> {
        let numbers = [head_tube_length, self.upper_plane, self.lower_plane, self.upper, self.lower];
        if !numbers.iter().all(|number| number.is_finite()) {
            return Err(TiltError::NotFinite("head tube length or a bearing's place"));
        }
        let span = head_tube_length + self.upper_plane + self.lower_plane;
        if !(head_tube_length > 0.0 && span > 0.0 && span.is_finite()) {
            return Err(TiltError::Span(span));
        }
        Ok(span)
    }

    /// The tilt in a head tube of this length (mm), degrees, slacker positive: atan(E / span).
    ///
    /// # Errors
    /// As [`Offsets::span`].
    pub fn tilt_deg(self, head_tube_length: f64) -> Result<f64, TiltError> {
        Ok(self.total().atan2(self.span(head_tube_length)?).to_degrees())
    }

    /// The head tube length (mm) in which these offsets give exactly `nominal_tilt_deg` in either direction, if there
    /// is one.
    pub fn length_for(self, nominal_tilt_deg: f64) -> Option<f64> {
        let length = self.total().abs() / nominal_tilt_deg.abs().to_radians().tan()
            - self.upper_plane
            - self.lower_plane;
        (length.is_finite() && length > 0.0).then_some(length)
    }

    /// True if these offsets slacken, and the length for which they give the nominal tilt is in the maker's own range:
    /// a catalogue for which this is false contradicts itself.
    pub fn agrees_with(self, nominal_tilt_deg: f64, range: [f64; 2]) -> bool {
        let [shortest, longest] = range;
        self.total() > 0.0
            && self.length_for(nominal_tilt_deg).is_some_and(|length| (shortest..=longest).contains(&length))
    }
}
