//! Import and export of bikes with their readings as a table for spreadsheets (RFC 4180).
//!
//! One row is one reading: `bike`, `owner`, `what`, `value`, `unit`, `with`, `plus_minus`, `at`, `note`, the names of
//! the bike file. An observation is a row as well: `what` is then a field of `observed` such as `upper_seat`, `value`
//! its word, and the columns after it are empty. A row with only `bike` and `owner` is a bike without data. Columns may
//! come in any order; `owner`, `plus_minus`, `at` and `note` are optional.
//!
//! The reader accepts commas, semicolons or tabs, detected from the first line; UTF-8 with or without a byte order
//! mark; line ends of any system. With semicolons and tabs a number may have a decimal comma. A text that a spreadsheet
//! would interpret as a formula is written with an apostrophe before it, which the reader removes.

mod column;
mod export;
mod formula;
mod import;
mod observation;
mod table;

pub use export::CsvStyle;
pub use import::CsvImported;
pub use steerwright_input::{CsvError, CsvErrors};
pub use table::{CsvRow, CsvTable, CsvValue};
