//! Tables compiled into the library from the `data` folder of its crate.

use serde::de::DeserializeOwned;

/// Reads a table that is part of the library itself.
///
/// # Panics
/// If the text does not fit the type. A unit test reads every table, so this does not happen in a release.
#[expect(clippy::expect_used, reason = "compiled-in data, read by a test of each module")]
pub fn table<T: DeserializeOwned>(text: &str) -> T {
    serde_json::from_str(text).expect("compiled-in table")
}
