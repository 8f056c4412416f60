//! Problems of a table, cell by cell.

use super::plain::printable;
use serde::Serialize;
use std::fmt;

/// One problem with a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CsvError {
    /// The row's number as in a spreadsheet, from 1; the first line with the columns' names is row 1. Absent if the
    /// problem concerns the whole table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u64>,
    /// The column's name; absent if the problem concerns the whole row.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// The cell's content, shortened.
    pub found: String,
    /// What was expected instead.
    pub expected: String,
    /// The probable intention.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub did_you_mean: Option<String>,
}

impl fmt::Display for CsvError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.row, &self.column) {
            (Some(row), Some(column)) => write!(f, "row {row}, column `{column}`: ")?,
            (Some(row), None) => write!(f, "row {row}: ")?,
            (None, Some(column)) => write!(f, "column `{column}`: ")?,
            (None, None) => {}
        }
        write!(f, "{}; expected {}", self.found, self.expected)?;
        match &self.did_you_mean {
            Some(word) => write!(f, "; did you mean {word}?"),
            None => write!(f, "."),
        }
    }
}

/// All problems of a table, in its order.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct CsvErrors {
    pub(crate) errors: Vec<CsvError>,
    /// Number of further problems.
    pub(crate) more: u64,
}

impl CsvErrors {
    /// Problems up to this number are listed; further ones are only counted.
    pub const MOST: usize = 1_000;

    /// The listed problems.
    pub fn errors(&self) -> &[CsvError] {
        &self.errors
    }

    /// Number of further problems.
    pub fn more(&self) -> u64 {
        self.more
    }

    /// Whether there are no problems.
    pub fn is_empty(&self) -> bool {
        self.errors.is_empty()
    }

    /// Adds a problem; one beyond [`CsvErrors::MOST`] is only counted.
    pub fn push(&mut self, error: CsvError) {
        if self.errors.len() < Self::MOST {
            self.errors.push(error);
        } else {
            self.more += 1;
        }
    }

    /// One problem with the table as a whole.
    pub fn whole(found: impl Into<String>, expected: impl Into<String>) -> Self {
        let error = CsvError {
            row: None,
            column: None,
            found: found.into(),
            expected: expected.into(),
            did_you_mean: None,
        };
        Self { errors: vec![error], more: 0 }
    }

    /// Sorts by row; the errors of one row keep their order.
    pub fn sort(&mut self) {
        self.errors.sort_by_key(|error| error.row);
    }
}

impl fmt::Display for CsvErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, error) in self.errors.iter().enumerate() {
            if place > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        match self.more {
            0 => Ok(()),
            more => write!(f, "\nThere are {more} more problems."),
        }
    }
}

/// A cell's content for messages.
pub fn shown(cell: &str) -> String {
    const MOST: usize = 60;
    let short: String = cell.chars().take(MOST).collect();
    let more = if cell.chars().nth(MOST).is_some() { "…" } else { "" };
    if cell.is_empty() {
        "nothing".to_owned()
    } else {
        printable(&format!("{:?}", format!("{short}{more}"))).into_owned()
    }
}
