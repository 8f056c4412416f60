//! Tables compiled into the library from the `data` folder of its crate.

use serde::de::DeserializeOwned;

/// Reads a table that is part of the library itself.
///
/// # Panics
/// Only if such a file is not what its type expects; every table is read by a unit test, so such a
/// file cannot be released.
#[expect(clippy::expect_used, reason = "compiled-in data, read by a test of each module")]
pub fn table<T: DeserializeOwned>(text: &str) -> T {
    serde_json::from_str(text).expect("compiled-in table")
}
