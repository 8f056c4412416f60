//! From a file's bytes to facts and copies.

use super::copies::{FocalLength, Picture, WORKING};
use super::facts::{self, ExifFacts};
use super::{Format, Limits, PhotoError, PhotoFacts, PixelSource, Pixels};
use sha2::{Digest, Sha256};

/// A photo taken in.
#[derive(Debug, Clone, PartialEq)]
pub struct IngestedPhoto {
    /// What the original says of itself.
    pub facts: PhotoFacts,
    /// Upright JPEG, long side at most [`WORKING`] pixels, without anything the original said beside its pixels.
    pub working: Vec<u8>,
    /// The same with a long side of at most [`THUMBNAIL`](super::THUMBNAIL) pixels.
    pub thumbnail: Vec<u8>,
    /// SHA-256 (FIPS 180-4) of the original's bytes, by which the same file is known again.
    pub sha256: [u8; 32],
}

/// What a copy for sending may carry beside its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Keep {
    /// That it is upright, and no more.
    #[default]
    Nothing,
    /// The focal length too, in mm and for 35 mm film: measuring on the photo needs it.
    FocalLength,
}

/// Reads a photo: facts, working copy, thumbnail and digest.
///
/// `bytes` is a whole JPEG, PNG or WebP file, or HEIC if `source` reads it; nothing of it is changed or kept. Of an animation
/// the first frame counts. Exif fields that break the rules are passed over and the others read.
///
/// # Errors
/// [`PhotoError`] for what is no photo, is damaged, or costs more than `limits`.
pub fn ingest(bytes: &[u8], limits: &Limits, source: &dyn PixelSource) -> Result<IngestedPhoto, PhotoError> {
    let (picture, facts) = read(bytes, limits, source)?;
    let working = picture.encoded(FocalLength::default())?;
    let thumbnail = picture.thumbnail()?;
    Ok(IngestedPhoto { facts, working, thumbnail, sha256: Sha256::digest(bytes).into() })
}

/// Makes the copy of a photo that may leave the device: an upright JPEG with a long side of at most [`WORKING`]
/// pixels, encoded anew, with nothing but its pixels, "upright", and what `keep` asks for.
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
    picture.encoded(match keep {
        Keep::Nothing => FocalLength::default(),
        Keep::FocalLength => FocalLength { real: facts.focal_length_mm, on_35mm: facts.focal_length_35mm },
    })
}

/// The upright pixels of a photo with a long side of at most [`WORKING`], and what it says of itself: what is looked
/// at and rectified.
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
    let (width, height) = match pixels.upright {
        true => (pixels.full_width, pixels.full_height),
        false => orientation.upright_size(pixels.full_width, pixels.full_height),
    };
    let picture = Picture::working(pixels, orientation)?;
    let facts = PhotoFacts { format, width, height, taken_at, focal_length_mm, focal_length_35mm, camera };
    Ok((picture, facts))
}
