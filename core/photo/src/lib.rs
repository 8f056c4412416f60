//! Photos: facts about a picture file, and the copies of it that are stored and sent.
//!
//! [`ingest`] turns the bytes of a JPEG, PNG or WebP file into facts (size, time, focal length), a working copy with a
//! long side of at most [`WORKING`] pixels and a thumbnail of at most [`THUMBNAIL`], both upright. Copies are always
//! re-encoded from the pixels alone, so they cannot contain a place, a serial number, a maker's note, a comment or an
//! edit history. [`for_sending`] makes the copy that may leave the device.
//!
//! A file is untrusted input. Its format is detected from its bytes; its size and the work of decoding it are compared
//! with [`Limits`] before anything large is allocated; unreadable input is a [`PhotoError`] in plain words.

mod copies;
mod decode;
mod error;
mod exif_block;
mod facts;
mod format;
mod ingest;
mod limits;
mod pixels;

pub use copies::{THUMBNAIL, WORKING};
pub use decode::BuiltIn;
pub use error::PhotoError;
pub use facts::{PhotoFacts, TakenAt};
pub use format::Format;
pub use ingest::{IngestedPhoto, Keep, for_sending, ingest, upright};
pub use limits::Limits;
pub use pixels::{Colour, PixelSource, Pixels};
