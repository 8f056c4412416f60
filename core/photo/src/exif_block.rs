//! The Exif block of each format.
//!
//! The Exif library parses the containers too, but refuses a block that begins with JPEG's prefix, which is common in
//! WebP; the picture libraries allocate the length that a chunk claims.

use crate::{Format, decode};
use std::borrow::Cow;

/// The TIFF block with the Exif fields; `None` where there is none.
pub(super) fn find(bytes: &[u8], format: Format) -> Option<Cow<'_, [u8]>> {
    let block = match format {
        Format::Jpeg => decode::jpeg_exif(bytes)?,
        Format::Png => png_chunk(bytes, *b"eXIf")?,
        Format::WebP => riff_chunk(bytes, *b"EXIF")?,
        Format::Heic => {
            let mut reader = std::io::Cursor::new(bytes);
            let mut lenient = exif::Reader::new();
            let exif = lenient
                .continue_on_error(true)
                .read_from_container(&mut reader)
                .or_else(|error| error.distill_partial_result(|_| ()))
                .ok()?;
            return Some(Cow::Owned(exif.buf().to_vec()));
        }
    };
    // Some writers put the JPEG segment's prefix into the other containers too.
    Some(Cow::Borrowed(block.strip_prefix(b"Exif\0\0").unwrap_or(block)))
}

/// Body of the first chunk of that name (W3C PNG, 5.3: length, name, body, checksum).
fn png_chunk(bytes: &[u8], wanted: [u8; 4]) -> Option<&[u8]> {
    let (_, mut rest) = bytes.split_at_checked(8)?;
    loop {
        let (&length, after) = rest.split_first_chunk::<4>()?;
        let (&name, after) = after.split_first_chunk::<4>()?;
        let (body, after) = after.split_at_checked(usize::try_from(u32::from_be_bytes(length)).ok()?)?;
        if name == wanted {
            return Some(body);
        }
        (_, rest) = after.split_at_checked(4)?;
    }
}

/// Body of the first chunk of that name (RFC 9649, 2.3: name, length, body, padded to even).
fn riff_chunk(bytes: &[u8], wanted: [u8; 4]) -> Option<&[u8]> {
    let (_, mut rest) = bytes.split_at_checked(12)?;
    loop {
        let (&name, after) = rest.split_first_chunk::<4>()?;
        let (&length, after) = after.split_first_chunk::<4>()?;
        let length = usize::try_from(u32::from_le_bytes(length)).ok()?;
        let (body, after) = after.split_at_checked(length)?;
        if name == wanted {
            return Some(body);
        }
        (_, rest) = after.split_at_checked(length % 2)?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chunks_are_found_behind_others() {
        let png = b"\x89PNG\r\n\x1A\n\0\0\0\x01tEXtX....\0\0\0\x04eXIfII*\0....";
        assert_eq!(find(png, Format::Png).as_deref(), Some(b"II*\0".as_slice()));
        let webp = b"RIFF\0\0\0\0WEBPVP8X\x01\0\0\0x\0EXIF\x0A\0\0\0Exif\0\0MM\0*";
        assert_eq!(find(webp, Format::WebP).as_deref(), Some(b"MM\0*".as_slice()));
    }

    #[test]
    fn a_chunk_that_is_cut_short_is_none() {
        let png = b"\x89PNG\r\n\x1A\n\0\0\0\x05eXIfII*\0";
        assert_eq!(find(png, Format::Png), None);
        assert_eq!(find(b"RIFF\0\0\0\0WEBPEXIF\xFF\xFF\xFF\xFFII", Format::WebP), None);
    }
}
