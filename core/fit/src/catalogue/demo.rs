//! The catalogue of the invented Tarn & Tiller Components.

/// The text of the demo catalogue (`steerwright.catalogue/1`), number 12.
pub fn demo_catalogue_json() -> &'static str {
    include_str!("../../data/demo/catalogue.json")
}
