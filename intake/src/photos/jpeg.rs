//! What a photo may be: one JPEG that holds nothing but pixels.
//!
//! Senders make working copies anew from the pixels, with at most the focal length and "upright" in an Exif segment, so
//! anything else was put there by another program: a place, a serial number, a face's name, a second picture behind the
//! end. It is refused, not stripped: a photo is named by the hash of its bytes, and a stripped one would be another.

use exif::{Reader, Tag};

/// Why a photo is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// It does not begin as a JPEG does.
    #[error("it is not a JPEG")]
    NotJpeg,
    /// Its segments cannot be followed to the end of the image.
    #[error("it is cut short or damaged")]
    Damaged,
    /// It says more than pixels.
    #[error("it holds {0} besides its pixels; send a copy without")]
    Tells(&'static str),
}

/// Exif tags that tell nothing of where, when and whose.
const PLAIN: &[Tag] = &[Tag::Orientation, Tag::FocalLength, Tag::FocalLengthIn35mmFilm, Tag::ExifVersion];

/// Goes through the segments of a JPEG (ITU-T T.81, annex B), without decoding.
///
/// # Errors
/// Why it is not taken.
pub fn look(bytes: &[u8]) -> Result<(), Refused> {
    let Some(mut rest) = bytes.strip_prefix(&[0xFF, 0xD8]) else { return Err(Refused::NotJpeg) };
    if rest.first() != Some(&0xFF) {
        return Err(Refused::NotJpeg);
    }
    let (mut frames, mut scans) = (0u32, 0u32);
    loop {
        let (marker, after) = next_marker(rest)?;
        match marker {
            0xD9 if frames == 1 && scans > 0 => {
                return if after.is_empty() { Ok(()) } else { Err(Refused::Tells("bytes behind its end")) };
            }
            // No length follows: restarts belong inside a scan, and a second start is a second picture.
            0x00 | 0x01 | 0xD0..=0xD9 => return Err(Refused::Damaged),
            _ => {}
        }
        let (body, after) = segment(after)?;
        match marker {
            0xC0..=0xC2 => {
                // Precision, height, width.
                let [_, high, low, wide, side, ..] = body else { return Err(Refused::Damaged) };
                if (*high | *low) == 0 || (*wide | *side) == 0 {
                    return Err(Refused::Damaged);
                }
                frames = frames.saturating_add(1);
            }
            0xC3 | 0xC5..=0xC7 | 0xC8..=0xCB | 0xCD..=0xCF => return Err(Refused::NotJpeg),
            0xE0 if body.starts_with(b"JFIF\0") => thumbnail_free(body)?,
            0xE1 if body.starts_with(b"Exif\0") => plain_exif(body)?,
            0xEE if body.starts_with(b"Adobe") && body.len() == 12 => {}
            0xE1 => return Err(Refused::Tells("an XMP description")),
            0xED => return Err(Refused::Tells("an IPTC description")),
            0xE2 => return Err(Refused::Tells("a colour profile or further pictures")),
            0xE0..=0xEF => return Err(Refused::Tells("a program's own segment")),
            0xFE => return Err(Refused::Tells("a comment")),
            // Tables, restarts, scans.
            0xC4 | 0xDA | 0xDB | 0xDD => {}
            _ => return Err(Refused::Tells("a segment that no picture needs")),
        }
        rest = after;
        if marker == 0xDA {
            scans = scans.saturating_add(1);
            rest = behind_scan(rest)?;
        }
    }
}

/// The marker that stands here, fill bytes before it passed over, and what follows.
fn next_marker(mut rest: &[u8]) -> Result<(u8, &[u8]), Refused> {
    let Some((0xFF, after)) = rest.split_first() else { return Err(Refused::Damaged) };
    rest = after;
    loop {
        match rest.split_first() {
            Some((0xFF, after)) => rest = after,
            Some((marker, after)) => return Ok((*marker, after)),
            None => return Err(Refused::Damaged),
        }
    }
}

/// The body of a segment by its length, which counts itself, and what follows.
fn segment(rest: &[u8]) -> Result<(&[u8], &[u8]), Refused> {
    let Some((length, rest)) = rest.split_first_chunk::<2>() else { return Err(Refused::Damaged) };
    let length = usize::from(u16::from_be_bytes(*length)).checked_sub(2).ok_or(Refused::Damaged)?;
    rest.split_at_checked(length).ok_or(Refused::Damaged)
}

/// Passes over coded data up to a marker that is neither a stuffed byte nor a restart.
fn behind_scan(rest: &[u8]) -> Result<&[u8], Refused> {
    let place = rest
        .array_windows::<2>()
        .position(|[first, second]| *first == 0xFF && !matches!(second, 0x00 | 0xD0..=0xD7 | 0xFF))
        .ok_or(Refused::Damaged)?;
    rest.get(place..).ok_or(Refused::Damaged)
}

/// JFIF 1.02 has room for a thumbnail, which would show what was cropped away.
fn thumbnail_free(body: &[u8]) -> Result<(), Refused> {
    match body {
        [b'J', b'F', b'I', b'F', 0, _, _, _, _, _, _, _, 0, 0] => Ok(()),
        _ => Err(Refused::Tells("a second picture")),
    }
}

fn plain_exif(body: &[u8]) -> Result<(), Refused> {
    let tiff = body.get(6..).ok_or(Refused::Damaged)?;
    let read = Reader::new()
        .read_raw(tiff.to_vec())
        .map_err(|_| Refused::Tells("an Exif block that cannot be read"))?;
    for field in read.fields() {
        if field.tag.context() == exif::Context::Gps {
            return Err(Refused::Tells("the place where it was taken"));
        }
        if field.ifd_num != exif::In::PRIMARY || !PLAIN.contains(&field.tag) {
            return Err(Refused::Tells("facts of the camera or the day"));
        }
    }
    // Bytes that no field names could hold anything: four short fields and two directories need no more than this.
    if tiff.len() > 256 { Err(Refused::Tells("bytes hidden in its Exif block")) } else { Ok(()) }
}
