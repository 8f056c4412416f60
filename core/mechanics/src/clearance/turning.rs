//! The effect of a tilted cup whose mark is off the centre line of the frame.

use super::{ClearanceError, finite, positive};
use steerwright_metrology::practice::Rule;

/// The tilt of cups rotated away from the centre line of the frame, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Tilt seen from the side: atan(tan t cos psi). To first order t cos psi.
    pub in_line_deg: f64,
    /// Sideways lean of the steering axis out of the frame's plane: asin(sin t sin psi). To first order t sin psi.
    pub lean_deg: f64,
}

/// Effect of cups of `tilt_deg` (0 to 45) whose marks are both off the centre line by `off_deg` (any angle), degrees.
///
/// Exact: the steering axis is (-sin t cos psi, sin t sin psi, cos t) in the frame's x, y and z.
///
/// # Errors
/// A tilt outside its domain, or a number that is not finite.
pub fn turned(tilt_deg: f64, off_deg: f64) -> Result<Turned, ClearanceError> {
    let tilt = tilt_in_domain(tilt_deg)?.to_radians();
    let off = finite(off_deg, "the turning error")?.to_radians();
    Ok(Turned {
        in_line_deg: (tilt.sin() * off.cos()).atan2(tilt.cos()).to_degrees(),
        lean_deg: (tilt.sin() * off.sin()).asin().to_degrees(),
    })
}

/// Distance in mm along the rim (`rim_diameter`, mm) by which the marks of cups of `tilt_deg` (0 to 45) may be off the
/// centre line for a sideways lean of a tenth of a degree. Exact: sin psi = sin 0.1 deg / sin t, rim arc psi D / 2.
///
/// # Errors
/// A cup tilted by less than a tenth of a degree, which never leans that much; a diameter that is not above zero; or a
/// number that is not finite.
pub fn rim_per_tenth_degree(rim_diameter: f64, tilt_deg: f64) -> Result<f64, ClearanceError> {
    let tilt = tilt_in_domain(tilt_deg)?.to_radians();
    let lean_deg = Rule::Lean.value();
    let off = lean_deg.to_radians().sin() / tilt.sin();
    if off.is_nan() || off > 1.0 {
        return Err(ClearanceError::Lean { tilt_deg, lean_deg });
    }
    finite(off.asin() * positive(rim_diameter, "rim diameter")? / 2.0, "the rim's arc")
}

fn tilt_in_domain(tilt_deg: f64) -> Result<f64, ClearanceError> {
    Ok(crate::tilt::kit_tilt(tilt_deg)?)
}
