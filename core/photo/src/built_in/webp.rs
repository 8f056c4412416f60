//! WebP: held whole; of an animation the first frame.

use super::rows::Shrinking;
use crate::{Format, Limits, PhotoError, Pixels};
use image_webp::{DecodingError, WebPDecoder};

const FORMAT: Format = Format::WebP;

/// Bytes per pixel that decoding may hold: the result, a lossless frame's own four channels, and an animation's canvas.
const HELD: u64 = 12;

pub(super) fn pixels(bytes: &[u8], at_least: u32, limits: &Limits) -> Result<Pixels, PhotoError> {
    // The file's own length stands in its header (RFC 9649, 2.4).
    let length = bytes.get(4..).and_then(|rest| rest.first_chunk()).map(|length| u32::from_le_bytes(*length));
    if length.is_none_or(|length| u64::from(length) + 8 > bytes.len() as u64) {
        return Err(PhotoError::CutShort { format: FORMAT });
    }
    let mut decoder = WebPDecoder::new(std::io::Cursor::new(bytes)).map_err(error)?;
    let (width, height) = decoder.dimensions();
    limits.check_pixels(width, height)?;
    limits.check_memory(u64::from(width) * u64::from(height) * HELD)?;
    if width == 0 || height == 0 {
        return Err(PhotoError::Damaged { format: FORMAT });
    }
    decoder.set_memory_limit(usize::try_from(limits.memory).unwrap_or(usize::MAX));
    let Some(whole) = decoder.output_buffer_size() else {
        return Err(PhotoError::TooLarge { width, height });
    };
    let channels = if decoder.has_alpha() { 4 } else { 3 };
    let mut data = vec![0; whole];
    decoder.read_image(&mut data).map_err(error)?;
    let mut shrinking = Shrinking::new(width, height, channels, at_least);
    data.chunks_exact(width as usize * channels).for_each(|row| shrinking.push(row));
    Ok(shrinking.finish())
}

fn error(error: DecodingError) -> PhotoError {
    match error {
        DecodingError::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            PhotoError::CutShort { format: FORMAT }
        }
        DecodingError::ImageTooLarge | DecodingError::MemoryLimitExceeded => {
            PhotoError::Unsupported { format: FORMAT, what: "it takes too much memory" }
        }
        _ => PhotoError::Damaged { format: FORMAT },
    }
}
