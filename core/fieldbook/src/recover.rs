//! Saving what can be read of a damaged book.
//!
//! The new book is made beside the damaged one, table by table and row by row, and put on the disk. Only then is the
//! damaged one renamed and the new one put in its place. A program killed at any point finds either the damaged book
//! untouched, or the new one complete, and then takes the last steps again ([`finish`]).

use super::error::Inner;
use super::migrate::{self, Step};
use super::open::{beside, sync_folder};
use super::salvage::{self, Salvaged};
use super::stored::Json;
use super::{BikeId, Clock, Timestamp, connection, heading, journal, repair, words};
use rusqlite::{Connection, params};
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use steerwright_metrology::ids;

/// What became of a damaged book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recovery {
    /// Milliseconds since 1970.
    at_ms: i64,
    /// What was found wrong.
    pub why: String,
    /// The damaged file's new name, in the same folder.
    pub set_aside: PathBuf,
    /// Rows that are in the new book.
    pub saved: Vec<Saved>,
    /// Rows that are not; empty if all could be read.
    pub lost: Vec<Lost>,
}

/// Rows of one table that were saved.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Saved {
    /// The table, such as `measurements`.
    pub table: String,
    /// How many.
    pub rows: u64,
}

/// Rows of one table that were lost.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lost {
    /// The table, such as `measurements`.
    pub table: String,
    /// How many; `None` if not even that can be told.
    pub rows: Option<u64>,
}

impl Recovery {
    /// When.
    pub fn at(&self) -> Timestamp {
        Timestamp(self.at_ms)
    }

    /// For the user, in a few sentences.
    pub fn description(&self) -> String {
        let name = |table: &str| table.replace('_', " ");
        let saved = self.saved.iter().filter(|saved| saved.rows > 0);
        let saved: Vec<String> = saved.map(|it| format!("{}: {}", name(&it.table), it.rows)).collect();
        let saved = if saved.is_empty() { "nothing".to_owned() } else { saved.join(", ") };
        let lost = self.lost.iter().map(|it| match it.rows {
            Some(rows) => format!("{}: {rows}", name(&it.table)),
            None => format!("{}: not known how many", name(&it.table)),
        });
        let lost: Vec<String> = lost.collect();
        let lost = if lost.is_empty() {
            "Nothing was lost.".to_owned()
        } else {
            format!("Could not be read: {}.", lost.join(", "))
        };
        format!(
            "The field book was damaged. Saved into a new one: {saved}. {lost} The damaged file was kept as {}.",
            self.set_aside.display()
        )
    }
}

fn half_made(path: &Path) -> PathBuf {
    beside(path, ".recovering")
}

/// Tables with rows worth keeping: those with a key, but for the undo journal and the search's own.
pub(super) fn tables(conn: &Connection) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare(
        "SELECT s.name FROM sqlite_schema s
         WHERE s.type = 'table' AND s.name NOT LIKE 'undo\\_%' ESCAPE '\\' AND s.name <> 'actions'
           AND s.name NOT LIKE 'bike\\_words%' ESCAPE '\\' AND s.name NOT LIKE 'sqlite\\_%' ESCAPE '\\'
           AND EXISTS (SELECT 1 FROM pragma_table_info(s.name) WHERE name = 'key')
         ORDER BY s.rowid",
    )?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// A name in the same folder that nothing has.
fn free_name(path: &Path, now: Timestamp) -> PathBuf {
    let first = beside(path, &format!(".damaged-{}", now.compact()));
    let mut name = first.clone();
    let mut count = 1;
    while name.exists() {
        count += 1;
        name = beside(&first, &format!("-{count}"));
    }
    name
}

/// Makes a new book of what can be read and puts it in the damaged one's place.
pub(super) fn recover(
    path: &Path,
    clock: &mut dyn Clock,
    steps: &[Step],
    why: String,
) -> Result<Recovery, Inner> {
    let now = clock.now();
    let making = half_made(path);
    for leftover in [making.clone(), beside(&making, "-journal")] {
        remove(&leftover)?;
    }
    let copy = heading::readable_copy(path)?;
    let readable = copy.as_ref().map_or(path, |copy| copy.path());
    let (old, version) = match connection::onlooker(readable) {
        Ok(old) => {
            let ask = || old.pragma_query_value(None, "user_version", |row| row.get::<_, i32>(0));
            let version = salvage::read_twice(ask)?;
            (Some(old), version)
        }
        // What cannot be opened now may be opened later: nothing of it is given up.
        Err(Inner::Sqlite(error)) if salvage::hindered(&error) => return Err(error.into()),
        Err(_) => (None, None),
    };
    let known = migrate::newest(steps);
    // The new book starts in the damaged one's format, so that its rows fit, and is brought up to date after.
    let version = version.filter(|version| (1..=known).contains(version)).unwrap_or(known);
    let reached = usize::try_from(version).unwrap_or(steps.len());
    let then = steps.get(..reached).unwrap_or(steps);

    let mut new = connection::scratch(&making)?;
    migrate::bring_up(&mut new, &making, then)?;
    let tx = new.transaction()?;
    journal::take_down(&tx)?;
    let mut recovery =
        Recovery { at_ms: now.0, why, set_aside: free_name(path, now), saved: Vec::new(), lost: Vec::new() };
    for table in tables(&tx)? {
        let Salvaged { saved, lost } = match &old {
            Some(old) => salvage::table(old, &tx, &table)?,
            None => Salvaged { saved: 0, lost: None },
        };
        recovery.saved.push(Saved { table: table.clone(), rows: saved });
        if lost != Some(0) {
            recovery.lost.push(Lost { table, rows: lost });
        }
    }
    repair::unreadable(&tx, &mut recovery)?;
    repair::dangling(&tx, &mut recovery, || BikeId(ids::fresh(now, clock.random())), now)?;
    words::rebuild(&tx)?;
    tx.execute("INSERT INTO recoveries (at, report) VALUES (?1, ?2)", params![now, Json(&recovery)])?;
    if let Some(last) = then.last() {
        journal::set_up(&tx, last.undoable)?;
    }
    tx.commit()?;
    migrate::bring_up(&mut new, &making, steps)?;
    new.close().map_err(|(_, error)| error)?;
    drop(old);
    drop(copy);
    let sync = File::options().write(true).open(&making).and_then(|file| file.sync_all());
    sync.map_err(Inner::io("writing the saved book"))?;
    sync_folder(path)?;
    put_in_place(path, &recovery)?;
    Ok(recovery)
}

/// Takes the last steps of a recovery that was cut short; `None` if there was none.
pub(super) fn finish(path: &Path) -> Result<Option<Recovery>, Inner> {
    let making = half_made(path);
    // As long as the damaged book is in its place, the other is half made at best and is made again.
    if path.exists() || !making.exists() {
        return Ok(None);
    }
    let recovery = {
        let conn = connection::onlooker(&making)?;
        all(&conn)?.into_iter().next()
    };
    let recovery = recovery.ok_or_else(|| Inner::Stored("a saved book without its report".to_owned()))?;
    put_in_place(path, &recovery)?;
    Ok(Some(recovery))
}

/// Renames the damaged book with its log, then the new one. Each step may have been taken before.
fn put_in_place(path: &Path, recovery: &Recovery) -> Result<(), Inner> {
    rename(path, &recovery.set_aside)?;
    // A log left beside the new book would be taken for its own. An empty one was made by looking.
    let log = beside(path, "-wal");
    if fs::metadata(&log).is_ok_and(|log| log.len() == 0) {
        remove(&log)?;
    } else {
        rename(&log, &beside(&recovery.set_aside, "-wal"))?;
    }
    remove(&beside(path, "-shm"))?;
    sync_folder(path)?;
    let making = half_made(path);
    rename(&making, path)?;
    // What looking into the new book left; it was made without a log.
    remove(&beside(&making, "-wal"))?;
    remove(&beside(&making, "-shm"))?;
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

/// Removes a file, if it is there.
pub(super) fn remove(path: &Path) -> Result<(), Inner> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(Inner::io(format!("removing {}", path.display()))(error))
        }
        _ => Ok(()),
    }
}

/// The reports of recoveries, the latest first.
pub(super) fn all(conn: &Connection) -> Result<Vec<Recovery>, Inner> {
    let mut rows = conn.prepare("SELECT report FROM recoveries ORDER BY key DESC")?;
    let rows = rows.query_map([], |row| row.get(0).map(|Json(report)| report))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
