//! Pictures as a display list in millimetres, and that list as SVG.
//!
//! [`head_tube_section`] shows a kit in the head tube, [`side_view`] the bike before and after, and [`tool_place`]
//! where to put the tool for a measurement. They take plain numbers and give a [`Drawing`], which any shell can
//! draw; [`Drawing::to_svg`] draws it for a page or for paper. Nothing here computes fits or angles that the
//! physics computes: a picture shows what it was told.

mod error;
mod list;
pub mod palette;
mod plain;
mod point;
mod section;
mod side_view;
mod svg;
mod text;

pub use error::DrawingError;
pub use list::{
    Anchor, AngleDimension, Drawing, Fill, Item, Layer, LengthDimension, Role, SHEET_WIDTH_MM, SMALL_TEXT_MM,
    Text,
};
pub use palette::Theme;
pub use point::{Extent, Point};
pub use section::{
    LeastRoom, Relief, ReliefSide, SectionEnd, SectionInput, SectionSeat, SectionSteerer, Side,
};
pub use side_view::{BikePoints, SideViewInput};
pub use svg::SvgOptions;
pub use text::text_width;
