//! The segments of a JPEG file (ITU-T T.81, annex B), read before it is decoded: size, samples and number of scans.

use crate::{Format, PhotoError};

/// The properties that decide what decoding costs.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Header {
    /// Pixels across.
    pub(super) width: u32,
    /// Pixels down.
    pub(super) height: u32,
    /// Samples of all components together.
    pub(super) samples: u64,
    /// Colour components.
    pub(super) components: usize,
    /// Whether all coefficients are held until the last scan.
    pub(super) progressive: bool,
    /// Scans up to the end of the image, each a pass over the picture.
    pub(super) scans: u32,
}

const DAMAGED: PhotoError = PhotoError::Damaged { format: Format::Jpeg };
const CUT_SHORT: PhotoError = PhotoError::CutShort { format: Format::Jpeg };

/// The TIFF block of the first Exif segment before the first scan.
pub(crate) fn exif(bytes: &[u8]) -> Option<&[u8]> {
    Segments { rest: bytes }.map_while(Result::ok).take_while(|segment| segment.marker != 0xDA).find_map(
        |segment| match segment.body {
            // The byte after the first zero is padding; some writers leave another value there.
            [b'E', b'x', b'i', b'f', 0, _, tiff @ ..] if segment.marker == 0xE1 => Some(tiff),
            _ => None,
        },
    )
}

/// Reads all segments of a JPEG, without decoding.
pub(super) fn read_header(bytes: &[u8]) -> Result<Header, PhotoError> {
    let mut frame = None;
    let mut scans = 0u32;
    for segment in (Segments { rest: bytes }) {
        let segment = segment?;
        match segment.marker {
            0xC0..=0xC2 if frame.is_none() => {
                frame = Some((read_frame(segment.body)?, segment.marker == 0xC2))
            }
            0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF => {
                return Err(unsupported("it is lossless, hierarchical or arithmetically coded"));
            }
            0xDA => scans = scans.saturating_add(1),
            _ => {}
        }
    }
    let Some((frame, progressive)) = frame else { return Err(DAMAGED) };
    if scans == 0 {
        return Err(CUT_SHORT);
    }
    let Frame { width, height, components, samples } = frame;
    Ok(Header { width, height, samples, components, progressive, scans })
}

pub(super) fn unsupported(what: &'static str) -> PhotoError {
    PhotoError::Unsupported { format: Format::Jpeg, what }
}

struct Segment<'a> {
    marker: u8,
    body: &'a [u8],
}

/// The segments with a length, up to the end of the image; coded data and stray bytes between them are skipped.
struct Segments<'a> {
    rest: &'a [u8],
}

impl<'a> Iterator for Segments<'a> {
    type Item = Result<Segment<'a>, PhotoError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let at = memchr::memchr(0xFF, self.rest)?;
            let (_, rest) = self.rest.split_at(at + 1);
            self.rest = rest;
            let (&marker, after) = rest.split_first()?;
            match marker {
                // A stuffed byte and stand-alone markers; after a fill byte the marker is still to come.
                0x00 | 0x01 | 0xD0..=0xD8 => self.rest = after,
                0xFF => {}
                0xD9 => {
                    self.rest = &[];
                    return None;
                }
                _ => {
                    let Some((&length, _)) = after.split_first_chunk::<2>() else {
                        return self.stop(CUT_SHORT);
                    };
                    let length = usize::from(u16::from_be_bytes(length));
                    if length < 2 {
                        return self.stop(DAMAGED);
                    }
                    let Some((segment, rest)) = after.split_at_checked(length) else {
                        return self.stop(CUT_SHORT);
                    };
                    self.rest = rest;
                    let body = segment.get(2..).unwrap_or_default();
                    return Some(Ok(Segment { marker, body }));
                }
            }
        }
    }
}

impl<'a> Segments<'a> {
    fn stop(&mut self, error: PhotoError) -> Option<Result<Segment<'a>, PhotoError>> {
        self.rest = &[];
        Some(Err(error))
    }
}

struct Frame {
    width: u32,
    height: u32,
    components: usize,
    samples: u64,
}

/// Reads a frame header (T.81 B.2.2).
fn read_frame(body: &[u8]) -> Result<Frame, PhotoError> {
    let Some((&[precision, h1, h0, w1, w0, count], parts)) = body.split_first_chunk::<6>() else {
        return Err(DAMAGED);
    };
    let (width, height) = (u32::from(u16::from_be_bytes([w1, w0])), u32::from(u16::from_be_bytes([h1, h0])));
    if precision != 8 {
        return Err(unsupported("it has more than 8 bits a channel"));
    }
    if width == 0 || height == 0 {
        return Err(DAMAGED);
    }
    let factors: Vec<(u64, u64)> = parts
        .chunks_exact(3)
        .take(usize::from(count))
        .filter_map(|part| part.get(1).map(|&s| (u64::from(s >> 4), u64::from(s & 15))))
        .collect();
    if factors.is_empty() || factors.len() < usize::from(count) {
        return Err(DAMAGED);
    }
    if factors.iter().any(|&(h, v)| !(1..=4).contains(&h) || !(1..=4).contains(&v)) {
        return Err(DAMAGED);
    }
    let across = factors.iter().map(|f| f.0).max().unwrap_or(1);
    let down = factors.iter().map(|f| f.1).max().unwrap_or(1);
    // Whole minimum coded units are stored: 64 samples a block, h x v blocks of a component a unit (T.81 A.2).
    let units = u64::from(width).div_ceil(8 * across) * u64::from(height).div_ceil(8 * down);
    let samples = factors.iter().map(|(h, v)| units * 64 * h * v).sum();
    Ok(Frame { width, height, components: factors.len(), samples })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jpeg(parts: &[&[u8]]) -> Vec<u8> {
        let mut bytes = vec![0xFF, 0xD8];
        parts.iter().for_each(|part| bytes.extend_from_slice(part));
        bytes
    }

    const FRAME: &[u8] = b"\xFF\xC0\x00\x11\x08\x00\x20\x00\x30\x03\x01\x22\x00\x02\x11\x01\x03\x11\x01";
    const SCAN: &[u8] = b"\xFF\xDA\x00\x02\x11\xFF\x00\x22\xFF\xD3\x33";

    #[test]
    fn frame_scans_and_exif_are_found() {
        let exif: &[u8] = b"\xFF\xE1\x00\x0AExif\0\0II";
        let end: &[u8] = b"\xFF\xD9\xFF\xDA\x00\x02";
        let bytes = jpeg(&[b"\xFF\xFE\x00\x05abc", exif, FRAME, SCAN, b"\xFF", SCAN, end]);
        let header = read_header(&bytes).unwrap();
        // 48 x 32 in units of 16 x 16: 3 x 2, with six blocks of 64 each.
        assert_eq!((header.width, header.height, header.samples), (48, 32, 3 * 2 * 6 * 64));
        assert_eq!((header.scans, header.components, header.progressive), (2, 3, false));
        assert_eq!(super::exif(&bytes), Some(b"II".as_slice()));
    }

    #[test]
    fn broken_segments_are_named() {
        assert_eq!(read_header(&jpeg(&[SCAN])), Err(DAMAGED), "no frame");
        assert_eq!(read_header(&jpeg(&[FRAME])), Err(CUT_SHORT), "no scan");
        assert_eq!(read_header(&jpeg(&[FRAME, b"\xFF\xE2\x7F\xFFab"])), Err(CUT_SHORT));
        assert_eq!(read_header(&jpeg(&[b"\xFF\xE2\x00\x01ab"])), Err(DAMAGED));
        let flat = b"\xFF\xC0\x00\x0B\x08\x00\x00\x00\x30\x01\x01\x11\x00";
        assert_eq!(read_header(&jpeg(&[flat, SCAN])), Err(DAMAGED), "no height");
        let lossless = b"\xFF\xC3\x00\x0B\x08\x00\x10\x00\x30\x01\x01\x11\x00";
        assert!(matches!(read_header(&jpeg(&[lossless, SCAN])), Err(PhotoError::Unsupported { .. })));
    }

    #[test]
    fn exif_is_found_even_if_the_rest_is_broken() {
        let bytes = jpeg(&[b"\xFF\xE1\x00\x0AExif\0\0MM", b"\xFF\xE2\x7F\xFFab"]);
        assert_eq!(exif(&bytes), Some(b"MM".as_slice()));
    }
}
