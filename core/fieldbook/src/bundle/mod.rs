//! Bundles: a bike or a whole book in one file, for export and import (`steerwright.bundle/1`).
//!
//! A bundle is a ZIP file with `manifest.json` (every other entry with its length and SHA-256), `bikes/ID.json` (the
//! bike file of the contract without readings, its whole log, its photos' rows), `checks/ID.json`, `photos.json` (rows
//! of photos of no bike) and `photos/SHA256` (upright copies and thumbnails). It can be unpacked and read with common
//! tools.
//!
//! A bundle is untrusted input: [`Bundle::check`] checks all of it before anything is written. Its entries are read one by
//! one, each within its limit, so that no file takes more memory than a large check does.
//!
//! Merging ([`FieldBook::merge`](super::FieldBook::merge)) keeps the rows of both sides without duplicates. What the other
//! side struck out, removed or wrote over is taken only if the user accepts it ([`BundleAcceptance`]); with all of it
//! accepted, the result does not depend on which side is merged into which.

mod change;
mod directory;
mod future;
mod json;
pub(crate) mod limits;
mod manifest;
mod merge;
mod merge_bike;
mod merge_rows;
mod name;
mod problem;
mod read;
mod record;
mod sticky_error;
mod write;

pub use change::{BundleAcceptance, BundleChange, BundleChangeKind};
pub use manifest::{BundleSchema, Manifest, ManifestEntry};
pub use merge::{BundleMerged, BundlePreview};
pub use problem::BundleProblem;
pub use read::{Bundle, MOST_BUNDLE_BYTES};
pub use write::{BundleScope, BundleWritten};
