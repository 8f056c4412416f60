//! The domain model of bikes, kits and steering angles, shared by every shell: no interface, no network, no clock.
//!
//! The data flow: a file is read as a [`bike::Bike`]; its readings give [`bike::Findings`] (estimates with a standard
//! uncertainty); [`judgement`] evaluates the requirements of a kit of a [`catalogue::Catalogue`] against them and
//! returns a verdict, which [`report`] states in words. [`advice`] determines what to measure next and [`drawing`]
//! shows where.
//!
//! Lengths are in millimetres and angles in degrees at every public boundary.
//!
//! The implementation is in the crates below; this one re-exports them and combines what a screen needs from several of
//! them.

pub mod report;

pub use steerwright_drawing as drawing;
pub use steerwright_fieldbook as book;
pub use steerwright_fieldbook::orders;
pub use steerwright_fit::{advice, bike, catalogue, judgement};
pub use steerwright_input as input;
pub use steerwright_level as level;
pub use steerwright_mechanics::{clearance, geometry, headset, press, steerer, tilt};
pub use steerwright_metrology::{conformity, ids, practice, quantity, sentence, timestamp, voice};
pub use steerwright_photo as photo;
pub use steerwright_photogrammetry as photogrammetry;
pub use steerwright_protocol as protocol;
pub use steerwright_screens as screens;
pub use steerwright_words as words;
