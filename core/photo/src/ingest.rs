//! Ingesting a photo: from a file's bytes to facts and copies.

use crate::copies::{FocalLength, Picture, WORKING};
use crate::facts::{self, ExifFacts};
use crate::{Format, Limits, PhotoError, PhotoFacts, PixelSource, Pixels};
use image::metadata::Orientation;
use sha2::{Digest, Sha256};

/// An ingested photo.
#[derive(Debug, Clone, PartialEq)]
pub struct IngestedPhoto {
    /// Facts about the original.
    pub facts: PhotoFacts,
    /// Upright JPEG with a long side of at most [`WORKING`] pixels and no metadata of the original.
    pub working: Vec<u8>,
    /// The same with a long side of at most [`THUMBNAIL`](crate::THUMBNAIL) pixels.
    pub thumbnail: Vec<u8>,
    /// SHA-256 (FIPS 180-4) of the original's bytes, which identifies a file that was ingested before.
    pub sha256: [u8; 32],
}

/// Metadata that a copy for sending may carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Keep {
    /// The orientation "upright" only.
    #[default]
    Nothing,
    /// Also the focal length, of the lens and its 35 mm equivalent, mm: measuring on the photo needs it.
    FocalLength,
}

/// Reads a photo: facts, working copy, thumbnail and digest.
///
/// `bytes` is a whole JPEG, PNG or WebP file, or HEIC if `source` decodes it. Of an animation the first frame counts.
/// Exif fields that violate the standard are skipped and the others read.
///
/// # Errors
/// [`PhotoError`] for bytes that are not a photo, are damaged, or exceed `limits`.
pub fn ingest(bytes: &[u8], limits: &Limits, source: &dyn PixelSource) -> Result<IngestedPhoto, PhotoError> {
    let (picture, facts) = read(bytes, limits, source)?;
    let working = picture.encode(FocalLength::default())?;
    let thumbnail = picture.thumbnail()?;
    Ok(IngestedPhoto { facts, working, thumbnail, sha256: Sha256::digest(bytes).into() })
}

/// The copy of a photo that may leave the device: an upright JPEG with a long side of at most [`WORKING`] pixels,
/// re-encoded from the pixels, with no metadata but the orientation "upright" and what `keep` names.
///
/// # Errors
/// As [`ingest`].
pub fn for_sending(
    bytes: &[u8],
    limits: &Limits,
    source: &dyn PixelSource,
    keep: Keep,
) -> Result<Vec<u8>, PhotoError> {
    let (picture, facts) = read(bytes, limits, source)?;
    picture.encode(match keep {
        Keep::Nothing => FocalLength::default(),
        Keep::FocalLength => FocalLength { real: facts.focal_length_mm, on_35mm: facts.focal_length_35mm },
    })
}

/// The upright pixels of a photo with a long side of at most [`WORKING`], and its facts.
///
/// # Errors
/// As [`ingest`].
pub fn upright(
    bytes: &[u8],
    limits: &Limits,
    source: &dyn PixelSource,
) -> Result<(Pixels, PhotoFacts), PhotoError> {
    let (picture, facts) = read(bytes, limits, source)?;
    Ok((picture.into_pixels(), facts))
}

fn read(
    bytes: &[u8],
    limits: &Limits,
    source: &dyn PixelSource,
) -> Result<(Picture, PhotoFacts), PhotoError> {
    limits.check_bytes(bytes.len())?;
    let format = Format::sniff(bytes).ok_or(PhotoError::NotAPhoto)?;
    if !source.reads(format) {
        return Err(match format {
            Format::Heic => PhotoError::Heic,
            _ => PhotoError::NotAPhoto,
        });
    }
    let ExifFacts { orientation, taken_at, focal_length_mm, focal_length_35mm, camera } =
        facts::read(bytes, format);
    let pixels = source.pixels(bytes, format, WORKING, limits)?;
    if !pixels.is_sound() {
        return Err(PhotoError::Damaged { format });
    }
    let orientation = orientation.filter(|_| !pixels.upright).unwrap_or(Orientation::NoTransforms);
    let (width, height) = match swaps_sides(orientation) {
        true => (pixels.full_height, pixels.full_width),
        false => (pixels.full_width, pixels.full_height),
    };
    let picture = Picture::working(pixels, orientation)?;
    let facts = PhotoFacts { format, width, height, taken_at, focal_length_mm, focal_length_35mm, camera };
    Ok((picture, facts))
}

/// Whether rotating the stored picture upright exchanges its width and height.
fn swaps_sides(orientation: Orientation) -> bool {
    use Orientation::{Rotate90, Rotate90FlipH, Rotate270, Rotate270FlipH};
    matches!(orientation, Rotate90 | Rotate270 | Rotate90FlipH | Rotate270FlipH)
}
