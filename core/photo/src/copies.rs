//! The copies: resized, turned upright, encoded with nothing but what is asked for.

use super::orientation::{Orientation, Upright};
use super::{Colour, PhotoError, Pixels};
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use fast_image_resize::images::{TypedImage, TypedImageRef};
use fast_image_resize::pixels::{U8, U8x3};
use fast_image_resize::{FilterType, PixelTrait, ResizeAlg, ResizeOptions, Resizer};
use jpeg_encoder::{ChromaSubsamplingMethod, ColorType, Encoder, SamplingFactor};

/// Long side of the working copy, pixels.
pub const WORKING: u32 = 1600;
/// Long side of the thumbnail, pixels.
pub const THUMBNAIL: u32 = 320;

/// Encoder's quality of the working copy, 1 to 100: marks are set on it, so edges have to stay sharp.
const WORKING_QUALITY: u8 = 88;
/// Of the thumbnail.
const THUMBNAIL_QUALITY: u8 = 80;

/// Size with the same proportions whose long side is `long` pixels; never enlarged, never without a pixel.
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

/// An upright picture of its final size.
pub(super) struct Picture {
    width: u32,
    height: u32,
    colour: Colour,
    data: Vec<u8>,
}

impl Picture {
    /// Turns decoded pixels upright and shrinks them to a long side of [`WORKING`].
    pub(super) fn working(pixels: Pixels, orientation: Orientation) -> Result<Self, PhotoError> {
        let Pixels { width, height, colour, data, full_width, full_height, step, upright } = pixels;
        let orientation = if upright { Orientation::TopLeft } else { orientation };
        let (across, down) = fit(full_width, full_height, WORKING);
        // The last column and row may lie partly beyond the full picture's edge: only the part within counts.
        let within = |side: u32, full: u32| (f64::from(full) / step).min(f64::from(side));
        let part = (within(width, full_width), within(height, full_height));
        let data = resized((width, height), colour, data, part, (across, down), orientation)?;
        let (width, height) = orientation.upright_size(across, down);
        Ok(Self { width, height, colour, data })
    }

    /// The pixels themselves.
    pub(super) fn into_pixels(self) -> Pixels {
        let Self { width, height, colour, data } = self;
        Pixels {
            width,
            height,
            colour,
            data,
            full_width: width,
            full_height: height,
            step: 1.0,
            upright: true,
        }
    }

    /// The working copy as a JPEG.
    pub(super) fn encoded(&self, focal_length: FocalLength) -> Result<Vec<u8>, PhotoError> {
        self.jpeg(WORKING_QUALITY, focal_length)
    }

    /// A JPEG with a long side of [`THUMBNAIL`].
    pub(super) fn thumbnail(self) -> Result<Vec<u8>, PhotoError> {
        let Self { width, height, colour, data } = self;
        let size = fit(width, height, THUMBNAIL);
        let whole = (f64::from(width), f64::from(height));
        let data = resized((width, height), colour, data, whole, size, Orientation::TopLeft)?;
        let small = Self { width: size.0, height: size.1, colour, data };
        small.jpeg(THUMBNAIL_QUALITY, FocalLength::default())
    }

    fn jpeg(&self, quality: u8, focal_length: FocalLength) -> Result<Vec<u8>, PhotoError> {
        let (Ok(width), Ok(height)) = (u16::try_from(self.width), u16::try_from(self.height)) else {
            return Err(PhotoError::NotWritten);
        };
        let mut out = Vec::with_capacity(self.data.len() / 8);
        let mut encoder = Encoder::new(&mut out, quality);
        encoder.set_sampling_factor(SamplingFactor::F_2_2);
        encoder.set_chroma_subsampling_method(ChromaSubsamplingMethod::Average);
        let colour = match self.colour {
            Colour::Grey => ColorType::Luma,
            Colour::Rgb => ColorType::Rgb,
        };
        encoder.add_exif_metadata(&focal_length.exif_block()?).map_err(|_| PhotoError::NotWritten)?;
        encoder.encode(&self.data, width, height, colour).map_err(|_| PhotoError::NotWritten)?;
        Ok(out)
    }
}

/// The focal length as a copy carries it; empty where it is not asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct FocalLength {
    /// Of the lens, mm.
    pub(super) real: Option<f64>,
    /// Of the same view on 36 x 24 mm film, mm.
    pub(super) on_35mm: Option<f64>,
}

impl FocalLength {
    /// A TIFF block that says that the picture is upright, and these focal lengths.
    fn exif_block(self) -> Result<Vec<u8>, PhotoError> {
        let field = |tag, value| Field { tag, ifd_num: In::PRIMARY, value };
        let mut fields = vec![field(Tag::Orientation, Value::Short(vec![1]))];
        if let Some(real) = self.real {
            // To a thousandth, as exactly as lenses state it.
            let num = (real * 1000.0).round() as u32;
            fields.push(field(Tag::FocalLength, Value::Rational(vec![Rational { num, denom: 1000 }])));
        }
        if let Some(on_35mm) = self.on_35mm {
            fields.push(field(Tag::FocalLengthIn35mmFilm, Value::Short(vec![on_35mm.round() as u16])));
        }
        if fields.len() > 1 {
            // DC-008 asks for it wherever there is an Exif directory.
            fields.push(field(Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)));
        }
        let mut writer = Writer::new();
        fields.iter().for_each(|field| writer.push_field(field));
        let mut block = std::io::Cursor::new(Vec::new());
        writer.write(&mut block, false).map_err(|_| PhotoError::NotWritten)?;
        Ok(block.into_inner())
    }
}

/// Rows of the result that are made at a time.
const STRIP: u32 = 64;

/// Shrinks the top left `part` of a picture of `from` pixels to `to` pixels, by a windowed sinc over three lobes, and
/// turns it upright; strip by strip, which gives the same pixels as all at once and holds less.
fn resized(
    from: (u32, u32),
    colour: Colour,
    data: Vec<u8>,
    part: (f64, f64),
    to: (u32, u32),
    orientation: Orientation,
) -> Result<Vec<u8>, PhotoError> {
    if from == to && orientation == Orientation::TopLeft {
        return Ok(data);
    }
    let mut upright = Upright::new(orientation, to.0, to.1, colour);
    if from == to {
        upright.push(&data);
        return Ok(upright.finish());
    }
    // By the kinds of pixels that there are: chosen at run time, code for a dozen others would come along.
    match colour {
        Colour::Grey => strips::<U8>(from, &data, part, to, &mut upright)?,
        Colour::Rgb => strips::<U8x3>(from, &data, part, to, &mut upright)?,
    }
    Ok(upright.finish())
}

fn strips<P: PixelTrait>(
    from: (u32, u32),
    data: &[u8],
    part: (f64, f64),
    to: (u32, u32),
    upright: &mut Upright,
) -> Result<(), PhotoError> {
    let source = TypedImageRef::<P>::from_buffer(from.0, from.1, data).map_err(|_| PhotoError::NotWritten)?;
    let mut resizer = Resizer::new();
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3));
    let edge = |row: u32| part.1 * f64::from(row) / f64::from(to.1);
    for first in (0..to.1).step_by(STRIP as usize) {
        let rows = STRIP.min(to.1 - first);
        let mut made = vec![0; to.0 as usize * rows as usize * P::size()];
        let mut strip =
            TypedImage::<P>::from_buffer(to.0, rows, &mut made).map_err(|_| PhotoError::NotWritten)?;
        // What lies above and below a strip still counts for its edges. Rounding must not lead beyond the picture.
        let (top, bottom) = (edge(first), edge(first + rows).next_down());
        let options = options.crop(0.0, top, part.0, (bottom - top).next_down());
        resizer.resize_typed(&source, &mut strip, &options).map_err(|_| PhotoError::NotWritten)?;
        upright.push(&made);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use fast_image_resize::PixelType;
    use fast_image_resize::images::{Image, ImageRef};

    #[test]
    fn sizes_keep_their_proportions() {
        assert_eq!(fit(4000, 3000, 1600), (1600, 1200));
        assert_eq!(fit(3000, 4000, 1600), (1200, 1600));
        assert_eq!(fit(1600, 900, 1600), (1600, 900));
        assert_eq!(fit(20, 10, 320), (20, 10), "never enlarged");
        assert_eq!(fit(100_000, 3, 320), (320, 1), "never without a pixel");
        assert_eq!(fit(4001, 3000, 1600), (1600, 1200));
    }

    #[test]
    fn strips_have_no_seams() {
        let from = (500, 403);
        let data: Vec<u8> = (0..500 * 403_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
        let (to, part) = ((390, 314), (499.5, 402.25));
        let strips = resized(from, Colour::Grey, data.clone(), part, to, Orientation::TopLeft).unwrap();
        let source = ImageRef::new(from.0, from.1, &data, PixelType::U8).unwrap();
        let mut whole = Image::new(to.0, to.1, PixelType::U8);
        let options = ResizeOptions::new().crop(0.0, 0.0, part.0, part.1);
        Resizer::new().resize(&source, &mut whole, &options).unwrap();
        let most = strips.iter().zip(whole.buffer()).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(most <= Some(1), "the same but for rounding: {most:?}");
    }

    #[test]
    fn only_what_is_asked_for_is_written() {
        let plain = FocalLength::default().exif_block().unwrap();
        assert_eq!(plain, b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\0");
        let asked = FocalLength { real: Some(5.43), on_35mm: Some(26.0) }.exif_block().unwrap();
        let exif = exif::Reader::new().read_raw(asked).unwrap();
        let said: Vec<String> = exif.fields().map(|f| format!("{} {}", f.tag, f.display_value())).collect();
        assert_eq!(
            said,
            [
                "Orientation row 0 at top and column 0 at left",
                "ExifVersion 2.32",
                "FocalLength 5.43",
                "FocalLengthIn35mmFilm 26"
            ]
        );
    }
}
