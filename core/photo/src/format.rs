//! The formats, detected from a file's first bytes.

use image::ImageFormat;

/// A picture file's format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Format {
    /// ITU-T T.81, within JFIF or Exif.
    Jpeg,
    /// W3C Portable Network Graphics.
    Png,
    /// RFC 9649.
    WebP,
    /// ISO/IEC 23008-12 with HEVC; read only where the platform does.
    Heic,
}

impl Format {
    /// Detects the format from the first bytes; file name and declared type are ignored. `None`: none of these.
    pub fn sniff(bytes: &[u8]) -> Option<Self> {
        match image::guess_format(bytes) {
            Ok(ImageFormat::Jpeg) => Some(Self::Jpeg),
            Ok(ImageFormat::Png) => Some(Self::Png),
            Ok(ImageFormat::WebP) => Some(Self::WebP),
            _ => is_heic(bytes).then_some(Self::Heic),
        }
    }
}

/// Whether the first box is a file type box whose major brand is one of HEIF's (ISO/IEC 23008-12).
fn is_heic(bytes: &[u8]) -> bool {
    let brands = [b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"];
    matches!(bytes, [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..]
        if brands.iter().any(|known| brand.starts_with(*known)))
}

impl std::fmt::Display for Format {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::WebP => "WebP",
            Self::Heic => "HEIC",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn told_from_the_first_bytes() {
        assert_eq!(Format::sniff(b"\xFF\xD8\xFF\xE1\0\0"), Some(Format::Jpeg));
        assert_eq!(Format::sniff(b"\x89PNG\r\n\x1A\n\0"), Some(Format::Png));
        assert_eq!(Format::sniff(b"RIFF\x10\0\0\0WEBPVP8 "), Some(Format::WebP));
        assert_eq!(Format::sniff(b"\0\0\0\x18ftypheic\0\0\0\0"), Some(Format::Heic));
        assert_eq!(Format::sniff(b"\0\0\0\x18ftypisom\0\0\0\0"), None, "a film");
        assert_eq!(Format::sniff(b"RIFF\x10\0\0\0WAVEfmt "), None, "a sound");
        assert_eq!(Format::sniff(b"\xFF\xD8"), None);
        assert_eq!(Format::sniff(b""), None);
    }
}
