//! Photos: what a picture file says of itself, and the copies of it that Steerwright keeps and sends.
//!
//! [`ingest`] turns the bytes of a JPEG, PNG or WebP file into facts (size, time, focal length), a working copy of at
//! most [`WORKING`] pixels and a thumbnail of at most [`THUMBNAIL`], both upright. Copies are always encoded anew from
//! the pixels alone, so a place, a serial number, a maker's note, a comment or an edit history cannot ride along;
//! [`for_sending`] makes the copy that may leave the device.
//!
//! A file is hostile until read: its kind is told from its bytes, its size and the work it asks for are compared
//! with [`Limits`] before anything large is allocated, and what cannot be read is a [`PhotoError`] in plain words.

mod built_in;
mod container;
mod copies;
mod error;
mod facts;
mod format;
mod limits;
mod orientation;
mod pixels;
mod segments;
mod ingest;

pub use built_in::BuiltIn;
pub use copies::{THUMBNAIL, WORKING};
pub use error::PhotoError;
pub use facts::{PhotoFacts, TakenAt};
pub use format::Format;
pub use limits::Limits;
pub use pixels::{Colour, PixelSource, Pixels};
pub use ingest::{IngestedPhoto, Keep, for_sending, ingest, upright};
