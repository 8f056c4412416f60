//! Database connections and the settings that guarantee durability.

use super::error::Inner;
use super::private;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, MAIN_DB, OpenFlags};
use std::path::Path;
use std::time::Duration;

/// How long a writer waits for another program's transaction.
const PATIENCE: Duration = Duration::from_secs(5);
/// The write-ahead log is truncated to this many bytes after a checkpoint.
const LOG_BYTES: i64 = 4 << 20;
/// The page size of a new book.
pub(super) const PAGE_BYTES: u16 = 2048;
/// Capacity of the statement cache: more than the number of distinct statements.
const STATEMENTS: usize = 128;

/// Settings of every connection.
fn common(conn: &Connection) -> Result<(), Inner> {
    conn.busy_timeout(PATIENCE)?;
    conn.set_prepared_statement_cache_capacity(STATEMENTS);
    // A schema that was tampered with must not run functions with side effects, and SQL cannot damage the file.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DML, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DDL, false)?;
    // A statement keeps its plan. Otherwise SQLite replans for every bound value wherever it considered a partial
    // index, which takes longer than the statements themselves.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    conn.pragma_update(None, "trusted_schema", false)?;
    conn.pragma_update(None, "cell_size_check", true)?;
    conn.pragma_update(None, "temp_store", "MEMORY")?;
    Ok(())
}

/// The only connection that writes; it creates the file if there is none.
///
/// A commit is on the disk when it returns: write-ahead log with `synchronous=FULL`, and on Apple's systems, where
/// `fsync` stops at the drive's cache, `F_FULLFSYNC` for commits and checkpoints.
pub(super) fn writer(path: &Path) -> Result<Connection, Inner> {
    let flags =
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    // SQLite would make it readable by others; its log has the mode of the file.
    private::make_file(path).map_err(Inner::io(format!("making {}", path.display())))?;
    let conn = Connection::open_with_flags(path, flags)?;
    // SQLite falls back to read-only if it cannot open the file for writing, even if only temporarily.
    if conn.is_readonly(MAIN_DB)? {
        let error = std::io::Error::from(std::io::ErrorKind::PermissionDenied);
        return Err(Inner::Io { doing: format!("opening {} for writing", path.display()), error });
    }
    common(&conn)?;
    // Has no effect on an existing file.
    conn.pragma_update(None, "page_size", PAGE_BYTES)?;
    let mode: String = conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
    if !mode.eq_ignore_ascii_case("wal") {
        return Err(Inner::rule(
            "book.no_log_here",
            "the folder of the field book does not allow a write-ahead log",
        ));
    }
    conn.pragma_update(None, "synchronous", "FULL")?;
    conn.pragma_update(None, "fullfsync", true)?;
    conn.pragma_update(None, "checkpoint_fullfsync", true)?;
    conn.pragma_update(None, "foreign_keys", true)?;
    conn.pragma_update_and_check(None, "journal_size_limit", LOG_BYTES, |_| Ok(()))?;
    Ok(conn)
}

/// A read-only connection.
pub(super) fn reader(path: &Path) -> Result<Connection, Inner> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    common(&conn)?;
    conn.pragma_update(None, "query_only", true)?;
    Ok(conn)
}

/// A connection that changes neither the file nor its write-ahead log.
pub(super) fn onlooker(path: &Path) -> Result<Connection, Inner> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    common(&conn)?;
    Ok(conn)
}

/// A connection to a file that no other program uses yet; it leaves no log file.
pub(super) fn scratch(path: &Path) -> Result<Connection, Inner> {
    private::make_file(path).map_err(Inner::io(format!("making {}", path.display())))?;
    let conn = Connection::open(path)?;
    common(&conn)?;
    conn.pragma_update(None, "page_size", PAGE_BYTES)?;
    conn.pragma_update(None, "synchronous", "FULL")?;
    conn.pragma_update(None, "foreign_keys", false)?;
    Ok(conn)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(conn: &Connection, pragma: &str) -> i64 {
        conn.pragma_query_value(None, pragma, |row| row.get(0)).unwrap()
    }

    /// The settings that guarantee durability (SQLite's own numbers: `synchronous` 2 is FULL, `temp_store` 2 memory).
    #[test]
    fn the_settings_hold() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.steerbook");
        let writing = writer(&path).unwrap();
        let mode: String = writing.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(mode, "wal");
        for (pragma, value) in [
            ("synchronous", 2),
            ("fullfsync", 1),
            ("checkpoint_fullfsync", 1),
            ("foreign_keys", 1),
            ("trusted_schema", 0),
            ("cell_size_check", 1),
            ("busy_timeout", 5_000),
            ("journal_size_limit", LOG_BYTES),
            ("query_only", 0),
            ("page_size", PAGE_BYTES.into()),
        ] {
            assert_eq!(number(&writing, pragma), value, "{pragma}");
        }
        writing.execute_batch("CREATE TABLE t (key INTEGER PRIMARY KEY)").unwrap();
        let reading = reader(&path).unwrap();
        assert_eq!((number(&reading, "query_only"), number(&reading, "trusted_schema")), (1, 0));
        for sql in ["INSERT INTO t DEFAULT VALUES", "DROP TABLE t", "PRAGMA user_version = 7"] {
            assert!(reading.execute_batch(sql).is_err(), "{sql}");
        }
        // The defensive flag: SQL cannot damage the file.
        writing.execute_batch("PRAGMA writable_schema = ON").unwrap();
        assert!(writing.execute("DELETE FROM sqlite_schema", []).is_err());
        assert_eq!(number(&writing, "user_version"), 0);
    }
}
