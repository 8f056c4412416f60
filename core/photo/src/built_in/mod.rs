//! The decoders that come with Steerwright, all of them in safe-to-call Rust libraries.

mod jpeg;
mod png;
mod rows;
mod webp;

use super::{Format, Limits, PhotoError, PixelSource, Pixels};

/// Decoders for JPEG, PNG and WebP; HEIC needs a platform's own.
///
/// A JPEG is decoded straight to a half, quarter or eighth where that is large enough, and a PNG is shrunk row by
/// row, so a large photo is never held whole unless its format asks for it (interlaced PNG, progressive JPEG, WebP).
#[derive(Debug, Clone, Copy, Default)]
pub struct BuiltIn;

impl PixelSource for BuiltIn {
    fn reads(&self, format: Format) -> bool {
        format != Format::Heic
    }

    fn pixels(
        &self,
        bytes: &[u8],
        format: Format,
        at_least: u32,
        limits: &Limits,
    ) -> Result<Pixels, PhotoError> {
        match format {
            Format::Jpeg => jpeg::pixels(bytes, at_least, limits),
            Format::Png => png::pixels(bytes, at_least, limits),
            Format::WebP => webp::pixels(bytes, at_least, limits),
            Format::Heic => Err(PhotoError::Heic),
        }
    }
}
