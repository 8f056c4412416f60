//! Field books in temporary folders.

use crate::RepeatableClock;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use steerwright_core::bike::{Bike, BikeSchema, Measurement, Observed};
use steerwright_core::book::{BookError, FieldBook, Opened};
use steerwright_core::quantity::{Instrument, Quantity};
use tempfile::TempDir;

/// A folder with one book, removed when dropped.
pub struct TempBook {
    folder: TempDir,
}

impl Default for TempBook {
    fn default() -> Self {
        Self::new()
    }
}

impl TempBook {
    /// An empty folder.
    #[expect(clippy::expect_used, reason = "used by tests only")]
    pub fn new() -> Self {
        Self { folder: TempDir::new().expect("a temporary folder") }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Path of the book.
    pub fn path(&self) -> PathBuf {
        self.folder.path().join("book.steerbook")
    }

    /// Opens the book.
    ///
    /// # Errors
    /// Those of opening.
    pub fn try_open(&self) -> Result<(FieldBook, Opened), BookError> {
        FieldBook::open(&self.path(), Box::new(RepeatableClock::default()))
    }

    /// Opens the book; panics on failure.
    #[expect(clippy::expect_used, reason = "used by tests only")]
    pub fn open(&self) -> FieldBook {
        self.try_open().expect("the book opens").0
    }

    /// The paths of the book's backups, the oldest first.
    pub fn backups(&self) -> Vec<PathBuf> {
        let names = self.names().into_iter().filter(|name| name.starts_with("book.steerbook.backup-"));
        names.map(|name| self.folder().join(name)).collect()
    }

    /// Removes the book's backups.
    #[expect(clippy::expect_used, reason = "used by tests only")]
    pub fn remove_backups(&self) {
        for path in self.backups() {
            std::fs::remove_file(path).expect("removed");
        }
    }

    /// The names in the folder, sorted.
    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder()).into_iter().flatten().flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

/// Every row of every table except `actions` and `undo_…`, as text, and the words of the search index.
pub fn dump(path: &Path) -> String {
    dump_without(path, None)
}

/// As [`dump`], without the bikes' touch times, which an undo does not restore.
pub fn dump_but_touches(path: &Path) -> String {
    dump_without(path, Some("touched_at"))
}

#[expect(clippy::expect_used, reason = "used by tests only")]
fn dump_without(path: &Path, hidden: Option<&str>) -> String {
    let conn = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE).expect("opens");
    let mut tables = conn
        .prepare(
            "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'undo\\_%' ESCAPE '\\'
             AND name <> 'actions' AND name NOT LIKE 'bike\\_words%' ESCAPE '\\' ORDER BY name",
        )
        .expect("a statement");
    let tables: Vec<String> =
        tables.query_map([], |row| row.get(0)).expect("tables").collect::<Result<_, _>>().expect("names");
    let mut text = String::new();
    for table in tables {
        let mut rows = conn.prepare(&format!("SELECT * FROM {table} ORDER BY 1")).expect("a statement");
        let hidden = hidden.and_then(|name| rows.column_index(name).ok());
        let columns = rows.column_count();
        let mut rows = rows.query([]).expect("rows");
        while let Some(row) = rows.next().expect("a row") {
            let _ = write!(text, "{table}:");
            for column in (0..columns).filter(|column| Some(*column) != hidden) {
                let _ = match row.get_ref(column).expect("a value") {
                    ValueRef::Null => write!(text, " -"),
                    ValueRef::Integer(value) => write!(text, " {value}"),
                    ValueRef::Real(value) => write!(text, " {value:?}"),
                    ValueRef::Text(value) => write!(text, " {:?}", String::from_utf8_lossy(value)),
                    ValueRef::Blob(value) => write!(text, " {value:02x?}"),
                };
            }
            text.push('\n');
        }
    }
    // Every word of the search index and the rows it is in.
    conn.execute_batch("CREATE VIRTUAL TABLE temp.all_words USING fts5vocab(main, bike_words, instance)")
        .expect("the vocabulary");
    let mut words =
        conn.prepare("SELECT term, doc, col, offset FROM temp.all_words ORDER BY 1, 2, 3, 4").expect("words");
    let mut words = words.query([]).expect("words");
    while let Some(row) = words.next().expect("a word") {
        let word: (String, i64, Option<String>, Option<i64>) = (
            row.get(0).expect("term"),
            row.get(1).expect("doc"),
            row.get(2).expect("column"),
            row.get(3).expect("place"),
        );
        let _ = writeln!(text, "word: {word:?}");
    }
    text
}

/// A bike without owner, with a name and nothing else.
pub fn bike(name: &str) -> Bike {
    Bike {
        schema: BikeSchema::V1,
        name: name.to_owned(),
        owner: None,
        observed: Observed::default(),
        fitted: None,
        measured: Vec::new(),
    }
}

/// A reading in the quantity's base unit with no note.
pub fn reading(what: Quantity, value: f64, with: Instrument) -> Measurement {
    Measurement { what, value, unit: what.base_unit(), with, plus_minus: None, at: None, note: None }
}
