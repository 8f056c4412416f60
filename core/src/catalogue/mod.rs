//! What a maker offers: the catalogue file (`steerwright.catalogue/1`).

mod check;
mod file;
mod read;

pub use file::{Bearing, BearingSupply, Catalogue, CatalogueSchema, Kit, KitEnd, KitSteerer};
