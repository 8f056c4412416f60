//! Measuring a bike on a side-on photo with marks.

mod marks;

pub use marks::{Axis, Image, Lens, Line, Mark, Marks, MarksSchema, Pixel, Wheel};
