//! Reads untrusted files and reports all their problems at once, in actionable words.
//!
//! A file is parsed once into a tree (`node`), within limits of size, depth and number of values. A deserialiser that
//! records a problem and continues (`reader`) makes typed values from the tree, so every unknown field, wrong word and
//! missing number is found. The module of each format adds the checks that need knowledge of bikes or kits.

mod checks;
mod csv_problem;
pub mod embedded;
mod limits;
mod nearest;
mod node;
mod path;
mod plain;
mod problem;
mod problems;
mod reader;
mod typed;

pub use csv_problem::{CsvError, CsvErrors};
pub use limits::{ReadError, read_limited};
pub use nearest::nearest;
pub use problem::{FileError, FileErrors, Problem};

pub use checks::{check_schema, check_text, keep_known, rows};
pub use csv_problem::shown;
pub use node::{Limits, Node, parse};
pub use path::Path;
pub use plain::{first_hidden, first_hidden_in_lines, hidden_words, is_hidden, printable, printable_lines};
pub use problem::{count, number, pretty};
pub use problems::{Problems, described};
pub use reader::read;
pub use typed::typed_number;
