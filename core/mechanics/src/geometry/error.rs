//! Errors of the side view.

use super::Figure;
use thiserror::Error;

/// Why a bicycle or a change has no side view.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum GeometryError {
    /// A number is not finite or outside its accepted range; mm or degrees.
    #[error("{what} is {value}, expected {low} to {high}")]
    OutOfDomain {
        /// The field's name.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The least allowed value.
        low: f64,
        /// The greatest allowed value.
        high: f64,
    },
    /// The height difference between bottom bracket and rear axle exceeds the chainstay length.
    #[error(
        "a chainstay of {chainstay} mm does not span {height} mm from bottom bracket to rear axle height"
    )]
    ChainstayTooShort {
        /// The chainstay, mm.
        chainstay: f64,
        /// The height to span, mm.
        height: f64,
    },
    /// The changed bike does not come to rest on both wheels within 30 degrees of rotation, or its steering
    /// axis rotates by more than that.
    #[error(
        "the change turns the frame or the steering axis by more than 30 degrees, or leaves no stance at all"
    )]
    NoStance,
    /// The requested value is outside the range that the allowed tilts reach.
    #[error(
        "{figure} of {wanted} is not reached: tilts from {} to {} degrees give {:.2} to {:.2}",
        tilts[0], tilts[1], reachable[0], reachable[1]
    )]
    OutOfReach {
        /// The requested figure.
        figure: Figure,
        /// Its requested value, mm or degrees.
        wanted: f64,
        /// The tilts that were tried, degrees.
        tilts: [f64; 2],
        /// The least and greatest value of the figure over these tilts.
        reachable: [f64; 2],
    },
}

/// The greatest length that is accepted, mm.
pub(super) const LONGEST: f64 = 100_000.0;

/// Checks one number; NaN fails.
pub(super) fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<(), GeometryError> {
    if value >= low && value <= high {
        Ok(())
    } else {
        Err(GeometryError::OutOfDomain { what, value, low, high })
    }
}
