//! What is known of one bike: its file (`steerwright.bike/1`) and the findings that follow from it.

mod file;
mod findings;
mod read;

pub use file::{Bearings, Bike, BikeSchema, Material, Measurement, Observed, ObservedSeat};
pub use findings::{Disagreement, Findings, Reading};
