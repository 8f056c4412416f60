//! What is known of one bike: its file (`steerwright.bike/1`) and the findings that follow from it.

mod demo;
mod file;
mod findings;
mod observing;
mod read;

pub use crate::headset::ObservedSeat;
pub use crate::press::Material;
pub use demo::demo_bikes_json;
pub use file::{Bearings, Bike, BikeSchema, Measurement, Observed};
pub use findings::{Disagreement, Findings, Reading};
pub use observing::{Observable, Observing, observing};
