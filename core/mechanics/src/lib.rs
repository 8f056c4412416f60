//! The front end of a bicycle: its seats, its side view, and what a tilted steerer does to both.

pub mod clearance;
pub mod geometry;
pub mod headset;
pub mod press;
pub mod steerer;
pub mod tilt;
