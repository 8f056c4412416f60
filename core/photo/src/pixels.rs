//! Decoded pixels, and the port for decoders.

use crate::{Format, Limits, PhotoError};
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder};

/// Layout of a pixel: eight bits a channel, sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// One byte.
    Grey,
    /// Red, green, blue.
    Rgb,
}

impl Colour {
    /// Bytes per pixel.
    pub fn channels(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::Rgb => 3,
        }
    }
}

/// A decoded picture: rows from the top, without padding. It may be smaller than the stored picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Pixels {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Layout of `data`.
    pub colour: Colour,
    /// `width * height * colour.channels()` bytes.
    pub data: Vec<u8>,
    /// Width of the full picture, in the orientation of `data`, pixels.
    pub full_width: u32,
    /// Height of the full picture, in the orientation of `data`, pixels.
    pub full_height: u32,
    /// Side of a pixel, in the full picture's pixels: at least 1. The last row or column may be partly beyond the full
    /// picture's edge.
    pub step: f64,
    /// Whether the Exif orientation is applied already, as some platforms' decoders do.
    pub upright: bool,
}

/// A decoder: [`BuiltIn`](crate::BuiltIn), or a platform's own.
pub trait PixelSource {
    /// Whether it decodes files of this format.
    fn reads(&self, format: Format) -> bool;

    /// Decodes the first picture of a file of the given format.
    ///
    /// The result may be smaller than the stored picture if its long side has `at_least` pixels or more.
    ///
    /// # Errors
    /// [`PhotoError`]. The decoder itself compares the limits on pixels, memory and work, before it allocates.
    fn pixels(
        &self,
        bytes: &[u8],
        format: Format,
        at_least: u32,
        limits: &Limits,
    ) -> Result<Pixels, PhotoError>;
}

impl Pixels {
    /// The picture as a PNG file that contains only its pixels.
    ///
    /// # Errors
    /// [`PhotoError::NotWritten`] if size, layout and length of the data do not match.
    pub fn to_png(&self) -> Result<Vec<u8>, PhotoError> {
        if !self.is_sound() {
            return Err(PhotoError::NotWritten);
        }
        let colour = match self.colour {
            Colour::Grey => ExtendedColorType::L8,
            Colour::Rgb => ExtendedColorType::Rgb8,
        };
        let mut bytes = Vec::new();
        PngEncoder::new(&mut bytes)
            .write_image(&self.data, self.width, self.height, colour)
            .map_err(|_| PhotoError::NotWritten)?;
        Ok(bytes)
    }

    /// Whether size, layout and length of the data match; a platform's decoder is not trusted.
    pub fn is_sound(&self) -> bool {
        let count = u64::from(self.width) * u64::from(self.height);
        self.width > 0
            && self.height > 0
            && self.full_width >= self.width
            && self.full_height >= self.height
            && self.step >= 1.0
            && self.step.is_finite()
            && count.checked_mul(self.colour.channels() as u64) == Some(self.data.len() as u64)
    }
}
