//! Helpers shared by the checks in `tests/`.
