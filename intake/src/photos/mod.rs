//! Photos: where they lie, how they come in part by part, and what may be in them.

mod jpeg;
mod range;
mod shelf;
mod upload;

pub use jpeg::{Refused, look};
pub use range::{ContentRange, NoRange};
pub use shelf::{Shelf, ShelfError};
pub use upload::{Here, Photo, Progress, PutError, progress, put, read, tidy};
