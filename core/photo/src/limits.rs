//! Resource limits for one photo.

use crate::PhotoError;

/// Resource limits for one photo, compared with its headers before anything large is allocated.
///
/// The defaults admit every phone camera's photo and are our own choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file.
    pub bytes: usize,
    /// Pixels of the full picture.
    pub pixels: u64,
    /// Bytes that decoding may hold at once, estimated from the headers.
    pub memory: u64,
    /// Pixels times passes over them: a progressive JPEG of few bytes can ask for thousands of passes.
    pub work: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { bytes: 128 << 20, pixels: 200_000_000, memory: 512 << 20, work: 3_000_000_000 }
    }
}

impl Limits {
    /// Refuses a file of too many bytes.
    pub(super) fn check_bytes(&self, bytes: usize) -> Result<(), PhotoError> {
        if bytes > self.bytes {
            return Err(PhotoError::TooManyBytes { bytes, limit: self.bytes });
        }
        Ok(())
    }

    /// Refuses a picture of too many pixels.
    pub(super) fn check_pixels(&self, width: u32, height: u32) -> Result<(), PhotoError> {
        if u64::from(width) * u64::from(height) > self.pixels {
            return Err(PhotoError::TooLarge { width, height });
        }
        Ok(())
    }

    /// Refuses a picture that needs too much memory, in bytes.
    pub(super) fn check_memory(&self, needed: u64) -> Result<(), PhotoError> {
        if needed > self.memory {
            return Err(PhotoError::TooMuchMemory { needed, limit: self.memory });
        }
        Ok(())
    }

    /// Refuses `scans` passes over `pixels` pixels if they are too many.
    pub(super) fn check_work(&self, pixels: u64, scans: u32) -> Result<(), PhotoError> {
        if pixels.saturating_mul(u64::from(scans)) > self.work {
            return Err(PhotoError::TooMuchWork { scans });
        }
        Ok(())
    }
}
