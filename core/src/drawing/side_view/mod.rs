//! The bike from its right side, before and after a change.

mod input;

pub use input::{BikePoints, SideViewInput};
