//! Pictures as a display list in millimetres, and that list as SVG.
//!
//! [`head_tube_section`] shows a kit in the head tube, [`side_view`] the bike before and after, [`number_line`] how far
//! an answer holds, and [`tool_place`] the position of the tool for a measurement. They take plain numbers and return a
//! [`Drawing`], which any shell can draw; [`Drawing::to_svg`] writes it for a page or for paper. This crate makes no decision about what fits: a picture shows
//! its input.

mod error;
mod label;
mod list;
mod number_line;
pub mod palette;
mod plain;
mod point;
mod section;
mod sheet;
mod side_view;
mod svg;
mod text;
mod tool;
mod world;

pub use error::DrawingError;
pub use list::{
    Anchor, AngleDimension, Drawing, Fill, Item, Layer, LengthDimension, Role, SHEET_WIDTH_MM, SMALL_TEXT_MM,
    Target, Text,
};
pub use number_line::{NumberLineInput, NumberLineRow, StretchEnd, number_line};
pub use palette::Theme;
pub use point::{BoundingBox, Point};
pub use section::{
    Deepening, LeastClearance, Relief, ReliefSide, SectionEnd, SectionInput, SectionSeat, SectionSteerer,
    head_tube_section,
};
pub use side_view::{BikePoints, SideViewInput, side_view};
pub use svg::{SvgOptions, style_sheet};
pub use text::text_width;
pub use tool::tool_place;
