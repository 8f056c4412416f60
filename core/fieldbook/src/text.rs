//! Validation of a user's text.

use super::error::Inner;
use steerwright_input::{count, first_hidden, first_hidden_in_lines, hidden_words};

/// Most characters of a name, an owner or the person who did something.
pub(super) const NAME: usize = 120;
/// Most characters of a tag.
pub(super) const TAG: usize = 40;
/// Most characters of a bike's notes.
pub(super) const NOTES: usize = 20_000;
/// Most characters of a reason or of a note on one row.
pub(super) const NOTE: usize = 500;

/// Whether line breaks are allowed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lines {
    One,
    Many,
}

/// Refuses text that is too long or has hidden characters; `field` names it in the message.
pub(crate) fn check(field: &str, text: &str, most: usize, lines: Lines) -> Result<(), Inner> {
    let length = text.chars().count();
    if length > most {
        let found = count(length, "character");
        return Err(Inner::rule("text.too_long", format!("{field} has {found}; the most is {most}"))
            .with("field", field)
            .with("length", length)
            .with("most", most));
    }
    let hidden = match lines {
        Lines::One => first_hidden(text),
        Lines::Many => first_hidden_in_lines(text),
    };
    if let Some(hidden) = hidden {
        let reason = format!("{field} has {} in it", hidden_words(hidden));
        return Err(Inner::rule("text.hidden", reason).with("field", field));
    }
    Ok(())
}

/// As [`check`], for text that must not be empty; returns it trimmed.
pub(crate) fn needed<'t>(field: &str, text: &'t str, most: usize, lines: Lines) -> Result<&'t str, Inner> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Inner::rule("text.empty", format!("{field} is empty")).with("field", field));
    }
    check(field, text, most, lines)?;
    Ok(text)
}

/// Validates the name of the person who did something, if given.
pub(crate) fn who(who: Option<&str>) -> Result<Option<&str>, Inner> {
    who.map(|who| needed("the name of who did it", who, NAME, Lines::One)).transpose()
}
