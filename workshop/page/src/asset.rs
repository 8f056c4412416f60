//! The files of the page, which are in the program.

use steerwright_core::drawing::{Theme, style_sheet};

/// The style sheet: the tokens, the page's own rules, and the drawings'.
pub(crate) fn style() -> String {
    format!(
        "{}\n{}\n{}",
        steerwright_style::tokens(),
        include_str!("../assets/style.css"),
        style_sheet(Theme::Auto)
    )
}

/// What runs in the browser.
pub(crate) const SCRIPT: &str = include_str!("../assets/page.js");
/// What runs on a photo.
pub(crate) const PHOTO_SCRIPT: &str = include_str!("../assets/photo.js");
/// What runs among photos.
pub(crate) const PHOTOS_SCRIPT: &str = include_str!("../assets/photos.js");
/// The icon.
pub(crate) const ICON: &str = include_str!("../assets/icon.svg");
