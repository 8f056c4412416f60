//! Helpers shared by the tests.

pub mod any;
mod clock;
pub mod crash;
pub mod fixture;
pub mod geometry_draws;
pub mod monte_carlo;
pub mod parcel;
pub mod photo_scenes;
pub mod photo_statistics;
mod temp_book;

pub use clock::RepeatableClock;
pub use temp_book::{TempBook, bike, dump, dump_but_touches, reading};
