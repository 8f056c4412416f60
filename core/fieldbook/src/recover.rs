//! Recovery of a damaged book.
//!
//! A new book is made next to the damaged one from every row of the damaged file that can be read, and from rows of the
//! newest sound backup where the damaged file may have had a row that cannot be read. It is synced to the disk. Only
//! then is the damaged file renamed and the new book moved to its path. A program killed at any point leaves either the
//! damaged book untouched or the new one complete, and then the last steps are repeated ([`finish`]).
//!
//! Rows are the same in both files if they have the same key: a backup is an earlier state of the same file.

use super::error::Inner;
use super::migrate::{self, Step};
use super::open::{sibling_path, sync_folder};
use super::salvage::{self, Salvaged};
use super::stored::JsonText;
use super::{BikeId, Clock, Timestamp, backup, connection, in_doubt, journal, private, repair, words};
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, params};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use steerwright_metrology::ids;

/// The report of a recovery.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recovery {
    /// Milliseconds since 1970.
    at_ms: i64,
    /// The damage that was found.
    pub why: String,
    /// The damaged file's new name, in the same folder.
    pub set_aside: PathBuf,
    /// The newest backup that was sound, if there was one.
    pub backup: Option<PathBuf>,
    /// Rows that are in the new book.
    pub saved: Vec<Saved>,
    /// Rows of the new book that the backup lacked or had with other content: they were read from the damaged file.
    pub added: Vec<Saved>,
    /// Rows of the new book that only the backup had. They may be older than the lost ones.
    pub restored: Vec<Saved>,
    /// Rows that are not in the new book; empty if none was lost.
    pub lost: Vec<Lost>,
    /// Number of order requests for which it is unknown whether a shop has them.
    pub in_doubt: u64,
}

/// Rows of one table that are in the new book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Saved {
    /// The table, such as `measurements`.
    pub table: String,
    /// Number of rows.
    pub rows: u64,
}

/// Rows of one table that were lost.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lost {
    /// The table, such as `measurements`.
    pub table: String,
    /// Number of rows; `None` if it cannot be determined.
    pub rows: Option<u64>,
}

impl Recovery {
    /// Timestamp.
    pub fn at(&self) -> Timestamp {
        Timestamp(self.at_ms)
    }

    /// For the user, in a few sentences.
    pub fn description(&self) -> String {
        let name = |table: &str| table.replace('_', " ");
        let rows = |saved: &[Saved]| {
            let rows =
                saved.iter().filter(|it| it.rows > 0).map(|it| format!("{}: {}", name(&it.table), it.rows));
            let rows: Vec<String> = rows.collect();
            if rows.is_empty() { "nothing".to_owned() } else { rows.join(", ") }
        };
        let mut text = format!("The field book was damaged. Saved into a new one: {}.", rows(&self.saved));
        if let Some(backup) = &self.backup {
            let backup = backup.file_name().unwrap_or_default().to_string_lossy();
            text.push_str(&if self.restored.iter().all(|it| it.rows == 0) {
                format!(" Nothing had to be taken from the backup {backup}.")
            } else {
                let (restored, added) = (rows(&self.restored), rows(&self.added));
                format!(
                    " From the backup {backup}, perhaps older than what was lost: {restored}. Newer than it, from the \
                     damaged file: {added}."
                )
            });
        }
        let lost = self.lost.iter().map(|it| match it.rows {
            Some(rows) => format!("{}: {rows}", name(&it.table)),
            None => format!("{}: not known how many", name(&it.table)),
        });
        let lost: Vec<String> = lost.collect();
        text.push_str(&if lost.is_empty() {
            " Nothing was lost.".to_owned()
        } else {
            format!(" Could not be read: {}.", lost.join(", "))
        });
        if self.in_doubt > 0 {
            text.push_str(&format!(" Order requests that a shop may have: {}.", self.in_doubt));
        }
        text + &format!(" The damaged file was kept as {}.", self.set_aside.display())
    }
}

fn half_made(path: &Path) -> PathBuf {
    sibling_path(path, ".recovering")
}

/// Copy of the backup from which rows are restored.
fn backup_copy(path: &Path) -> PathBuf {
    sibling_path(path, ".recovering-backup")
}

/// Tables with data rows: those with a column `key`, without the undo journal and the full text index.
pub(super) fn tables(conn: &Connection) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare(
        "SELECT s.name FROM main.sqlite_schema s
         WHERE s.type = 'table' AND s.name NOT LIKE 'undo\\_%' ESCAPE '\\' AND s.name <> 'actions'
           AND s.name NOT LIKE 'bike\\_words%' ESCAPE '\\' AND s.name NOT LIKE 'sqlite\\_%' ESCAPE '\\'
           AND EXISTS (SELECT 1 FROM pragma_table_info(s.name) WHERE name = 'key')
         ORDER BY s.rowid",
    )?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// An unused name in the same folder.
fn free_name(path: &Path, now: Timestamp) -> PathBuf {
    let first = sibling_path(path, &format!(".damaged-{}", now.compact()));
    let mut name = first.clone();
    let mut count = 1;
    while name.exists() {
        count += 1;
        name = sibling_path(&first, &format!("-{count}"));
    }
    name
}

/// Makes a new book from a damaged one and its newest sound backup and moves it to the damaged one's path.
pub(super) fn recover(
    path: &Path,
    clock: &mut dyn Clock,
    now: Timestamp,
    steps: &[Step],
    why: String,
) -> Result<Recovery, Inner> {
    let (making, copy) = (half_made(path), backup_copy(path));
    remove_database(&making)?;
    remove_database(&copy)?;
    let newest = migrate::newest(steps);
    let backup = backup::newest_sound(path, now, newest)?;
    let (old, version) = open_damaged(path, newest)?;
    // The new book starts in the newer format of the two, so that their rows fit, and is migrated after.
    let format = version.max(backup.as_ref().map(|(_, format)| *format)).unwrap_or(newest);
    let then = steps.get(..usize::try_from(format).unwrap_or(steps.len())).unwrap_or(steps);

    create(&making)?;
    let mut new = connection::scratch(&making)?;
    migrate::migrate_to_newest(&mut new, &making, then)?;
    if let Some((backup, _)) = &backup {
        fs::copy(backup, &copy).map_err(Inner::io(format!("copying {}", backup.display())))?;
        let mut conn = connection::scratch(&copy)?;
        migrate::migrate_to_newest(&mut conn, &copy, then)?;
        conn.close().map_err(|(_, error)| error)?;
        // The path's raw bytes: it need not be UTF-8.
        let name = ToSqlOutput::Borrowed(ValueRef::Text(copy.as_os_str().as_encoded_bytes()));
        new.execute("ATTACH DATABASE ?1 AS backup", [name])?;
    }
    let tx = new.transaction()?;
    journal::take_down(&tx)?;
    let mut recovery = Recovery {
        at_ms: now.0,
        why,
        set_aside: free_name(path, now),
        backup: backup.map(|(path, _)| path),
        saved: Vec::new(),
        added: Vec::new(),
        restored: Vec::new(),
        lost: Vec::new(),
        in_doubt: 0,
    };
    fill(&tx, old.as_ref(), &mut recovery, || BikeId(ids::fresh(now, clock.random())), now)?;
    words::rebuild(&tx)?;
    tx.execute("INSERT INTO recoveries (at, report) VALUES (?1, ?2)", params![now, JsonText(&recovery)])?;
    if let Some(last) = then.last() {
        journal::set_up(&tx, last.undoable)?;
    }
    tx.commit()?;
    if recovery.backup.is_some() {
        new.execute_batch("DETACH DATABASE backup")?;
    }
    migrate::migrate_to_newest(&mut new, &making, steps)?;
    new.close().map_err(|(_, error)| error)?;
    drop(old);
    remove_database(&copy)?;
    let sync = File::options().write(true).open(&making).and_then(|file| file.sync_all());
    sync.map_err(Inner::io("writing the recovered book"))?;
    sync_folder(path)?;
    put_in_place(path, &recovery)?;
    Ok(recovery)
}

/// A connection to the damaged file and its format, each if it can be read.
fn open_damaged(path: &Path, newest: i32) -> Result<(Option<Connection>, Option<i32>), Inner> {
    match connection::onlooker(path) {
        Ok(old) => {
            let version = salvage::read_twice(|| {
                old.pragma_query_value(None, "user_version", |row| row.get::<_, i32>(0))
            })?;
            Ok((Some(old), version.filter(|version| (1..=newest).contains(version))))
        }
        // An open error may be temporary: the data are not given up.
        Err(Inner::Sqlite(error)) if salvage::is_obstacle(&error) => Err(error.into()),
        Err(_) => Ok((None, None)),
    }
}

/// Fills the new book and reports the result. The backup, if there is one, is attached as `backup`.
fn fill(
    tx: &Connection,
    old: Option<&Connection>,
    recovery: &mut Recovery,
    fresh: impl FnMut() -> BikeId,
    now: Timestamp,
) -> Result<(), Inner> {
    let with_backup = recovery.backup.is_some();
    let tables = tables(tx)?;
    let mut read: BTreeMap<&str, Salvaged> = BTreeMap::new();
    for table in &tables {
        read.insert(table, salvage::table(old, tx, table)?);
    }
    repair::remove_unreadable(tx, with_backup)?;
    // Erased data must not be restored from an older state.
    let erasing: bool = tx.query_row("SELECT EXISTS (SELECT 1 FROM erasures)", [], |row| row.get(0))?;
    let mut restored: BTreeMap<&str, BTreeSet<i64>> = BTreeMap::new();
    for (table, salvaged) in &read {
        let of_shops = matches!(*table, "orders" | "order_messages" | "agreements" | "shops" | "order_shops");
        if with_backup && !(erasing && of_shops) {
            restored.insert(table, restore(tx, table, salvaged)?);
        }
    }
    let of = |table: &str| restored.get(table).cloned().unwrap_or_default();
    let shops_read = ["shops", "order_shops", "agreements"]
        .iter()
        .all(|table| read.get(table).is_some_and(|salvaged| !salvaged.damage) && of(table).is_empty());
    let in_doubt = in_doubt::mark(tx, &of("outbox"), shops_read)?;
    let placeholders = repair::dangling(tx, fresh, now)?;
    let in_doubt = in_doubt.intersection(&keys(tx, "main", "outbox")?).count();
    recovery.in_doubt = u64::try_from(in_doubt).unwrap_or(u64::MAX);

    for table in &tables {
        let saved =
            |rows: usize| Saved { table: table.clone(), rows: u64::try_from(rows).unwrap_or(u64::MAX) };
        let mut present = keys(tx, "main", table)?;
        if table == "bikes" {
            present.retain(|key| !placeholders.contains(key));
        }
        recovery.saved.push(saved(present.len()));
        let restored = of(table);
        let restored = restored.intersection(&present).count();
        if with_backup {
            recovery.restored.push(saved(restored));
            recovery.added.push(saved(added(tx, table)?));
        }
        let lost = read.get(table.as_str()).and_then(|salvaged| salvaged.lost(&present));
        if lost != Some(0) {
            let rows = lost.and_then(|rows| u64::try_from(rows).ok());
            recovery.lost.push(Lost { table: table.clone(), rows });
        }
    }
    Ok(())
}

fn keys(conn: &Connection, schema: &str, table: &str) -> Result<BTreeSet<i64>, Inner> {
    let mut rows = conn.prepare(&format!("SELECT key FROM {schema}.{table}"))?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Restores rows of a table from the backup that the damaged file may have had; returns their keys. A row that
/// contradicts a row of the damaged file is skipped: the damaged file is the later state.
fn restore(tx: &Connection, table: &str, salvaged: &Salvaged) -> Result<BTreeSet<i64>, Inner> {
    let present = keys(tx, "main", table)?;
    let mut restored = BTreeSet::new();
    let mut copy = tx.prepare(&format!(
        "INSERT OR IGNORE INTO main.{table} SELECT * FROM backup.{table} WHERE key = ?1"
    ))?;
    for key in keys(tx, "backup", table)? {
        if !present.contains(&key) && salvaged.may_lack(key) && copy.execute([key])? > 0 {
            restored.insert(key);
        }
    }
    Ok(restored)
}

/// Number of rows of a table that the backup lacks or has with other content.
fn added(tx: &Connection, table: &str) -> Result<usize, Inner> {
    let sql =
        format!("SELECT count(*) FROM (SELECT * FROM main.{table} EXCEPT SELECT * FROM backup.{table})");
    Ok(tx.query_row(&sql, [], |row| row.get(0))?)
}

/// Completes an interrupted recovery; `None` if there was none.
pub(super) fn finish(path: &Path) -> Result<Option<Recovery>, Inner> {
    let making = half_made(path);
    // While the damaged book is at its path, the new one may be incomplete and is made again.
    if path.exists() || !making.exists() {
        return Ok(None);
    }
    let recovery = {
        let conn = connection::onlooker(&making)?;
        all(&conn)?.into_iter().next()
    };
    let recovery = recovery.ok_or_else(|| Inner::Stored("a recovered book without its report".to_owned()))?;
    put_in_place(path, &recovery)?;
    Ok(Some(recovery))
}

/// Renames the damaged book with its log, then the new one. Each step may have been done before.
fn put_in_place(path: &Path, recovery: &Recovery) -> Result<(), Inner> {
    rename(path, &recovery.set_aside)?;
    // A log left at this path would be taken for the new book's own. An empty one was created by reading.
    let log = sibling_path(path, "-wal");
    if fs::metadata(&log).is_ok_and(|log| log.len() == 0) {
        remove(&log)?;
    } else {
        rename(&log, &sibling_path(&recovery.set_aside, "-wal"))?;
    }
    remove(&sibling_path(path, "-shm"))?;
    sync_folder(path)?;
    let making = half_made(path);
    rename(&making, path)?;
    // Leftovers of reading the new book; it was made without a log.
    remove(&sibling_path(&making, "-wal"))?;
    remove(&sibling_path(&making, "-shm"))?;
    sync_folder(path)
}

fn rename(from: &Path, to: &Path) -> Result<(), Inner> {
    match fs::rename(from, to) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(Inner::io(format!("renaming {}", from.display()))(error))
        }
        _ => Ok(()),
    }
}

/// Removes a file, if it exists.
pub(super) fn remove(path: &Path) -> Result<(), Inner> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(Inner::io(format!("removing {}", path.display()))(error))
        }
        _ => Ok(()),
    }
}

/// Creates an empty file for the user alone.
pub(super) fn create(path: &Path) -> Result<(), Inner> {
    let made = private::options().write(true).create_new(true).open(path);
    made.map(drop).map_err(Inner::io(format!("writing {}", path.display())))
}

/// Removes a database file with SQLite's auxiliary files.
pub(super) fn remove_database(path: &Path) -> Result<(), Inner> {
    ["", "-journal", "-wal", "-shm"].into_iter().try_for_each(|suffix| remove(&sibling_path(path, suffix)))
}

/// The reports of recoveries, the latest first.
pub(super) fn all(conn: &Connection) -> Result<Vec<Recovery>, Inner> {
    let mut rows = conn.prepare("SELECT report FROM recoveries ORDER BY key DESC")?;
    let rows = rows.query_map([], |row| row.get(0).map(|JsonText(report)| report))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
