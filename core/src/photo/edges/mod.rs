//! Edges in a picture.

mod chains;
mod map;
mod rows;

pub use map::{Edgel, Heights, edgels};
