//! Limits of a bundle, checked before anything large is allocated and again while it is unpacked.

/// Most bytes of the file: below the limit of a ZIP file without the 64-bit extensions.
pub(super) const FILE: u64 = 2 << 30;
/// Most entries: below the limit of a ZIP file without the 64-bit extensions.
pub(super) const ENTRIES: u64 = 50_000;
/// Most bytes of the central directory.
pub(super) const DIRECTORY: u64 = ENTRIES * 192;
/// Most bytes of one entry, unpacked. The largest is a report over thousands of kits.
pub(super) const ENTRY: u64 = 64 << 20;
/// Most bytes of all entries, unpacked.
pub(super) const ALL: u64 = 4 << 30;
/// The largest compression ratio of an entry. Deflate reaches 1032; logs and reports stay below 40.
pub(super) const RATIO: u64 = 200;
/// Entries up to this many bytes may have any ratio.
pub(super) const SMALL: u64 = 256 << 10;
