//! The report of a check: every kit judged and put in words, what to measure next, what to heed.
//!
//! The numbers come from [`crate::fit`] and [`crate::advice`]; this room only asks them and speaks.

mod cautions;
mod check;
mod comparison;
mod file;
mod handling;
mod kit;
mod level;
mod photo;
mod photo_change;
mod pictures;
mod says;
mod words;

pub use cautions::caution_id;
pub use check::{CheckError, Options, check};
pub use comparison::Comparison;
pub use file::{
    CatalogueRef, Change, HeadAngleChange, KitReport, LeftOut, Margin, MeasureNext, Report, ReportSchema,
    RequirementReport, SeatChance, Seats, TiltReport,
};
pub use handling::{
    FigureReport, Handling, HandlingError, HandlingSchema, MissingFigure, Modification, Target, handling,
};
pub use level::{LevelReport, LevelSchema, level, level_change};
pub use photo::{
    PhotoDoubt, PhotoFit, PhotoRefusal, PhotoReport, PhotoSchema, PhotoValue, bike_on_photo, photo_handling,
};
pub use photo_change::{Expected, PhotoChange};
pub use pictures::{pictures, side_view_picture};
pub use words::{degrees, millimetres, percent};
