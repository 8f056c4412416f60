//! Decoded pixels, and who decodes them.

use super::{Format, Limits, PhotoError};

/// How a pixel is laid out: eight bits a channel, sRGB.
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

/// A decoded picture, row by row from the top, without padding; it may be smaller than the stored picture.
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
    /// Width of the full picture, lying as `data` lies.
    pub full_width: u32,
    /// Height of the full picture, lying as `data` lies.
    pub full_height: u32,
    /// How many of the full picture's pixels one pixel stands for, along each side: at least 1. The last row or
    /// column may lie partly beyond the full picture's edge.
    pub step: f64,
    /// Whether the turn that Exif asks for has been done already, as some platforms' decoders do.
    pub upright: bool,
}

/// Something that decodes pictures: [`BuiltIn`](super::BuiltIn), or a platform's own decoder.
pub trait PixelSource {
    /// Whether it reads files of this format.
    fn reads(&self, format: Format) -> bool;

    /// Decodes the first picture of a file of the given format.
    ///
    /// Of a picture larger than that, the result may be any smaller version whose long side has `at_least` pixels. Fails as
    /// [`PhotoError`] says; the limits on pixels, memory and work are its to keep, before it allocates.
    fn pixels(
        &self,
        bytes: &[u8],
        format: Format,
        at_least: u32,
        limits: &Limits,
    ) -> Result<Pixels, PhotoError>;
}

impl Pixels {
    /// The picture as a PNG file with nothing in it but its pixels.
    ///
    /// # Errors
    /// [`PhotoError::NotWritten`] if the parts do not agree with each other.
    pub fn to_png(&self) -> Result<Vec<u8>, PhotoError> {
        if !self.is_sound() {
            return Err(PhotoError::NotWritten);
        }
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.width, self.height);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_color(match self.colour {
            Colour::Grey => png::ColorType::Grayscale,
            Colour::Rgb => png::ColorType::Rgb,
        });
        let written = encoder.write_header().and_then(|mut writer| {
            writer.write_image_data(&self.data)?;
            writer.finish()
        });
        written.map_err(|_| PhotoError::NotWritten)?;
        Ok(bytes)
    }

    /// Whether the parts agree with each other; a foreign source is not trusted.
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
