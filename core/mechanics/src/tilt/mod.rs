//! The tilt that a kit gives in one head tube, and its ease of installation there.
//!
//! An angle-adjusting kit holds its two bearings off the axis of the head tube. The steering axis runs through both
//! bearing centres: `tilt = atan(offset / span)`. The seats are machined for one tilt, and the difference is a
//! misalignment of the bearings.

mod installed;
mod offsets;

pub use installed::{Ease, Installed, installed};
pub use offsets::Offsets;

/// Why a tilt cannot be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TiltError {
    /// A number is infinite or not a number, or an uncertainty is negative.
    #[error("{0} is not a finite number")]
    NotFinite(&'static str),
    /// A kit's nominal tilt outside 0 to 45 degrees.
    #[error("a kit's tilt of {0} degrees; expected 0 to 45")]
    Tilt(f64),
    /// A head tube range that does not run from a shorter to a longer length above zero.
    #[error(
        "a head tube range from {0} to {1} mm; expected a shorter length above 0 first, then a longer one"
    )]
    Range(f64, f64),
    /// The bearing planes are not one above the other, or the head tube has no length.
    #[error("head tube and bearing planes leave {0} mm between the bearings; expected more than 0")]
    Span(f64),
}

/// Checks a kit's nominal tilt, degrees: beyond the domain no kit exists and the formulas lose their meaning.
pub(crate) fn kit_tilt(nominal_deg: f64) -> Result<f64, TiltError> {
    if !nominal_deg.is_finite() {
        return Err(TiltError::NotFinite("the kit's tilt"));
    }
    if !(0.0..=45.0).contains(&nominal_deg) {
        return Err(TiltError::Tilt(nominal_deg));
    }
    Ok(nominal_deg)
}

fn kit_range([shortest, longest]: [f64; 2]) -> Result<[f64; 2], TiltError> {
    if !(shortest.is_finite() && longest.is_finite()) {
        return Err(TiltError::NotFinite("the head tube range"));
    }
    if !(0.0 < shortest && shortest < longest) {
        return Err(TiltError::Range(shortest, longest));
    }
    Ok([shortest, longest])
}
