//! The report of a check: every kit judged and described in words, what to measure next, cautions.
//!
//! The numbers come from [`crate::judgement`] and [`crate::advice`]; this module only words them.

mod cautions;
mod check;
mod comparison;
mod file;
mod handling;
mod holds;
mod kit;
mod wording;
mod words;

pub use cautions::caution_id;
pub use check::{CheckError, Options, ScreenedSurvey, check, check_in};
pub use comparison::Comparison;
pub use file::{
    CatalogueRef, Change, FittedReport, HeadAngleChange, KitReport, LeftOut, Margin, MeasureNext, Report,
    ReportSchema, RequirementReport, SeatChance, Seats, TiltReport,
};
pub use handling::{
    FigureReport, Handling, HandlingError, HandlingSchema, MissingFigure, Modification, Target, handling,
};
pub use holds::{Holds, Turn};
pub use words::{degrees, millimetres, percent};
