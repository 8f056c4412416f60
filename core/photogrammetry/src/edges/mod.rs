//! Edges in a picture: rough taps become marks to a fraction of a pixel.
//!
//! [`snap_tyre`] and [`snap_line`] search for brightness changes along the normals of the tapped shape, locate each
//! change to a fraction of a pixel, and fit an ellipse or a tube to the consistent ones. Each returns its confidence,
//! or a [`SnapFailure`] with the reason. [`snap_taps_in_colour`] does so for all marks that are flagged as rough.
//!
//! [`edgels`] finds the edges of a whole picture, where nothing was tapped.
//!
//! All results are deterministic: the same picture and taps give the same marks.

mod axes;
mod chains;
mod coarse;
mod grey;
mod instead;
mod line;
mod map;
mod parallels;
mod profile;
mod rows;
mod runs;
mod sharpness;
mod sides;
mod snap_failure;
mod taps;
mod tyre;

pub use grey::Grey;
pub use instead::{Instead, ParallelLine};
pub use line::{SnappedLine, Tube, snap_line};
pub use map::{Edgel, HysteresisThresholds, edgels};
pub use sharpness::Sharpness;
pub use snap_failure::SnapFailure;
pub use taps::{Placed, Snap, SnappedMarks, Tapped, snap_taps_in_colour};
pub use tyre::{Edge, Snapped, snap_tyre};
