//! The layer over the platform's files, beside the platform's files alone.
#![allow(clippy::unwrap_used, reason = "a check may panic: that is how it fails")]

use rusqlite::{Connection, OpenFlags};
use std::fs;
use std::path::{Path, PathBuf};

const FLAGS: OpenFlags = OpenFlags::SQLITE_OPEN_READ_WRITE
    .union(OpenFlags::SQLITE_OPEN_CREATE)
    .union(OpenFlags::SQLITE_OPEN_NO_MUTEX);

fn gathering(path: &Path) -> Connection {
    let conn =
        Connection::open_with_flags_and_vfs(path, FLAGS, steerwright_gather::register().unwrap()).unwrap();
    set(&conn);
    conn
}

fn set(conn: &Connection) {
    conn.pragma_update(None, "page_size", 1024).unwrap();
    conn.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(())).unwrap();
    conn.pragma_update(None, "synchronous", "FULL").unwrap();
}

fn table(conn: &Connection) {
    conn.execute_batch("CREATE TABLE t (key INTEGER PRIMARY KEY, what BLOB, also TEXT UNIQUE) STRICT")
        .unwrap();
}

fn insert(conn: &Connection, bytes: i64) {
    let sql = "INSERT INTO t (what, also) VALUES (randomblob(?1), hex(randomblob(8)))";
    conn.prepare_cached(sql).unwrap().execute([bytes]).unwrap();
}

fn count(conn: &Connection) -> i64 {
    conn.query_row("SELECT count(*) FROM t", [], |row| row.get(0)).unwrap()
}

/// What the files are at this moment, as another program or the next start would find them.
fn as_found(path: &Path, folder: &Path) -> i64 {
    let to = folder.join("found.db");
    for suffix in ["", "-wal"] {
        let beside = |path: &Path| PathBuf::from(format!("{}{suffix}", path.display()));
        if beside(path).exists() {
            fs::copy(beside(path), beside(&to)).unwrap();
        }
    }
    let conn = Connection::open(&to).unwrap();
    let said: String = conn.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(said, "ok");
    count(&conn)
}

#[test]
fn each_commit_is_in_the_files_when_it_returns() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    let conn = gathering(&path);
    table(&conn);
    let other = Connection::open(&path).unwrap();
    // One page, many, and more than is gathered at a time; the log starts anew in between.
    for (at, bytes) in [10, 3000, 40_000, 700_000, 10, 1_000_000, 1, 200].into_iter().enumerate() {
        insert(&conn, bytes);
        assert_eq!(as_found(&path, folder.path()), at as i64 + 1);
        assert_eq!(count(&other), at as i64 + 1);
        if at == 4 {
            conn.query_row("PRAGMA wal_checkpoint(RESTART)", [], |_| Ok(())).unwrap();
        }
    }
}

/// Pages that do not fit into memory go to the log before the commit, and are read from there again.
#[test]
fn a_transaction_reads_what_it_wrote() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    let conn = gathering(&path);
    conn.pragma_update(None, "cache_size", 10).unwrap();
    conn.pragma_update(None, "cache_spill", 1).unwrap();
    table(&conn);
    let other = Connection::open(&path).unwrap();
    conn.execute_batch("BEGIN").unwrap();
    for number in 1..=500 {
        insert(&conn, 900);
        assert_eq!(count(&conn), number);
    }
    let length: i64 = conn.query_row("SELECT sum(length(what)) FROM t", [], |row| row.get(0)).unwrap();
    assert_eq!(length, 500 * 900);
    assert_eq!((count(&other), as_found(&path, folder.path())), (0, 0));
    conn.execute_batch("SAVEPOINT here; DELETE FROM t WHERE key % 2 = 0; ROLLBACK TO here; COMMIT").unwrap();
    assert_eq!((count(&other), as_found(&path, folder.path())), (500, 500));
}

#[test]
fn what_is_taken_back_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    let conn = gathering(&path);
    conn.pragma_update(None, "cache_size", 10).unwrap();
    table(&conn);
    for number in 0..20 {
        conn.execute_batch("BEGIN").unwrap();
        for _ in 0..number * 3 {
            insert(&conn, 500);
        }
        conn.execute_batch("ROLLBACK").unwrap();
        insert(&conn, 5);
        assert_eq!(as_found(&path, folder.path()), number + 1);
    }
}

/// What the one wrote the other reads, in turns, over one log.
#[test]
fn the_platforms_own_layer_takes_turns_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    let (ours, plain) = (gathering(&path), Connection::open_with_flags(&path, FLAGS).unwrap());
    set(&plain);
    table(&ours);
    for number in 0..40 {
        insert(if number % 2 == 0 { &ours } else { &plain }, 700);
        assert_eq!((count(&ours), count(&plain)), (number + 1, number + 1));
    }
    drop(plain);
    assert_eq!(count(&ours), 40);
    drop(ours);
    // The last one out left the file alone.
    assert!(!folder.path().join("a.db-wal").exists());
    assert_eq!(as_found(&path, folder.path()), 40);
}

#[test]
fn a_file_that_cannot_be_opened_is_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let layer = steerwright_gather::register().unwrap();
    let path = folder.path().join("nowhere").join("a.db");
    assert!(Connection::open_with_flags_and_vfs(&path, FLAGS, layer).is_err());
    // The log's name is taken by a folder.
    let path = folder.path().join("b.db");
    fs::create_dir(folder.path().join("b.db-wal")).unwrap();
    let conn = Connection::open_with_flags_and_vfs(&path, FLAGS, layer).unwrap();
    let mode = conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
    assert!(mode.is_err() || conn.execute_batch("CREATE TABLE t (key INTEGER PRIMARY KEY)").is_err());
}

/// The calls that write, as Linux counts them for the whole process: so this file's tests do not count together.
#[cfg(target_os = "linux")]
#[test]
fn a_commit_is_one_call() {
    if std::env::var_os("GATHER_COUNTS").is_none() {
        let this = std::env::current_exe().unwrap();
        let run = std::process::Command::new(this)
            .args(["--exact", "a_commit_is_one_call", "--test-threads", "1"])
            .env("GATHER_COUNTS", "1")
            .output()
            .unwrap();
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stdout));
        return;
    }
    let calls = || {
        let told = fs::read_to_string("/proc/self/io").unwrap();
        let line = told.lines().find_map(|line| line.strip_prefix("syscw: ")).unwrap();
        line.parse::<u64>().unwrap()
    };
    let folder = tempfile::tempdir().unwrap();
    let written = |conn: &Connection| {
        table(conn);
        insert(conn, 20_000);
        let before = calls();
        insert(conn, 20_000);
        calls() - before
    };
    let plain = Connection::open_with_flags(folder.path().join("plain.db"), FLAGS).unwrap();
    set(&plain);
    // Twenty pages at the least, each with its header.
    assert!(written(&plain) >= 40);
    assert_eq!(written(&gathering(&folder.path().join("ours.db"))), 1);
}
