//! The decoders that come with Steerwright.
//!
//! PNG and WebP are decoded by the `image` crate, and so are the type of a file and its orientation. JPEG stays with
//! `jpeg-decoder`, whose inverse transform makes a half, quarter or eighth of the picture directly. Measured on
//! x86-64, release build, one thread, photograph-like pictures of 4:2:0 and quality 90, down to a long side of 1600
//! pixels; medians of 15 rounds in turns (9 at 50 Mpx). CPU time is user and system; memory is the peak above
//! a process that only reads the file.
//!
//! | | 12 Mpx baseline | 12 Mpx progressive | 50 Mpx baseline | 50 Mpx progressive |
//! | --- | --- | --- | --- | --- |
//! | `image` 0.25.10, then `fast_image_resize` | 92 ms, 49 MiB | 213 ms, 66 MiB | 340 ms, 179 MiB | 829 ms, 298 MiB |
//! | `jpeg-decoder` 0.3.2 scaled, then `fast_image_resize` | 75 ms, 12 MiB | 196 ms, 47 MiB | 185 ms, 19 MiB | 699 ms, 162 MiB |
//! | libvips 8.18.7, `thumbnail` | 91 ms, 27 MiB | 194 ms, 62 MiB | 201 ms, 36 MiB | 643 ms, 178 MiB |
//! | libvips 8.18.7, made to shrink on load | 62 ms, 17 MiB | 165 ms, 52 MiB | 199 ms, 36 MiB | 645 ms, 178 MiB |
//! | libvips 8.18.7, no shrink on load | 90 ms, 27 MiB | 193 ms, 62 MiB | 353 ms, 65 MiB | 807 ms, 207 MiB |
//!
//! libvips' `thumbnail` leaves a factor of two to its resize, so it does not shrink a picture of 12 Mpx on load.
//! `image` was to be taken unless it costs more than 1.5 times libvips' CPU time at 12 Mpx or more than 250 MiB at
//! 50 Mpx. It takes as long as `thumbnail` and 1.50 times as long as shrink-on-load, and a progressive JPEG of 50 Mpx
//! exceeds the memory: `image` holds all coefficients (16 bits a sample) beside the picture at full size. It also
//! decodes without strictness and has no option for it: of a JPEG that ends after a tenth of its bytes it returns a
//! picture, the rest grey, where `jpeg-decoder` reports an error.

mod jpeg;
mod jpeg_segments;
mod png_webp;

pub(crate) use jpeg_segments::exif as jpeg_exif;

use crate::{Format, Limits, PhotoError, PixelSource, Pixels};

/// Decoders for JPEG, PNG and WebP; HEIC needs a platform's own.
///
/// A JPEG is decoded to a half, quarter or eighth where that is large enough. PNG and WebP are held at full size.
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
            Format::Png => png_webp::png(bytes, limits),
            Format::WebP => png_webp::webp(bytes, limits),
            Format::Heic => Err(PhotoError::Heic),
        }
    }
}
