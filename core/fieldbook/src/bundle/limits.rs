//! Limits of a bundle, checked before anything large is allocated and again while it is unpacked.
//!
//! They bound the memory that any file can take. Entries are read one after the other, so what counts is the largest one:
//! a check's text is held packed, unpacked, parsed and in SQLite's statement, some five times [`CHECK`] at the worst.

/// Most bytes of the file: below the limit of a ZIP file without the 64-bit extensions.
pub(super) const FILE: u64 = 2 << 30;
/// Most entries: below the limit of a ZIP file without the 64-bit extensions.
pub(super) const ENTRIES: u64 = 50_000;
/// Most bytes of the central directory.
pub(super) const DIRECTORY: u64 = ENTRIES * 192;
/// Most bytes of the manifest: each entry needs some 200.
pub(super) const MANIFEST: u64 = 16 << 20;
/// Most bytes of the entry of a bike, or of the photos of no bike.
pub(super) const BIKE: u64 = 24 << 20;
/// Most JSON values in such an entry: the most photos with all their fields.
pub(super) const VALUES: usize = 500_000;
/// Most bytes of a stored check's entry. The largest is a report over thousands of kits.
pub(crate) const CHECK: u64 = 24 << 20;
/// Most bytes of a photo file.
pub(super) const PHOTO: u64 = 32 << 20;
/// Most bytes of all JSON entries, unpacked.
pub(super) const JSON: u64 = 1 << 30;
/// Most rows of logs, photos and sets of marks.
pub(super) const ROWS: usize = 400_000;
/// Most bytes of all entries, unpacked.
pub(super) const ALL: u64 = 4 << 30;
/// The largest compression ratio of an entry. Deflate reaches 1032; logs and reports stay below 40.
pub(super) const RATIO: u64 = 200;
/// Entries up to this many bytes may have any ratio.
pub(super) const SMALL: u64 = 256 << 10;
