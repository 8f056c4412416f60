//! Validation of photos: a single JPEG that contains nothing but pixels.
//!
//! A sender encodes a working copy from the pixels, with at most the focal length and the orientation in an
//! Exif segment. Anything else indicates another program: a location, a serial number, a name, a second image
//! after the end. Such a photo is rejected and not stripped, because its name is the hash of its bytes.

use exif::{Reader, Tag};
use zune_core::bytestream::ZCursor;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

/// Why a photo is rejected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum JpegError {
    /// It does not start with a JPEG signature.
    #[error("it is not a JPEG")]
    NotJpeg,
    /// Its segments cannot be parsed up to the end of the image.
    #[error("it is cut short or damaged")]
    Damaged,
    /// A side is longer than [`MAX_SIDE`].
    #[error("it is {0} x {1} pixels; a side has at most {MAX_SIDE}")]
    TooLarge(u16, u16),
    /// Its pixels cannot be decoded.
    #[error("its pixels cannot be read")]
    Pixels,
    /// It contains data other than pixels.
    #[error("it holds {0} besides its pixels; send a copy without")]
    Metadata(&'static str),
}

/// The longest side, pixels. A sender's working copy has 1600.
pub const MAX_SIDE: u16 = 4096;
/// The most scans of a progressive picture, since each takes a pass over all pixels. Encoders write about ten (common
/// practice).
const MAX_SCANS: u32 = 64;

/// Exif tags that reveal no location, time or person.
const ALLOWED_TAGS: &[Tag] =
    &[Tag::Orientation, Tag::FocalLength, Tag::FocalLengthIn35mmFilm, Tag::ExifVersion];

/// Validates the segments of a JPEG (ITU-T T.81, annex B) without decoding it.
///
/// # Errors
/// The reason for rejection.
pub fn check_jpeg(bytes: &[u8]) -> Result<(), JpegError> {
    let Some(mut rest) = bytes.strip_prefix(&[0xFF, 0xD8]) else { return Err(JpegError::NotJpeg) };
    if rest.first() != Some(&0xFF) {
        return Err(JpegError::NotJpeg);
    }
    let (mut frames, mut scans) = (0u32, 0u32);
    loop {
        let (marker, after) = next_marker(rest)?;
        match marker {
            0xD9 if frames == 1 && scans > 0 => {
                return if after.is_empty() {
                    Ok(())
                } else {
                    Err(JpegError::Metadata("bytes behind its end"))
                };
            }
            // Markers without a length: a restart marker is valid only inside a scan, and a second start
            // marker means a second image.
            0x00 | 0x01 | 0xD0..=0xD9 => return Err(JpegError::Damaged),
            _ => {}
        }
        let (body, after) = segment(after)?;
        match marker {
            0xC0..=0xC2 => {
                // Precision, height, width.
                let [_, high, low, wide, side, ..] = body else { return Err(JpegError::Damaged) };
                let (height, width) = (u16::from_be_bytes([*high, *low]), u16::from_be_bytes([*wide, *side]));
                if height == 0 || width == 0 {
                    return Err(JpegError::Damaged);
                }
                if height.max(width) > MAX_SIDE {
                    return Err(JpegError::TooLarge(width, height));
                }
                frames = frames.saturating_add(1);
            }
            0xC3 | 0xC5..=0xC7 | 0xC8..=0xCB | 0xCD..=0xCF => return Err(JpegError::NotJpeg),
            0xE0 if body.starts_with(b"JFIF\0") => check_jfif(body)?,
            0xE1 if body.starts_with(b"Exif\0") => check_exif(body)?,
            0xEE if body.starts_with(b"Adobe") && body.len() == 12 => {}
            0xE1 => return Err(JpegError::Metadata("an XMP description")),
            0xED => return Err(JpegError::Metadata("an IPTC description")),
            0xE2 => return Err(JpegError::Metadata("a colour profile or further pictures")),
            0xE0..=0xEF => return Err(JpegError::Metadata("a program's own segment")),
            0xFE => return Err(JpegError::Metadata("a comment")),
            // Tables, restarts, scans.
            0xC4 | 0xDA | 0xDB | 0xDD => {}
            _ => return Err(JpegError::Metadata("a segment that no picture needs")),
        }
        rest = after;
        if marker == 0xDA {
            scans = scans.saturating_add(1);
            if scans > MAX_SCANS {
                return Err(JpegError::Damaged);
            }
            rest = skip_scan(rest)?;
        }
    }
}

/// Decodes a JPEG that [`check_jpeg`] accepted, so that the page never shows one that a browser cannot draw.
///
/// # Errors
/// [`JpegError::Pixels`].
pub fn check_pixels(bytes: &[u8]) -> Result<(), JpegError> {
    let side = usize::from(MAX_SIDE);
    let options = DecoderOptions::default().set_strict_mode(true).set_max_width(side).set_max_height(side);
    JpegDecoder::new_with_options(ZCursor::new(bytes), options)
        .decode()
        .map(drop)
        .map_err(|_| JpegError::Pixels)
}

/// The next marker, after any fill bytes, and the bytes that follow it.
fn next_marker(mut rest: &[u8]) -> Result<(u8, &[u8]), JpegError> {
    let Some((0xFF, after)) = rest.split_first() else { return Err(JpegError::Damaged) };
    rest = after;
    loop {
        match rest.split_first() {
            Some((0xFF, after)) => rest = after,
            Some((marker, after)) => return Ok((*marker, after)),
            None => return Err(JpegError::Damaged),
        }
    }
}

/// The body of a segment, and the bytes that follow it. The length field includes its own two bytes.
fn segment(rest: &[u8]) -> Result<(&[u8], &[u8]), JpegError> {
    let Some((length, rest)) = rest.split_first_chunk::<2>() else { return Err(JpegError::Damaged) };
    let length = usize::from(u16::from_be_bytes(*length)).checked_sub(2).ok_or(JpegError::Damaged)?;
    rest.split_at_checked(length).ok_or(JpegError::Damaged)
}

/// Skips entropy-coded data up to a marker that is neither a stuffed byte nor a restart marker.
fn skip_scan(rest: &[u8]) -> Result<&[u8], JpegError> {
    let place = rest
        .array_windows::<2>()
        .position(|[first, second]| *first == 0xFF && !matches!(second, 0x00 | 0xD0..=0xD7 | 0xFF))
        .ok_or(JpegError::Damaged)?;
    rest.get(place..).ok_or(JpegError::Damaged)
}

/// Rejects a thumbnail, which JFIF 1.02 permits and which could show what was cropped away.
fn check_jfif(body: &[u8]) -> Result<(), JpegError> {
    match body {
        [b'J', b'F', b'I', b'F', 0, _, _, _, _, _, _, _, 0, 0] => Ok(()),
        _ => Err(JpegError::Metadata("a second picture")),
    }
}

fn check_exif(body: &[u8]) -> Result<(), JpegError> {
    let tiff = body.get(6..).ok_or(JpegError::Damaged)?;
    let read = Reader::new()
        .read_raw(tiff.to_vec())
        .map_err(|_| JpegError::Metadata("an Exif block that cannot be read"))?;
    for field in read.fields() {
        if field.tag.context() == exif::Context::Gps {
            return Err(JpegError::Metadata("the place where it was taken"));
        }
        if field.ifd_num != exif::In::PRIMARY || !ALLOWED_TAGS.contains(&field.tag) {
            return Err(JpegError::Metadata("facts of the camera or the day"));
        }
    }
    // Bytes outside of fields could contain anything. Four short fields and two directories need at most 256 bytes.
    if tiff.len() > 256 { Err(JpegError::Metadata("bytes hidden in its Exif block")) } else { Ok(()) }
}
