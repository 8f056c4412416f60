//! Clearance of a tilted steerer inside the head tube, and the material to remove.
//!
//! # Assumptions
//! The inside of the head tube is round about its own axis. Its radius is piecewise linear in the height `z` above the
//! bottom face (bore, throat, tube between). The steerer is round about the new steering axis. Its radius is piecewise
//! linear in the distance `s` from the crown race seat. The steering axis is in the plane of the side view and passes
//! through both bearing centres. All parts are rigid and of exact shape.
//!
//! # Method
//! A horizontal plane cuts a tilted cylinder or cone in an ellipse whose long axis is in the side view. The point
//! furthest from the head tube's axis is one end of that long axis, so the least clearance is found in the side view
//! alone: between the steerer's two edges, which are polylines, and the tube's profile. For a cylinder of radius r the
//! clearance is R(z) - |x(z)| - r / cos t. For a taper, the radius is taken where its edge meets the plane, up to r sin
//! t lower or higher than the axis. Taking it at the height of the axis errs on the unsafe side: by 0.08 mm for a taper
//! of 5.6 mm of radius in 50 mm at a tilt of 2 degrees. Outside the side view a point can stand out more only on a
//! circle where the steerer changes its slope: within the circle's slant height of the crossing of both axes, by at
//! most r (1 - cos t) (0.007 mm at 1.5 degrees), and where the circle passes a step of the tube. Those circles are
//! sampled all round, to 3e-5 mm up to 3 degrees.
//!
//! # Not modelled
//! The kit's own parts, bearings and compression ring; hoses; ovality, dents, weld seams and drips of paint; a steerer
//! that is bent or bends; the play of the bearings. Heights of the tube that were not measured are not judged.

mod parts;
mod profile;
mod radial;
mod turning;
mod work;

pub use parts::{EndParts, HeadTube, HeadTubeParts, Steerer, SteererParts};
pub use profile::Profile;
pub use radial::{Clearance, ClearanceAt, Corner, Side, clearance, clearance_at};
pub use turning::{Turned, rim_per_tenth_degree, turned};
pub use work::{MeasuredClearance, Relief, ThroatNeeded, measured_clearance, throat_needed};

use crate::tilt::TiltError;
use steerwright_metrology::quantity::Quantity;

/// Why no clearance can be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ClearanceError {
    /// A number is infinite or not a number, or an uncertainty is negative.
    #[error("{0} is not a finite number")]
    NotFinite(&'static str),
    /// A length that has to be above zero is not.
    #[error("{what} of {value} mm; expected more than 0")]
    NotPositive {
        /// What it is.
        what: &'static str,
        /// Its value, mm.
        value: f64,
    },
    /// The heights of a profile do not rise.
    #[error("a profile needs at least one point, heights that rise, and at most two radii at one height")]
    Order,
    /// A part reaches deeper than the head tube is long.
    #[error("the measured depths reach {reach} mm into a head tube of {length} mm")]
    Depth {
        /// How far they reach, mm.
        reach: f64,
        /// The head tube's length, mm.
        length: f64,
    },
    /// Quantities without which there is no answer.
    #[error("not measured: {}", names(.0))]
    Missing(Vec<Quantity>),
    /// The requested lean exceeds the cup's own tilt.
    #[error("a cup of {tilt_deg} degrees cannot lean {lean_deg} degrees sideways")]
    Lean {
        /// The cup's tilt, degrees.
        tilt_deg: f64,
        /// The lean, degrees.
        lean_deg: f64,
    },
    /// The kit's offsets define no steering axis in this head tube.
    #[error(transparent)]
    Tilt(#[from] TiltError),
}

fn names(quantities: &[Quantity]) -> String {
    quantities.iter().map(|quantity| quantity.name()).collect::<Vec<_>>().join(", ")
}

fn finite(value: f64, what: &'static str) -> Result<f64, ClearanceError> {
    if value.is_finite() { Ok(value) } else { Err(ClearanceError::NotFinite(what)) }
}

fn positive(value: f64, what: &'static str) -> Result<f64, ClearanceError> {
    if finite(value, what)? > 0.0 { Ok(value) } else { Err(ClearanceError::NotPositive { what, value }) }
}

fn not_negative(value: f64, what: &'static str) -> Result<f64, ClearanceError> {
    if finite(value, what)? < 0.0 { Err(ClearanceError::NotPositive { what, value }) } else { Ok(value) }
}
