//! Backups of the book, made by SQLite's backup API, in the same folder.
//!
//! | made | named after the book, with | kept |
//! | --- | --- | --- |
//! | at the first opening or write of a UTC day | `.backup-20260501T080000Z` | 3 |
//! | before a migration | `.backup-20260501T080000Z-before-migration` | 1 |
//! | before an import of [`LARGE_IMPORT_ROWS`] rows or more | `.backup-20260501T080000Z-before-import` | 1 |
//!
//! A backup is written under a temporary name, checked, synced to the disk and renamed. So a file with such a name is
//! complete and was sound when it was made. It is a plain SQLite database without a log. It does not contain photos:
//! their files stay in the folder next to the book.
//!
//! One program at a time makes backups: the one that holds the write lock.

use super::error::Inner;
use super::open::{sibling_path, sync_folder};
use super::recover::{create, remove, remove_database};
use super::{Timestamp, connection, migrate, repair, salvage};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, ErrorCode, TransactionBehavior};
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// An import is large from this many rows on: rows of a table, bikes, readings, checks and photos of a bundle, kits of
/// a catalogue.
pub(super) const LARGE_IMPORT_ROWS: usize = 500;

const MARK: &str = ".backup-";
const PART: &str = ".part";
const DAY_MS: i64 = 86_400_000;

/// Why a backup is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Occasion {
    Daily,
    Migration,
    Import,
}

impl Occasion {
    const ALL: [Self; 3] = [Self::Daily, Self::Migration, Self::Import];

    fn suffix(self) -> &'static str {
        match self {
            Self::Daily => "",
            Self::Migration => "-before-migration",
            Self::Import => "-before-import",
        }
    }

    fn kept(self) -> usize {
        match self {
            Self::Daily => 3,
            Self::Migration | Self::Import => 1,
        }
    }
}

/// A backup in the book's folder.
struct Found {
    path: PathBuf,
    occasion: Occasion,
    /// When it was made, as [`Timestamp::compact`] writes it.
    time: String,
}

impl Found {
    /// Reads the part of a file's name after [`MARK`].
    fn from_name(path: PathBuf, rest: &str) -> Option<Self> {
        let (time, suffix) = rest.split_at_checked("20260501T080000Z".len())?;
        let shaped = time.bytes().enumerate().all(|(at, byte)| match at {
            8 => byte == b'T',
            15 => byte == b'Z',
            _ => byte.is_ascii_digit(),
        });
        let occasion = Occasion::ALL.into_iter().find(|occasion| occasion.suffix() == suffix)?;
        shaped.then(|| Self { path, occasion, time: time.to_owned() })
    }

    fn is_of_day(&self, now: Timestamp) -> bool {
        self.time.get(..8) == now.compact().get(..8)
    }
}

/// The number of a UTC day.
pub(super) fn day(now: Timestamp) -> i64 {
    now.0.div_euclid(DAY_MS)
}

/// The file names in the book's folder that begin like those of its backups, each with the rest of its name.
fn names(path: &Path) -> Result<Vec<(PathBuf, String)>, Inner> {
    let listing = || format!("looking for backups of {}", path.display());
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let prefix = sibling_path(path, MARK).file_name().map(|name| name.to_string_lossy().into_owned());
    let prefix = prefix.unwrap_or_default();
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(Inner::io(listing()))? {
        let entry = entry.map_err(Inner::io(listing()))?;
        if let Some(rest) = entry.file_name().to_string_lossy().strip_prefix(&prefix) {
            names.push((entry.path(), rest.to_owned()));
        }
    }
    Ok(names)
}

/// The backups, the newest first. Those with a timestamp in the future, from a clock that ran ahead, come last.
fn list(path: &Path, now: Timestamp) -> Result<Vec<Found>, Inner> {
    let names = names(path)?.into_iter();
    let mut found: Vec<_> = names.filter_map(|(path, rest)| Found::from_name(path, &rest)).collect();
    let now = now.compact();
    found.sort_by(|a, b| (b.time <= now, &b.time).cmp(&(a.time <= now, &a.time)));
    Ok(found)
}

/// Whether there is any backup.
pub(super) fn is_any(path: &Path) -> Result<bool, Inner> {
    Ok(names(path)?.into_iter().any(|(path, rest)| Found::from_name(path, &rest).is_some()))
}

/// Makes a backup of the state that `source` reads. The caller holds the write lock of the book, and `source` is not a
/// connection with uncommitted changes.
///
/// # Errors
/// Those of reading and writing; no partial file is left then, and earlier backups stay. [`Inner::is_corrupt`] if the
/// book itself is damaged.
pub(super) fn make(
    source: &Connection,
    path: &Path,
    occasion: Occasion,
    now: Timestamp,
) -> Result<(), Inner> {
    remove_unfinished(path)?;
    let target = sibling_path(path, &format!("{MARK}{}{}", now.compact(), occasion.suffix()));
    let part = sibling_path(&target, PART);
    let made = write(source, &part).and_then(|()| {
        fs::rename(&part, &target).map_err(Inner::io(format!("renaming {}", part.display())))?;
        sync_folder(path)
    });
    if let Err(error) = made {
        // A leftover file is removed before the next backup.
        let _ = remove_database(&part);
        return Err(error);
    }
    let found = list(path, now)?;
    for old in found.iter().filter(|found| found.occasion == occasion).skip(occasion.kept()) {
        remove(&old.path)?;
    }
    Ok(())
}

/// Removes partial backups of a program that was killed.
fn remove_unfinished(path: &Path) -> Result<(), Inner> {
    for (path, rest) in names(path)? {
        if rest.contains(PART) {
            remove(&path)?;
        }
    }
    Ok(())
}

fn write(source: &Connection, part: &Path) -> Result<(), Inner> {
    create(part)?;
    let mut copy = Connection::open(part)?;
    let step = Backup::new(source, &mut copy)?.step(-1)?;
    if step != StepResult::Done {
        let busy = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY);
        return Err(rusqlite::Error::SqliteFailure(busy, None).into());
    }
    // The copied header requests a write-ahead log.
    copy.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))?;
    if let Some(problem) = repair::first_problem(&copy)? {
        return Err(Inner::Stored(problem));
    }
    copy.close().map_err(|(_, error)| error)?;
    let sync = File::options().write(true).open(part).and_then(|file| file.sync_all());
    sync.map_err(Inner::io(format!("writing {}", part.display())))
}

/// Runs `work` with the write lock; `None` if another program holds it.
fn with_write_lock<T>(
    writer: &mut Connection,
    work: impl FnOnce(&Connection) -> Result<T, Inner>,
) -> Result<Option<T>, Inner> {
    match writer.transaction_with_behavior(TransactionBehavior::Immediate) {
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => Ok(None),
        tx => {
            let tx = tx?;
            let done = work(&tx)?;
            tx.commit()?;
            Ok(Some(done))
        }
    }
}

/// Makes the backup of the day if there is none yet. If another program is writing, it is left to a later call.
///
/// # Errors
/// Those of [`make`].
pub(super) fn daily(
    writer: &mut Connection,
    reader: &Connection,
    path: &Path,
    now: Timestamp,
) -> Result<(), Inner> {
    let is_made = || -> Result<bool, Inner> {
        let mut found = list(path, now)?.into_iter();
        Ok(found.any(|found| found.occasion == Occasion::Daily && found.is_of_day(now)))
    };
    let unfinished = names(path)?.iter().any(|(_, rest)| rest.contains(PART));
    if is_made()? && !unfinished {
        return Ok(());
    }
    with_write_lock(writer, |_| {
        remove_unfinished(path)?;
        if is_made()? { Ok(()) } else { make(reader, path, Occasion::Daily, now) }
    })?;
    Ok(())
}

/// Makes a backup of a book that a migration to format `newest` is about to change.
///
/// # Errors
/// Those of [`make`], and the database being busy.
pub(super) fn before_migration(
    writer: &mut Connection,
    path: &Path,
    newest: i32,
    now: Timestamp,
) -> Result<(), Inner> {
    let tx = writer.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another program may have migrated it in the meantime.
    if (1..newest).contains(&migrate::version(&tx)?) {
        make(&connection::reader(path)?, path, Occasion::Migration, now)?;
    }
    Ok(tx.commit()?)
}

/// Replaces all backups by one of the book's present state. Returns whether it was done: not while another program is
/// writing.
///
/// # Errors
/// Those of [`make`].
pub(super) fn replace_all(
    writer: &mut Connection,
    reader: &Connection,
    path: &Path,
    now: Timestamp,
    then: impl FnOnce(&Connection) -> Result<(), Inner>,
) -> Result<bool, Inner> {
    let done = with_write_lock(writer, |tx| {
        let before = list(path, now)?;
        if !before.is_empty() {
            make(reader, path, Occasion::Daily, now)?;
            let made = sibling_path(path, &format!("{MARK}{}", now.compact()));
            for old in before.iter().filter(|old| old.path != made) {
                remove(&old.path)?;
            }
        }
        then(tx)
    })?;
    Ok(done.is_some())
}

/// The newest backup that is sound and of a format up to `newest`, with its format.
///
/// # Errors
/// Those of a file system that cannot read a backup now.
pub(super) fn newest_sound(
    path: &Path,
    now: Timestamp,
    newest: i32,
) -> Result<Option<(PathBuf, i32)>, Inner> {
    for found in list(path, now)? {
        match format_if_sound(&found.path) {
            Ok(Some(format)) if (1..=newest).contains(&format) => return Ok(Some((found.path, format))),
            Ok(_) => {}
            Err(Inner::Sqlite(error)) if salvage::is_obstacle(&error) => return Err(error.into()),
            Err(_) => {}
        }
    }
    Ok(None)
}

/// The format of a backup, or `None` if it is not sound.
fn format_if_sound(path: &Path) -> Result<Option<i32>, Inner> {
    let conn = connection::onlooker(path)?;
    let application: i32 = conn.pragma_query_value(None, "application_id", |row| row.get(0))?;
    if application != migrate::APPLICATION_ID || repair::first_problem(&conn)?.is_some() {
        return Ok(None);
    }
    Ok(Some(migrate::version(&conn)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_backups_are_taken_for_backups() {
        let path = Path::new("a.steerbook.backup-x").to_owned();
        let occasion = |rest: &str| Found::from_name(path.clone(), rest).map(|found| found.occasion);
        assert_eq!(occasion("20260501T080000Z"), Some(Occasion::Daily));
        assert_eq!(occasion("20260501T080000Z-before-import"), Some(Occasion::Import));
        assert_eq!(occasion("20260501T080000Z-before-migration"), Some(Occasion::Migration));
        for rest in [
            "",
            "20260501",
            "20260501T080000Z.part",
            "20260501T080000Z-mine",
            "2026-05-01T08:00Z",
            "é0260501T080000Z",
        ] {
            assert_eq!(occasion(rest), None, "{rest}");
        }
    }

    /// Backups dated in the future by a clock that ran ahead must not stay the newest forever.
    #[test]
    fn backups_dated_in_the_future_count_as_the_oldest() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.steerbook");
        for time in ["20260501T080000Z", "20990101T000000Z", "20260503T080000Z-before-import"] {
            fs::write(sibling_path(&path, &format!("{MARK}{time}")), b"").unwrap();
        }
        // 2026-05-04T08:00:00Z.
        let found = list(&path, Timestamp(1_777_881_600_000)).unwrap();
        let times: Vec<&str> = found.iter().map(|it| it.time.as_str()).collect();
        assert_eq!(times, ["20260503T080000Z", "20260501T080000Z", "20990101T000000Z"]);
    }
}
