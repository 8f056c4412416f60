//! The files of the page, which are in the program.

use std::fmt::Write as _;
use steerwright_core::drawing::palette::ink;
use steerwright_core::drawing::{Role, Theme, style_sheet};

/// The style sheet: colours that mean the same as in a drawing come from the drawings' palette.
pub(crate) fn style() -> String {
    let tokens = |theme: Theme| {
        let named = [("blue", Role::After), ("brown", Role::Before), ("tool", Role::Tool)];
        named.iter().fold(String::new(), |mut css, (name, role)| {
            let _ = write!(css, "--{name}: {};", ink(theme, *role).stroke.hex());
            css
        })
    };
    format!(
        "{}\n:root {{{}}}\n@media (prefers-color-scheme: dark) {{ :root {{{}}} }}\n{}",
        include_str!("../assets/style.css"),
        tokens(Theme::Light),
        tokens(Theme::Dark),
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
