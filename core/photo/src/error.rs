//! Errors of ingesting a photo.

use crate::Format;

/// Why a photo cannot be ingested; the messages are for users.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// The bytes match no known format.
    #[error("this is not a photo that can be read: it is neither JPEG, PNG nor WebP")]
    NotAPhoto,
    /// A HEIC file, which the decoder does not read.
    #[error("HEIC photos cannot be read here: export it as JPEG, or set the camera to take JPEG")]
    Heic,
    /// A variant of the format that cameras do not write.
    #[error("this {format} cannot be read: {what}")]
    Unsupported {
        /// The file's format.
        format: Format,
        /// The unsupported property.
        what: &'static str,
    },
    /// The file ends before the picture does.
    #[error("this {format} is cut short: copy it again from where it came from")]
    CutShort {
        /// The file's format.
        format: Format,
    },
    /// The file violates its format.
    #[error("this {format} is damaged")]
    Damaged {
        /// The file's format.
        format: Format,
    },
    /// More bytes than [`Limits::bytes`](crate::Limits::bytes).
    #[error("the file has {bytes} bytes; at most {limit} are taken in")]
    TooManyBytes {
        /// Bytes of the file.
        bytes: usize,
        /// The limit.
        limit: usize,
    },
    /// More pixels than [`Limits::pixels`](crate::Limits::pixels), or a longer side than a JPEG can have.
    #[error("the picture has {width} x {height} pixels: that is too large")]
    TooLarge {
        /// Pixels across, as stored.
        width: u32,
        /// Pixels down, as stored.
        height: u32,
    },
    /// More memory than [`Limits::memory`](crate::Limits::memory).
    #[error("reading the picture takes {needed} bytes of memory; at most {limit} are allowed")]
    TooMuchMemory {
        /// Estimated need, bytes.
        needed: u64,
        /// The limit.
        limit: u64,
    },
    /// More passes over the picture than [`Limits::work`](crate::Limits::work).
    #[error("the picture is stored in {scans} passes: reading it would take too long")]
    TooMuchWork {
        /// Passes over the picture that the file asks for.
        scans: u32,
    },
    /// A copy could not be encoded.
    #[error("the copy could not be written")]
    NotWritten,
}
