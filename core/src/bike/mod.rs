//! What is known of one bike: its file (`steerwright.bike/1`) and the findings that follow from it.

mod file;
mod findings;
mod read;

pub use crate::headset::ObservedSeat;
pub use crate::press::Material;
pub use file::{Bearings, Bike, BikeSchema, Measurement, Observed};
pub use findings::{Disagreement, Findings, Reading};
