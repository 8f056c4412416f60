//! Order requests: what goes to a shop, and how it gets there once and only once.

mod hash;
pub mod wire;

pub use hash::{NoHash, PhotoHash};
