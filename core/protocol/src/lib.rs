//! The protocol between phone and shop: formats, addresses and headers of order requests, photos and catalogues.

mod check;
mod email;
mod hash;
mod message;
pub mod wire;

pub use check::{check_contact, check_kind, check_note, check_photo_count, check_quantity};
pub use email::{is_email, mailto};
pub use hash::{NoHash, PhotoHash};
