//! Reading the book.

use super::error::Inner;
use super::{BookError, open};
use rusqlite::{Connection, Transaction};
use std::path::{Path, PathBuf};
use steerwright_metrology::quantity::Instruments;

/// A read-only connection. It sees every change that was committed before a call.
pub struct Reader {
    conn: Connection,
    path: PathBuf,
}

impl Reader {
    pub(super) fn new(conn: Connection, path: &Path) -> Self {
        Self { conn, path: path.to_owned() }
    }

    /// The folder of the photos' files, next to the database and named after it.
    pub fn photos_folder(&self) -> PathBuf {
        open::sibling_path(&self.path, open::PHOTOS)
    }

    /// The connection, to make a backup of the committed state.
    pub(super) fn connection(&self) -> &Connection {
        &self.conn
    }

    /// Path of the book.
    pub(super) fn own_path(&self) -> &Path {
        &self.path
    }

    /// Reads in one transaction, so all of it is from one snapshot.
    pub(crate) fn read<T>(&self, read: impl FnOnce(&Connection) -> Result<T, Inner>) -> Result<T, BookError> {
        let result = || {
            // Dropping the transaction ends it; there is nothing to commit.
            let tx: Transaction<'_> = self.conn.unchecked_transaction()?;
            read(&tx)
        };
        open::noticed(&self.path, result())
    }

    /// A number that differs after every commit by another connection, the book's own writer and other programs included
    /// (SQLite, `PRAGMA data_version`). It means nothing to another reader.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn version(&self) -> Result<i64, BookError> {
        let version = self.conn.query_row("PRAGMA data_version", [], |row| row.get(0));
        open::noticed(&self.path, version.map_err(Inner::from))
    }

    /// The instruments used for findings: the user's own table, or the program's.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn instruments(&self) -> Result<Instruments, BookError> {
        self.read(super::settings::instruments)
    }
}
