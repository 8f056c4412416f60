//! The copies: resized, upright, encoded without metadata except what is requested.
//!
//! `image` encodes colour at full size (4:4:4). Measured at 1600 x 1200 and quality 88, a copy takes 38 ms of CPU time
//! and is 11 % larger than one with colour at half size (4:2:0); the position of a tube's coloured edge is preserved.

use crate::{Colour, PhotoError, Pixels};
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use fast_image_resize::images::{TypedImage, TypedImageRef};
use fast_image_resize::pixels::{U8, U8x3};
use fast_image_resize::{FilterType, PixelTrait, ResizeAlg, ResizeOptions, Resizer};
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, GrayImage, ImageEncoder, RgbImage};

/// Long side of the working copy, pixels.
pub const WORKING: u32 = 1600;
/// Long side of the thumbnail, pixels.
pub const THUMBNAIL: u32 = 320;

/// JPEG quality of the working copy, 1 to 100: marks are set on it, so edges have to stay sharp.
const WORKING_QUALITY: u8 = 88;
/// JPEG quality of the thumbnail.
const THUMBNAIL_QUALITY: u8 = 80;

/// Size with the same proportions whose long side is at most `long` pixels; never enlarged, at least one pixel.
pub(super) fn fit(width: u32, height: u32, long: u32) -> (u32, u32) {
    let longer = width.max(height);
    if longer <= long {
        return (width, height);
    }
    let scaled = |side: u32| {
        let (side, long, longer) = (u64::from(side), u64::from(long), u64::from(longer));
        u32::try_from((2 * side * long + longer) / (2 * longer)).unwrap_or(long as u32).max(1)
    };
    (scaled(width), scaled(height))
}

/// An upright picture of its final size, grey or RGB with eight bits a channel.
pub(super) struct Picture(DynamicImage);

impl Picture {
    /// Shrinks decoded pixels to a long side of at most [`WORKING`], then applies the orientation.
    pub(super) fn working(pixels: Pixels, orientation: Orientation) -> Result<Self, PhotoError> {
        let Pixels { width, height, colour, data, full_width, full_height, step, upright: _ } = pixels;
        // The last column and row may be partly beyond the full picture's edge: only the part within counts.
        let within = |side: u32, full: u32| (f64::from(full) / step).min(f64::from(side));
        let part = (within(width, full_width), within(height, full_height));
        let mut image = resize((width, height), colour, data, part, fit(full_width, full_height, WORKING))?;
        image.apply_orientation(orientation);
        Ok(Self(image))
    }

    /// The pixels themselves.
    pub(super) fn into_pixels(self) -> Pixels {
        let (width, height) = (self.0.width(), self.0.height());
        Pixels {
            width,
            height,
            colour: colour(&self.0),
            data: self.0.into_bytes(),
            full_width: width,
            full_height: height,
            step: 1.0,
            upright: true,
        }
    }

    /// The working copy as a JPEG.
    pub(super) fn encode(&self, focal_length: FocalLength) -> Result<Vec<u8>, PhotoError> {
        encode_jpeg(&self.0, WORKING_QUALITY, focal_length)
    }

    /// A JPEG with a long side of at most [`THUMBNAIL`].
    pub(super) fn thumbnail(self) -> Result<Vec<u8>, PhotoError> {
        let Self(image) = self;
        let (width, height) = (image.width(), image.height());
        let (whole, size) = ((f64::from(width), f64::from(height)), fit(width, height, THUMBNAIL));
        let small = resize((width, height), colour(&image), image.into_bytes(), whole, size)?;
        encode_jpeg(&small, THUMBNAIL_QUALITY, FocalLength::default())
    }
}

fn colour(image: &DynamicImage) -> Colour {
    if image.color().has_color() { Colour::Rgb } else { Colour::Grey }
}

fn encode_jpeg(image: &DynamicImage, quality: u8, focal_length: FocalLength) -> Result<Vec<u8>, PhotoError> {
    let mut out = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut out, quality);
    encoder.set_exif_metadata(focal_length.exif_block()?).map_err(|_| PhotoError::NotWritten)?;
    image.write_with_encoder(encoder).map_err(|_| PhotoError::NotWritten)?;
    Ok(out)
}

/// The focal length stored in a copy; `None` if not requested.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct FocalLength {
    /// Of the lens, mm.
    pub(super) real: Option<f64>,
    /// Of the same view on 36 x 24 mm film, mm.
    pub(super) on_35mm: Option<f64>,
}

impl FocalLength {
    /// A TIFF block with the orientation "upright" and these focal lengths.
    fn exif_block(self) -> Result<Vec<u8>, PhotoError> {
        let field = |tag, value| Field { tag, ifd_num: In::PRIMARY, value };
        let mut fields = vec![field(Tag::Orientation, Value::Short(vec![1]))];
        if let Some(real) = self.real {
            // To a thousandth, the precision at which lenses state it.
            let num = (real * 1000.0).round() as u32;
            fields.push(field(Tag::FocalLength, Value::Rational(vec![Rational { num, denom: 1000 }])));
        }
        if let Some(on_35mm) = self.on_35mm {
            fields.push(field(Tag::FocalLengthIn35mmFilm, Value::Short(vec![on_35mm.round() as u16])));
        }
        if fields.len() > 1 {
            // CIPA DC-008 requires it in an Exif directory.
            fields.push(field(Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)));
        }
        let mut writer = Writer::new();
        fields.iter().for_each(|field| writer.push_field(field));
        let mut block = std::io::Cursor::new(Vec::new());
        writer.write(&mut block, false).map_err(|_| PhotoError::NotWritten)?;
        Ok(block.into_inner())
    }
}

/// Resizes the top left `part` of a picture of `from` pixels to `to` pixels by a Lanczos filter of three lobes.
///
/// `image`'s own Lanczos filter supports only integer pixel edges, and takes some ten times the CPU time (measured: 12
/// Mpx to [`WORKING`], 330 ms against 27 ms).
fn resize(
    from: (u32, u32),
    colour: Colour,
    data: Vec<u8>,
    part: (f64, f64),
    to: (u32, u32),
) -> Result<DynamicImage, PhotoError> {
    // Typed for the two pixel formats that occur: dispatch at run time would link code for a dozen others.
    let data = match colour {
        _ if from == to => data,
        Colour::Grey => resize_typed::<U8>(from, &data, part, to)?,
        Colour::Rgb => resize_typed::<U8x3>(from, &data, part, to)?,
    };
    let image = match colour {
        Colour::Grey => GrayImage::from_raw(to.0, to.1, data).map(DynamicImage::from),
        Colour::Rgb => RgbImage::from_raw(to.0, to.1, data).map(DynamicImage::from),
    };
    image.ok_or(PhotoError::NotWritten)
}

fn resize_typed<P: PixelTrait>(
    from: (u32, u32),
    data: &[u8],
    part: (f64, f64),
    to: (u32, u32),
) -> Result<Vec<u8>, PhotoError> {
    let mut out = vec![0; to.0 as usize * to.1 as usize * P::size()];
    let source = TypedImageRef::<P>::from_buffer(from.0, from.1, data).map_err(|_| PhotoError::NotWritten)?;
    let mut target =
        TypedImage::<P>::from_buffer(to.0, to.1, &mut out).map_err(|_| PhotoError::NotWritten)?;
    let filter = ResizeAlg::Convolution(FilterType::Lanczos3);
    let options = ResizeOptions::new().resize_alg(filter).crop(0.0, 0.0, part.0, part.1);
    Resizer::new().resize_typed(&source, &mut target, &options).map_err(|_| PhotoError::NotWritten)?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_keep_their_proportions() {
        assert_eq!(fit(4000, 3000, 1600), (1600, 1200));
        assert_eq!(fit(3000, 4000, 1600), (1200, 1600));
        assert_eq!(fit(1600, 900, 1600), (1600, 900));
        assert_eq!(fit(20, 10, 320), (20, 10), "never enlarged");
        assert_eq!(fit(100_000, 3, 320), (320, 1), "at least one pixel");
        assert_eq!(fit(4001, 3000, 1600), (1600, 1200));
    }

    #[test]
    fn exif_block_has_only_what_is_asked_for() {
        let plain = FocalLength::default().exif_block().unwrap();
        assert_eq!(plain, b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\0");
        let asked = FocalLength { real: Some(5.43), on_35mm: Some(26.0) }.exif_block().unwrap();
        let exif = exif::Reader::new().read_raw(asked).unwrap();
        let fields: Vec<String> = exif.fields().map(|f| format!("{} {}", f.tag, f.display_value())).collect();
        assert_eq!(
            fields,
            [
                "Orientation row 0 at top and column 0 at left",
                "ExifVersion 2.32",
                "FocalLength 5.43",
                "FocalLengthIn35mmFilm 26"
            ]
        );
    }
}
