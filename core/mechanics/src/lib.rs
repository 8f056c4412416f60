//! Geometry and mechanics of the front end of a bicycle.

pub mod clearance;
pub mod geometry;
pub mod headset;
pub mod press;
pub mod steerer;
pub mod tilt;
