//! What is known of one bike: its file (`steerwright.bike/1`) and the findings that follow from it.

mod demo;
mod file;
mod findings;
mod fitted;
mod observing;
mod read;

pub use demo::demo_bikes_json;
pub use file::{Bearings, Bike, BikeSchema, Observed};
pub use findings::{Disagreement, Findings, Reading};
pub use fitted::{FittedEnd, FittedKit};
pub use observing::{LookForkOut, Observable, Observing, observing};
pub use steerwright_mechanics::headset::ObservedSeat;
pub use steerwright_mechanics::press::Material;
pub use steerwright_metrology::quantity::Measurement;
