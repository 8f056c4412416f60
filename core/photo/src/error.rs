//! Why a photo was not taken in.

use super::Format;

/// Why a photo was not taken in; the words are fit to be shown.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// The bytes are of no kind that is known here.
    #[error("this is not a photo that can be read: it is neither JPEG, PNG nor WebP")]
    NotAPhoto,
    /// A HEIC file and a source of pixels that does not read it.
    #[error("HEIC photos cannot be read here: export it as JPEG, or set the camera to take JPEG")]
    Heic,
    /// A kind within the format that cameras do not write.
    #[error("this {format} cannot be read: {what}")]
    Unsupported {
        /// The file's format.
        format: Format,
        /// What it would need.
        what: &'static str,
    },
    /// The file ends before the picture does.
    #[error("this {format} is cut short: copy it again from where it came from")]
    CutShort {
        /// The file's format.
        format: Format,
    },
    /// The file contradicts its own format.
    #[error("this {format} is damaged")]
    Damaged {
        /// The file's format.
        format: Format,
    },
    /// More bytes than [`Limits::bytes`](super::Limits::bytes).
    #[error("the file has {bytes} bytes; at most {limit} are taken in")]
    TooManyBytes {
        /// Bytes of the file.
        bytes: usize,
        /// What was allowed.
        limit: usize,
    },
    /// More pixels than [`Limits::pixels`](super::Limits::pixels), or a longer side than a JPEG can have.
    #[error("the picture has {width} x {height} pixels: that is too large")]
    TooLarge {
        /// Pixels across, as stored.
        width: u32,
        /// Pixels down, as stored.
        height: u32,
    },
    /// More memory than [`Limits::memory`](super::Limits::memory).
    #[error("reading the picture takes {needed} bytes of memory; at most {limit} are allowed")]
    TooMuchMemory {
        /// Estimate of what it takes, bytes.
        needed: u64,
        /// What was allowed.
        limit: u64,
    },
    /// More passes over the picture than [`Limits::work`](super::Limits::work).
    #[error("the picture is stored in {scans} passes: reading it would take too long")]
    TooMuchWork {
        /// Passes over the picture that the file asks for.
        scans: u32,
    },
    /// A copy could not be encoded.
    #[error("the copy could not be written")]
    NotWritten,
}
