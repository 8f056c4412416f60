//! Problems of a file, as sentences and as data.

use super::plain::printable;
use serde::Serialize;
use std::fmt;

/// The kind of a problem, for programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Problem {
    /// Larger, deeper or with more values than the format allows.
    TooLarge,
    /// Not UTF-8 or not JSON; line and column say where.
    NotJson,
    /// A required field is absent.
    Missing,
    /// A field that the format does not define.
    Unknown,
    /// A field that occurs twice in one object, or an order code used twice.
    Repeated,
    /// A value of the wrong kind, an unknown word, or a number out of range.
    Value,
}

/// One problem: which file, which field, what was found there and what was expected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileError {
    /// The file's name as given by the caller.
    pub file: String,
    /// The field as a path, such as `measured[2].value`; empty for the file as a whole.
    pub field: String,
    /// The kind of problem.
    pub problem: Problem,
    /// The value found, shortened; absent if there was none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
    /// What was expected instead.
    pub expected: String,
    /// The probable intention.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub did_you_mean: Option<String>,
    /// Line, from 1; only for text that is not JSON.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// Column, from 1; only for text that is not JSON.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<usize>,
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, field, problem, found, expected, did_you_mean, line, column } = self;
        write!(f, "{file}")?;
        if let (Some(line), Some(column)) = (line, column) {
            write!(f, ", line {line}, column {column}")?;
        }
        write!(f, ": ")?;
        let found = found.as_deref().unwrap_or("nothing");
        match problem {
            Problem::TooLarge if field.is_empty() => write!(f, "the file has {found}; expected {expected}")?,
            Problem::TooLarge => write!(f, "`{field}` has {found}; expected {expected}")?,
            Problem::NotJson => write!(f, "{found}; expected {expected}")?,
            Problem::Missing => write!(f, "`{field}` is missing; expected {expected}")?,
            Problem::Unknown => write!(f, "`{field}` is not a field of this format")?,
            Problem::Repeated => write!(f, "`{field}` {found}; expected {expected}")?,
            Problem::Value if field.is_empty() => write!(f, "the file holds {found}; expected {expected}")?,
            Problem::Value => write!(f, "`{field}` is {found}; expected {expected}")?,
        }
        match (problem, did_you_mean) {
            (_, Some(word)) => write!(f, "; did you mean {word}?"),
            (Problem::Unknown, None) => write!(f, "; expected {expected}."),
            (_, None) => write!(f, "."),
        }
    }
}

/// All problems of one file, in file order; never empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileErrors {
    /// The problems, at most [`FileErrors::MOST`].
    errors: Vec<FileError>,
    /// Whether there are further problems.
    more: bool,
}

impl FileErrors {
    /// Problems up to this number are listed; reading stops there.
    pub const MOST: usize = 100;

    pub(super) fn new(errors: Vec<FileError>, more: bool) -> Self {
        Self { errors, more }
    }

    /// The listed problems.
    pub fn errors(&self) -> &[FileError] {
        &self.errors
    }

    /// Whether there are further problems.
    pub fn more(&self) -> bool {
        self.more
    }
}

impl fmt::Display for FileErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.errors.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        if self.more {
            write!(f, "\nThere are more problems; the first {} are told.", Self::MOST)?;
        }
        Ok(())
    }
}

impl std::error::Error for FileErrors {}

impl<'e> IntoIterator for &'e FileErrors {
    type Item = &'e FileError;
    type IntoIter = std::slice::Iter<'e, FileError>;

    fn into_iter(self) -> Self::IntoIter {
        self.errors.iter()
    }
}

/// A number in decimal notation; with an exponent below 1e-6 and from 1e15 on.
pub fn number(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-6..1e15).contains(&size) { value.to_string() } else { format!("{value:e}") }
}

/// A value as indented JSON with a line break at the end.
///
/// # Panics
/// Never for the file formats: their types have text keys only and no serialiser of their own that fails.
#[expect(clippy::expect_used, reason = "derived serialisers into memory do not fail")]
pub fn pretty<T: Serialize>(value: &T) -> String {
    let mut text = serde_json::to_string_pretty(value).expect("derived serialiser");
    text.push('\n');
    text
}

/// "1 kit", "3 kits".
pub fn count(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}

/// Text in double quotes: its first 60 characters, hidden ones escaped.
pub(super) fn quoted(text: &str) -> String {
    const MOST: usize = 60;
    let mut short = printable(start(text, MOST)).into_owned();
    if text.chars().nth(MOST).is_some() {
        short.push('…');
    }
    format!("\"{short}\"")
}

/// The first `most` characters.
pub(super) fn start(text: &str, most: usize) -> &str {
    text.char_indices().nth(most).and_then(|(end, _)| text.get(..end)).unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_readable() {
        assert_eq!(number(1120.0), "1120");
        assert_eq!(number(41.8), "41.8");
        assert_eq!(number(0.0), "0");
        assert_eq!(number(1e300), "1e300");
        assert_eq!(number(-2.5e-9), "-2.5e-9");
    }

    #[test]
    fn quoted_text_cannot_drive_a_terminal() {
        assert_eq!(quoted("a\u{1b}[2Jb"), "\"a\\u{1b}[2Jb\"");
        assert_eq!(quoted(&"x".repeat(61)).chars().count(), 63);
    }
}
