//! Bundles: a bike or a whole book in one file, for export and import (`steerwright.bundle/1`).
//!
//! A bundle is a ZIP file with `manifest.json` (every other entry with its length and SHA-256), `bikes/ID.json` (the
//! bike file of the contract without readings, its whole log, its photos' rows), `checks/ID.json`, `photos.json` (rows
//! of photos of no bike) and `photos/SHA256` (upright copies and thumbnails). It can be unpacked and read with common
//! tools.
//!
//! A bundle is untrusted input: [`Bundle::check`] checks all of it before anything is written. Merging
//! ([`FieldBook::merge`](super::FieldBook::merge)) keeps the rows of both sides without duplicates; the result does not
//! depend on which side is merged into which.

mod directory;
mod limits;
mod manifest;
mod merge;
mod name;
mod problem;
mod read;
mod record;
mod sticky_error;
mod write;

pub use manifest::{BundleSchema, Manifest, ManifestEntry};
pub use merge::BundleMerged;
pub use problem::BundleProblem;
pub use read::{Bundle, MOST_BUNDLE_BYTES};
pub use write::{BundleScope, BundleWritten};
