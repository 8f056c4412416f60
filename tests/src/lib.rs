//! Helpers shared by the checks in `tests/`.

pub mod any;
