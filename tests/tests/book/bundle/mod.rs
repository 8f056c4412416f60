//! Bundles: round trips, merges of both sides, and refusal of invalid ones.

mod contents;
mod hostile;
mod party;
mod progress;
mod together;
