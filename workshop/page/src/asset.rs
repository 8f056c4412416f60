//! The files of the page, which are in the program.

/// The style sheet.
pub(crate) const STYLE: &str = include_str!("../assets/style.css");
/// What runs in the browser.
pub(crate) const SCRIPT: &str = include_str!("../assets/page.js");
/// The icon.
pub(crate) const ICON: &str = include_str!("../assets/icon.svg");
