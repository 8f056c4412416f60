//! Reports of a check, of handling, of a photo and of the level, and the pictures that belong to them.

mod level;
mod photo;
mod photo_change;

pub use level::{LevelReport, LevelSchema, level, level_change};
pub use photo::{
    PhotoDoubt, PhotoFit, PhotoRefusal, PhotoReport, PhotoSchema, PhotoValue, bike_on_photo, photo_handling,
};
pub use photo_change::{Expected, PhotoChange};
pub use steerwright_fit::report::*;
pub use steerwright_pictures::{pictures, side_view_picture};
