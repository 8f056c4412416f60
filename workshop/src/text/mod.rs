//! Text reports for the terminal: aligned, wrapped to its width, and readable without colour.

pub(crate) mod book;
mod demo;
mod guide;
mod handling;
mod level;
mod page;
mod photo;
mod report;
mod wheels;

pub(crate) use demo::demo;
pub(crate) use guide::{guide, guide_names};
pub(crate) use handling::handling;
pub(crate) use level::level;
pub(crate) use photo::photo;
pub(crate) use report::{report, report_of_book};
pub(crate) use wheels::wheels;
