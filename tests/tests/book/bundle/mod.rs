//! Bundles: there and back, put together from both sides, and refused when anything is wrong with them.

mod contents;
mod hostile;
mod party;
mod progress;
mod together;
