//! Everything true about bikes, kits and steering angles, as every shell uses it: no interface, no network, no clock.
//!
//! The way of a request, in one breath: a file becomes a [`bike::Bike`], its readings become
//! [`bike::Findings`] (estimates with a standard uncertainty), a kit of a [`catalogue::Catalogue`] asks its
//! requirements of them, and [`fit`] turns those into a verdict and a report. [`advice`] says what to measure
//! next and [`drawing`] shows where.
//!
//! Lengths are in millimetres and angles in degrees at every public boundary.
//!
//! The crates below hold all of it; this one joins what a screen needs of several of them.

pub mod report;

pub use steerwright_drawing as drawing;
pub use steerwright_fieldbook as book;
pub use steerwright_fieldbook::orders;
pub use steerwright_fit::{advice, bike, catalogue, fit};
pub use steerwright_input as input;
pub use steerwright_level as level;
pub use steerwright_mechanics::{clearance, geometry, headset, press, steerer, tilt};
pub use steerwright_metrology::{conformity, ids, timestamp, practice, quantity, sentence};
pub use steerwright_photo as photo;
pub use steerwright_photogrammetry as photogrammetry;
pub use steerwright_protocol as protocol;
