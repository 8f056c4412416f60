//! Helpers shared by the checks in `tests/`.

pub mod any;
pub mod bench;
mod clock;
pub mod crash;
pub mod geometry_draws;
pub mod monte_carlo;
pub mod parcel;
pub mod photo_scenes;
pub mod photo_tally;
mod shelf;

pub use clock::SteadyClock;
pub use shelf::{Shelf, bike, dump, dump_but_touches, reading};
