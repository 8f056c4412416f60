//! Bundles: round trips, merges of both sides, and refusal of invalid ones.

mod acceptance;
mod contents;
mod hostile;
mod large;
mod party;
mod progress;
mod together;
