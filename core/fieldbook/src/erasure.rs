//! Erasing for good: nothing of what was erased may be left in the files.
//!
//! SQLite leaves the bytes of a row that was changed in free parts of its pages and in the write-ahead log. So the whole
//! file is rewritten from the rows that are left (`VACUUM`, its scratch copy in memory), the log is truncated and the
//! backups are replaced by a new one. That cannot be part of a transaction, so a row in `erasures` says that it is still
//! to be done. A program killed in between does it when the book is opened next.

use super::error::Inner;
use super::transact::Work;
use super::{BookError, FieldBook, Reader, Timestamp, backup};
use rusqlite::Connection;
use std::path::Path;

impl Work<'_> {
    /// Asks for the file to be rewritten once this transaction is on the disk.
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

/// Rewrites the file if that is asked for. Whether it is done: while another program reads or writes, the log cannot be
/// truncated, and a later call has to do it. `reader` is another connection to the same book.
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
    /// Rewrites the file after something was erased, if that could not be done at once; whether nothing of it is left.
    ///
    /// # Errors
    /// Those of writing.
    pub fn finish_erasing(&mut self) -> Result<bool, BookError> {
        let now = self.now();
        self.rewrite_if_asked(now)
    }
}

impl Reader {
    /// Whether something was erased of which the file may still hold traces; [`FieldBook::finish_erasing`] ends that.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn erasing(&self) -> Result<bool, BookError> {
        self.read(asked)
    }
}
