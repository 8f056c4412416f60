//! The screens' tokens as variables of a style sheet, and the marks of verdicts.

use std::fmt::Write as _;
use steerwright_drawing::palette::ink;
use steerwright_drawing::{Role, Theme};

/// The tokens, light and dark. Blue, brown and tool are the drawings' own.
pub fn tokens() -> String {
    let drawn = |theme: Theme| {
        let named = [("blue", Role::After), ("brown", Role::Before), ("tool", Role::Tool)];
        named.iter().fold(String::new(), |mut css, (name, role)| {
            // Writing to a string cannot fail.
            let _ = write!(css, "--{name}: {};", ink(theme, *role).stroke.hex());
            css
        })
    };
    format!(
        "{}:root {{{}}}\n@media (prefers-color-scheme: dark) {{ :root {{{}}} }}\n",
        include_str!("tokens.css"),
        drawn(Theme::Light),
        drawn(Theme::Dark)
    )
}

/// A mark of a verdict: a shape of its own. Its word stands beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A full disc with a tick.
    Fits,
    /// A disc with a notch.
    FitsAfterWork,
    /// A broken ring with caliper jaws.
    MeasureFirst,
    /// A barred disc.
    DoesNotFit,
    /// Two arrows against each other.
    Disagree,
}

impl Shape {
    /// The mark as SVG, 26 units wide. It is decoration for a screen reader.
    pub fn svg(self) -> &'static str {
        match self {
            Self::Fits => {
                r#"<svg class="mark green" viewBox="0 0 26 26" aria-hidden="true"><circle class="solid" cx="13" cy="13" r="12"></circle><path class="cut" d="M7 13.5l4 4 8-9"></path></svg>"#
            }
            Self::FitsAfterWork => {
                r#"<svg class="mark tool" viewBox="0 0 26 26" aria-hidden="true"><path class="solid" d="M13 1a12 12 0 1 0 12 12h-8a4 4 0 0 1-4-4z"></path></svg>"#
            }
            Self::MeasureFirst => {
                r#"<svg class="mark ink" viewBox="0 0 26 26" aria-hidden="true"><circle cx="13" cy="13" r="11.5" stroke-dasharray="4 3"></circle><path d="M6 7h14M8 7v11M18 7v11M8 18l3-2M18 18l-3-2"></path></svg>"#
            }
            Self::DoesNotFit => {
                r#"<svg class="mark red" viewBox="0 0 26 26" aria-hidden="true"><circle cx="13" cy="13" r="11"></circle><path d="M5 21L21 5"></path></svg>"#
            }
            Self::Disagree => {
                r#"<svg class="mark red" viewBox="0 0 26 26" aria-hidden="true"><path d="M2 8h8M7 4l4 4-4 4M24 18h-8M19 14l-4 4 4 4M13 3v20"></path></svg>"#
            }
        }
    }
}
