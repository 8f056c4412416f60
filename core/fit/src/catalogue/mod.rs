//! The catalogue file of a kit maker (`steerwright.catalogue/1`).

mod check;
mod demo;
mod file;
mod read;

pub use demo::demo_catalogue_json;
pub use file::{Bearing, BearingSupply, Catalogue, CatalogueSchema, Kit, KitEnd, KitSteerer};
