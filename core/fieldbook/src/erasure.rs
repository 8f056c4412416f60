//! Permanent erasure: no erased data may remain in the files.
//!
//! SQLite leaves the old bytes of a changed row in free parts of its pages and in the write-ahead log. So the whole
//! file is rewritten from the remaining rows (`VACUUM`, its scratch copy in memory), the log is truncated and the
//! backups are replaced by a new one. That cannot be part of a transaction, so a row in `erasures` records that it is
//! pending. If the program is killed in between, it is done at the next opening.

use super::error::Inner;
use super::transact::Work;
use super::{BookError, FieldBook, Reader, Timestamp, backup};
use rusqlite::Connection;
use std::path::Path;

impl Work<'_> {
    /// Requests that the file is rewritten once this transaction is committed.
    pub(crate) fn rewrite_after(&mut self) -> Result<(), Inner> {
        let now = self.now();
        self.tx().execute("INSERT INTO erasures (asked_at) VALUES (?1)", [now])?;
        self.erase();
        Ok(())
    }
}

fn asked(conn: &Connection) -> Result<bool, Inner> {
    Ok(conn.prepare_cached("SELECT EXISTS (SELECT 1 FROM erasures)")?.query_row([], |row| row.get(0))?)
}

/// Rewrites the file if that is pending. Returns whether it is done: while another program reads or writes, the log
/// cannot be truncated, and a later call must retry. `reader` is another connection to the same book.
pub(super) fn rewrite(
    conn: &mut Connection,
    reader: &Connection,
    path: &Path,
    now: Timestamp,
) -> Result<bool, Inner> {
    if !asked(conn)? {
        return Ok(true);
    }
    let busy = |error: &rusqlite::Error| {
        use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked};
        matches!(error.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked))
    };
    match conn.execute_batch("VACUUM") {
        Err(error) if busy(&error) => return Ok(false),
        done => done?,
    }
    let cut = |conn: &Connection| {
        conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get::<_, bool>(0))
    };
    if cut(conn)? {
        return Ok(false);
    }
    backup::replace_all(conn, reader, path, now, |tx| {
        tx.execute("DELETE FROM erasures", [])?;
        Ok(())
    })
}

impl FieldBook {
    /// Completes a pending erasure, if the file could not be rewritten at once. Returns whether no trace is left.
    ///
    /// # Errors
    /// Those of writing.
    pub fn finish_erasing(&mut self) -> Result<bool, BookError> {
        let now = self.now();
        self.rewrite_if_asked(now)
    }
}

impl Reader {
    /// Whether the file may still contain traces of erased data; [`FieldBook::finish_erasing`] removes them.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn erasing(&self) -> Result<bool, BookError> {
        self.read(asked)
    }
}
