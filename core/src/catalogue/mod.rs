//! What a maker offers: the catalogue file (`steerwright.catalogue/1`).

mod file;

pub use file::{Bearing, BearingSupply, Catalogue, CatalogueSchema, Kit, KitEnd, KitSteerer};
