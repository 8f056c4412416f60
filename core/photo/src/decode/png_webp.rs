//! PNG and WebP, at full size; of an animation the first frame.

use crate::{Colour, Format, Limits, PhotoError, Pixels};
use image::codecs::png::PngDecoder;
use image::codecs::webp::WebPDecoder;
use image::{ColorType, DynamicImage, ImageDecoder, ImageError};
use std::io::{Cursor, ErrorKind};

/// Bytes that the chunks besides a PNG's picture (profiles, texts) and two rows may take together: a compressed profile
/// of few bytes can expand to gigabytes.
const PNG_CHUNKS: u64 = 64 << 20;

pub(super) fn png(bytes: &[u8], limits: &Limits) -> Result<Pixels, PhotoError> {
    pixels(png_decoder(bytes, limits)?, Format::Png, 0, limits)
}

fn png_decoder<'a>(bytes: &'a [u8], limits: &Limits) -> Result<PngDecoder<Cursor<&'a [u8]>>, PhotoError> {
    let mut chunks = image::Limits::no_limits();
    chunks.max_alloc = Some(limits.memory.min(PNG_CHUNKS));
    PngDecoder::with_limits(Cursor::new(bytes), chunks).map_err(|cause| error(Format::Png, cause))
}

/// Bytes per pixel that decoding a WebP holds in addition to the result: a lossless frame and an animation's canvas.
const WEBP_WORK: u64 = 8;

pub(super) fn webp(bytes: &[u8], limits: &Limits) -> Result<Pixels, PhotoError> {
    // The file states its own length (RFC 9649, 2.4); the decoder does not compare it with the actual length.
    let length = bytes.get(4..).and_then(|rest| rest.first_chunk()).map(|length| u32::from_le_bytes(*length));
    if length.is_none_or(|length| u64::from(length) + 8 > bytes.len() as u64) {
        return Err(PhotoError::CutShort { format: Format::WebP });
    }
    let decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(|cause| error(Format::WebP, cause))?;
    pixels(decoder, Format::WebP, WEBP_WORK, limits)
}

/// Decodes after the size was compared with the limits. `work` is the memory that the decoder holds in addition to the
/// result, bytes per pixel.
fn pixels(
    decoder: impl ImageDecoder,
    format: Format,
    work: u64,
    limits: &Limits,
) -> Result<Pixels, PhotoError> {
    let (width, height) = decoder.dimensions();
    limits.check_pixels(width, height)?;
    if width == 0 || height == 0 {
        return Err(PhotoError::Damaged { format });
    }
    let stored = decoder.color_type();
    let converted = match stored {
        ColorType::L8 | ColorType::Rgb8 => 0,
        _ if stored.has_color() => 4,
        _ => 2,
    };
    let per_pixel = u64::from(stored.bytes_per_pixel()) + work.max(converted);
    limits.check_memory(u64::from(width) * u64::from(height) * per_pixel)?;
    let image = DynamicImage::from_decoder(decoder).map_err(|cause| error(format, cause))?;
    let (colour, data) = match on_white(image) {
        DynamicImage::ImageLuma8(grey) => (Colour::Grey, grey.into_raw()),
        other => (Colour::Rgb, other.into_rgb8().into_raw()),
    };
    Ok(Pixels {
        width,
        height,
        colour,
        data,
        full_width: width,
        full_height: height,
        step: 1.0,
        upright: false,
    })
}

/// Eight bits a channel without opacity. A JPEG has no opacity: transparent areas become white.
fn on_white(image: DynamicImage) -> DynamicImage {
    let blend = |value: &mut u8, opacity: u8| {
        let (on, off) = (u32::from(opacity), 255 - u32::from(opacity));
        *value = ((u32::from(*value) * on + 255 * off + 127) / 255) as u8;
    };
    match (image.color().has_alpha(), image.color().has_color()) {
        (false, false) => image.into_luma8().into(),
        (false, true) => image.into_rgb8().into(),
        (true, false) => {
            let mut grey = image.into_luma_alpha8();
            grey.pixels_mut().for_each(|image::LumaA([value, opacity])| blend(value, *opacity));
            DynamicImage::from(grey).into_luma8().into()
        }
        (true, true) => {
            let mut rgb = image.into_rgba8();
            for image::Rgba([red, green, blue, opacity]) in rgb.pixels_mut() {
                [red, green, blue].into_iter().for_each(|value| blend(value, *opacity));
            }
            DynamicImage::from(rgb).into_rgb8().into()
        }
    }
}

fn error(format: Format, cause: ImageError) -> PhotoError {
    match cause {
        ImageError::IoError(cause) if cause.kind() == ErrorKind::UnexpectedEof => {
            PhotoError::CutShort { format }
        }
        ImageError::Limits(_) => PhotoError::Unsupported { format, what: "it takes too much memory" },
        _ => PhotoError::Damaged { format },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::codecs::png::PngEncoder;
    use image::{ExtendedColorType, GrayAlphaImage, ImageBuffer, ImageEncoder, Rgb, RgbaImage};

    #[test]
    fn a_profile_that_expands_beyond_the_limit_is_dropped() {
        let kept = |length: u64| {
            let mut file = Vec::new();
            let mut encoder = PngEncoder::new(&mut file);
            encoder.set_icc_profile(vec![0; length as usize]).unwrap();
            encoder.write_image(&[90], 1, 1, ExtendedColorType::L8).unwrap();
            assert_eq!(png(&file, &Limits::default()).unwrap().data, [90]);
            png_decoder(&file, &Limits::default()).unwrap().icc_profile().unwrap().is_some()
        };
        assert!(kept(1000) && !kept(PNG_CHUNKS + 1));
    }

    #[test]
    fn opacity_lets_white_through() {
        let rgba = vec![10, 20, 30, 255, 10, 20, 30, 0, 0, 100, 255, 51];
        let image = on_white(RgbaImage::from_raw(3, 1, rgba).unwrap().into());
        // A fifth of 0, 100 and 255 with four fifths of white.
        assert_eq!(image.as_rgb8().unwrap().as_raw(), &[10, 20, 30, 255, 255, 255, 204, 224, 255]);
        let grey = on_white(GrayAlphaImage::from_raw(2, 1, vec![7, 255, 7, 0]).unwrap().into());
        assert_eq!(grey.as_luma8().unwrap().as_raw(), &[7, 255]);
    }

    #[test]
    fn sixteen_bits_become_eight() {
        let deep = ImageBuffer::<Rgb<u16>, _>::from_raw(1, 1, vec![0_u16, 0x8080, 0xFFFF]).unwrap();
        assert_eq!(on_white(deep.into()).as_rgb8().unwrap().as_raw(), &[0, 0x80, 0xFF]);
    }
}
