//! Edges in a picture: rough taps become marks to a fraction of a pixel.
//!
//! [`snap_tyre`] looks along the normals of what was tapped for where the brightness changes, place
//! each change to a fraction of a pixel, and fits an ellipse to those that agree. It says how sure it is, or
//! gives an [`Unsure`] with the reason.
//!
//! Everything is computed from the picture and the taps alone: the same input gives the same marks.

mod coarse;
mod grey;
mod line;
mod profile;
mod sharpness;
mod tyre;
mod unsure;

pub use grey::Grey;
pub use line::{SnappedLine, Tube, snap_line};
pub use sharpness::Sharpness;
pub use tyre::{Edge, Snapped, snap_tyre};
pub use unsure::Unsure;
