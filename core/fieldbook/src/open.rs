//! Opening a book, and the obstacles to it.

use super::error::Inner;
use super::migrate::{self, APPLICATION_ID, STEPS, Step};
use super::private;
use super::recover::{self, Recovery};
use super::summary::ActionSummary;
use super::transact::{self, Work};
use super::{
    BookError, Clock, Op, Outcome, Reader, Timestamp, backup, connection, erasure, files, journal, repair,
    words,
};
use rusqlite::{Connection, ErrorCode, OptionalExtension, TransactionBehavior};
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

/// The field book: one SQLite file with its photos in a folder next to it.
pub struct FieldBook {
    // Dropped in this order: the writer, last, leaves the file without a write-ahead log.
    reader: Reader,
    writer: Connection,
    clock: Box<dyn Clock>,
    path: PathBuf,
    /// Whether the files may still contain traces of erased data.
    erasing: bool,
    /// The UTC day on which the daily backup was last checked.
    backup_day: i64,
}

/// The outcome of opening a book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Opened {
    /// It did not exist and was created.
    New,
    /// It existed.
    Existing,
    /// It existed in an older format and was migrated.
    Migrated {
        /// The previous format.
        from: i32,
        /// The present format.
        to: i32,
    },
    /// It was damaged: it was set aside, and a new book contains everything readable from it and from its newest sound
    /// backup. The user must be informed.
    Recovered(Recovery),
}

/// Suffix of the photos' folder.
pub(super) const PHOTOS: &str = "-photos";

/// A file in the book's folder, named after it.
pub(super) fn sibling_path(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// A file left by an operation that encountered damage; the next opening then checks the whole book first.
fn suspicion(path: &Path) -> PathBuf {
    sibling_path(path, "-suspect")
}

/// Converts an internal error to the public one and records damage for the next opening.
pub(super) fn noticed<T>(path: &Path, result: Result<T, Inner>) -> Result<T, BookError> {
    if let Err(error) = &result
        && (error.is_corrupt() || error.is_senseless())
    {
        // If this write fails too, the damage will be encountered again.
        let _ = private::make_file(&suspicion(path));
    }
    Ok(result?)
}

/// What exists at the path, determined without changing it.
enum FileState {
    Nothing,
    Book,
    Damage(String),
}

fn look(path: &Path, known: i32) -> Result<FileState, Inner> {
    let opening = || format!("opening {}", path.display());
    let length = match fs::metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(FileState::Nothing),
        Err(error) => return Err(Inner::io(opening())(error)),
        Ok(about) if !about.is_file() => return Err(Inner::NotABook { path: path.to_owned() }),
        Ok(about) => about.len(),
    };
    if length == 0 {
        // The program was killed while it created the file; but if there are backups, a book was lost.
        let lost = backup::is_any(path)?;
        return Ok(if lost { FileState::Damage("the file is empty".to_owned()) } else { FileState::Nothing });
    }
    // Another program's file must not be moved away as a damaged book because of a mistyped path.
    let named = path.extension().is_some_and(|extension| extension == "steerbook");
    let other = |what: &str| {
        if named {
            Ok(FileState::Damage(what.to_owned()))
        } else {
            Err(Inner::NotABook { path: path.to_owned() })
        }
    };
    // The header of the SQLite file format, 1.3: user version at 60, application id at 68, big-endian.
    let mut header = Vec::new();
    File::open(path)
        .and_then(|file| file.take(100).read_to_end(&mut header))
        .map_err(Inner::io(opening()))?;
    let number = |at: usize| {
        let bytes = header.get(at..at + 4).and_then(|bytes| <[u8; 4]>::try_from(bytes).ok());
        bytes.map_or(0, i32::from_be_bytes)
    };
    if header.len() < 100 || !header.starts_with(b"SQLite format 3\0") {
        return other("its first bytes are not those of a database");
    }
    let (mut version, mut application) = (number(60), number(68));
    if application != 0 && application != APPLICATION_ID {
        return Err(Inner::NotABook { path: path.to_owned() });
    }
    // A commit that is only in the log can have changed both.
    let logged = fs::metadata(sibling_path(path, "-wal")).is_ok_and(|log| log.len() > 0);
    if version <= known && (logged || application == 0) {
        let ask_all = |conn: Connection| {
            let ask = |pragma| conn.pragma_query_value(None, pragma, |row| row.get::<_, i32>(0));
            let tables =
                conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get::<_, i64>(0))?;
            Ok((ask("user_version")?, ask("application_id")?, tables))
        };
        let mut asked = connection::onlooker(path).and_then(ask_all);
        // The program was killed while it created the file: the unfinished transaction is rolled back first, as any
        // program that opens the file has to do.
        if matches!(&asked, Err(Inner::Sqlite(error)) if error.sqlite_error_code() == Some(ErrorCode::ReadOnly))
        {
            asked = connection::reader(path).and_then(ask_all);
        }
        match asked {
            Ok((_, 0, 0)) => return Ok(FileState::Nothing),
            Ok((asked, of, _)) => (version, application) = (asked, of),
            Err(error) if error.is_corrupt() => return other(&error.to_string()),
            Err(error) => return Err(error),
        }
    }
    if application != APPLICATION_ID {
        return Err(Inner::NotABook { path: path.to_owned() });
    }
    if version > known {
        return Err(Inner::NewerFile { path: path.to_owned(), found: version, known });
    }
    Ok(FileState::Book)
}

/// Reads a row of every table.
fn probe(conn: &Connection) -> Result<(), Inner> {
    for table in recover::tables(conn)? {
        // The whole row: its key alone may come from an index.
        conn.query_row(&format!("SELECT * FROM {table} LIMIT 1"), [], |_| Ok(())).optional()?;
    }
    for table in journal::UNDOABLE {
        if !conn.table_exists(None, *table)? {
            return Err(Inner::Stored(format!("the table {table} is not there")));
        }
    }
    Ok(())
}

/// All problems of the file that SQLite itself finds, at most a hundred lines; takes time in proportion to its size.
pub(super) fn examine(conn: &Connection) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare("PRAGMA quick_check(100)")?;
    let rows = rows.query_map([], |row| row.get::<_, String>(0))?;
    let mut found: Vec<String> = rows.collect::<Result<_, _>>()?;
    found.retain(|line| line != "ok");
    Ok(found)
}

/// Opens the book, or creates it.
fn attach(path: &Path, now: Timestamp, steps: &[Step], thorough: bool) -> Result<(Connection, i32), Inner> {
    let mut conn = connection::writer(path)?;
    let newest = migrate::newest(steps);
    if (1..newest).contains(&migrate::version(&conn)?) {
        backup::before_migration(&mut conn, path, newest, now)?;
    }
    let was = migrate::migrate_to_newest(&mut conn, path, steps)?;
    if was < newest {
        // The new format is checkpointed into the file itself, where a program that does not support it sees it at
        // once.
        conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
    }
    probe(&conn)?;
    if thorough {
        examine_closely(&mut conn)
            .map_err(|error| if error.is_senseless() { Inner::Stored(error.to_string()) } else { error })?;
    }
    Ok((conn, was))
}

/// Checks every page and every row, and the definitions of tables and triggers that are used only by writes.
fn examine_closely(conn: &mut Connection) -> Result<(), Inner> {
    if let Some(problem) = repair::first_problem(conn)? {
        return Err(Inner::Stored(problem));
    }
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for table in recover::tables(&tx)? {
        let mut columns =
            tx.prepare("SELECT format('\"%w\" = \"%w\"', name, name) FROM pragma_table_info(?1)")?;
        let columns = columns.query_map([&table], |row| row.get(0))?.collect::<Result<Vec<String>, _>>()?;
        tx.prepare(&format!("INSERT INTO {table} DEFAULT VALUES"))?;
        tx.prepare(&format!("UPDATE {table} SET {}", columns.join(", ")))?;
        tx.prepare(&format!("DELETE FROM {table}"))?;
    }
    // The rows are sound; the full text index is rebuilt from them.
    words::rebuild(&tx)?;
    tx.commit()?;
    Ok(())
}

fn open(
    path: &Path,
    clock: &mut dyn Clock,
    now: Timestamp,
    steps: &[Step],
) -> Result<(Connection, Opened), Inner> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if let Some(folder) = folder {
        private::make_folder(folder).map_err(Inner::io(format!("making the folder {}", folder.display())))?;
    }
    if let Some(recovery) = recover::finish(path)? {
        private::make_all_private(path);
        recover::remove(&suspicion(path))?;
        return Ok((attach(path, now, steps, false)?.0, Opened::Recovered(recovery)));
    }
    let known = migrate::newest(steps);
    let suspect = suspicion(path).exists();
    let state = look(path, known)?;
    // Only what is a book, or becomes one: another program's file is left as it is.
    private::make_all_private(path);
    let damage = match state {
        FileState::Nothing => {
            let (conn, _) = attach(path, now, steps, false)?;
            sync_folder(path)?;
            return Ok((conn, Opened::New));
        }
        FileState::Damage(why) => why,
        FileState::Book => match attach(path, now, steps, suspect) {
            Ok((conn, was)) => {
                recover::remove(&suspicion(path))?;
                let migrated = Opened::Migrated { from: was, to: known };
                return Ok((conn, if was < known { migrated } else { Opened::Existing }));
            }
            Err(error) if error.is_corrupt() => error.to_string(),
            Err(error) => return Err(error),
        },
    };
    let recovery = recover::recover(path, clock, now, steps, damage)?;
    let (conn, _) = attach(path, now, steps, false)?;
    recover::remove(&suspicion(path))?;
    Ok((conn, Opened::Recovered(recovery)))
}

/// Syncs the directory entries of a file's folder to the disk.
pub(super) fn sync_folder(path: &Path) -> Result<(), Inner> {
    // Only Unix systems can open a folder for this; others sync directory entries themselves.
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        let sync = File::open(folder).and_then(|folder| folder.sync_all());
        sync.map_err(Inner::io(format!("writing the folder {}", folder.display())))?;
    }
    Ok(())
}

/// Removes unreferenced photo files, and makes the daily backup of an existing book.
fn tidy(writer: &mut Connection, reader: &Reader, opened: &Opened, now: Timestamp) -> Result<(), Inner> {
    files::remove_orphans(writer, &reader.photos_folder(), now)?;
    if *opened == Opened::New {
        return Ok(());
    }
    match backup::daily(writer, reader.connection(), reader.own_path(), now) {
        Err(error) if error.is_corrupt() => Err(error),
        // Without space for a backup the book can still be read and written. The next opening tries again.
        _ => Ok(()),
    }
}

impl FieldBook {
    /// Opens the book at `path`, whose name should end in `.steerbook`, and creates it if there is none.
    ///
    /// A book of an older format is migrated, with every row kept. A damaged one is set aside under another name in the
    /// same folder, never deleted; everything readable from it and from its newest sound backup is copied to a new one.
    ///
    /// Backups are made in the book's folder: at the first opening or write of a UTC day, of which the last three are
    /// kept, and one before a migration and before a large import.
    ///
    /// # Errors
    /// [`BookError::NewerFile`] or [`BookError::NotABook`], with the file left byte for byte unchanged, and the errors
    /// of the file system.
    pub fn open(path: &Path, clock: Box<dyn Clock>) -> Result<(Self, Opened), BookError> {
        Ok(Self::open_with(path, clock, STEPS)?)
    }

    pub(super) fn open_with(
        path: &Path,
        mut clock: Box<dyn Clock>,
        steps: &[Step],
    ) -> Result<(Self, Opened), Inner> {
        let now = clock.now();
        let (mut writer, mut opened) = open(path, &mut *clock, now, steps)?;
        let mut reader = Reader::new(connection::reader(path)?, path);
        match noticed(path, tidy(&mut writer, &reader, &opened, now)) {
            // Damage is detected only here: the whole file is checked, and recovered if necessary.
            Err(BookError::Corrupt { .. }) => {
                drop((reader, writer));
                (writer, opened) = open(path, &mut *clock, now, steps)?;
                reader = Reader::new(connection::reader(path)?, path);
                tidy(&mut writer, &reader, &opened, now)?;
            }
            done => done?,
        }
        let erasing = !erasure::rewrite(&mut writer, reader.connection(), path, now)?;
        let backup_day = backup::day(now);
        Ok((Self { reader, writer, clock, path: path.to_owned(), erasing, backup_day }, opened))
    }

    /// The book's reader, for queries.
    pub fn read(&self) -> &Reader {
        &self.reader
    }

    /// The current time by the book's clock.
    pub fn now(&mut self) -> Timestamp {
        self.clock.now()
    }

    /// One more reader, for another thread.
    ///
    /// # Errors
    /// Only those of opening a file.
    pub fn another_reader(&self) -> Result<Reader, BookError> {
        let conn = noticed(&self.path, connection::reader(&self.path))?;
        Ok(Reader::new(conn, &self.path))
    }

    /// Runs `work` in one transaction, as one step to undo called `op`. When it returns, all of it is on the disk; if
    /// the closure or any of its steps fails, nothing is.
    ///
    /// # Errors
    /// The closure's, and those of writing.
    pub fn transact<T>(
        &mut self,
        op: Op,
        work: impl FnOnce(&mut Work<'_>) -> Result<T, BookError>,
    ) -> Result<Outcome<T>, BookError> {
        let now = self.begin_write();
        let result = transact::transact(&mut self.writer, &self.reader, &mut *self.clock, now, op, work);
        let (outcome, erase) = noticed(&self.path, result)?;
        self.erasing |= erase;
        if self.erasing {
            // The transaction is committed regardless of this result; a pending erasure is recorded in the book.
            let _ = self.rewrite_if_asked(now);
        }
        Ok(outcome)
    }

    /// The time of a write. Makes the daily backup first if there is none yet.
    fn begin_write(&mut self) -> Timestamp {
        let now = self.clock.now();
        if backup::day(now) != self.backup_day {
            self.backup_day = backup::day(now);
            let made = backup::daily(&mut self.writer, self.reader.connection(), &self.path, now);
            // Damage is recorded for the next opening; any other error does not prevent the write.
            let _ = noticed(&self.path, made);
        }
        now
    }

    /// Completes an erasure: see [`erasure`].
    pub(super) fn rewrite_if_asked(&mut self, now: Timestamp) -> Result<bool, BookError> {
        let done = erasure::rewrite(&mut self.writer, self.reader.connection(), &self.path, now);
        let done = noticed(&self.path, done)?;
        self.erasing = !done;
        Ok(done)
    }

    /// Undoes the user's last action that is not undone; `None` if there is none. At least the last hundred can be
    /// undone, also after the book was closed, but not after an update to a new format or a recovery.
    ///
    /// # Errors
    /// [`BookError::Refused`] if data that cannot be undone depends on it.
    pub fn undo(&mut self) -> Result<Option<Outcome<ActionSummary>>, BookError> {
        let now = self.begin_write();
        let result = transact::revert(&mut self.writer, now, journal::State::Done);
        noticed(&self.path, result)
    }

    /// Redoes the action that was undone last; `None` if there is none, as after any new action.
    ///
    /// # Errors
    /// [`BookError::Refused`] if later data prevents it.
    pub fn redo(&mut self) -> Result<Option<Outcome<ActionSummary>>, BookError> {
        let now = self.begin_write();
        let result = transact::revert(&mut self.writer, now, journal::State::Undone);
        noticed(&self.path, result)
    }

    /// Removes photo files that no row names any more.
    pub(super) fn sweep_photos(&mut self) -> Result<(), BookError> {
        let now = self.clock.now();
        let folder = self.reader.photos_folder();
        let swept = files::remove_orphans(&mut self.writer, &folder, now);
        noticed(&self.path, swept)
    }
}

impl Reader {
    /// What [`FieldBook::undo`] would undo.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn next_undo(&self) -> Result<Option<ActionSummary>, BookError> {
        self.read(|conn| transact::next(conn, journal::State::Done))
    }

    /// What [`FieldBook::redo`] would redo.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn next_redo(&self) -> Result<Option<ActionSummary>, BookError> {
        self.read(|conn| transact::next(conn, journal::State::Undone))
    }

    /// All problems of the file itself, line by line; takes time in proportion to its size.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn examine(&self) -> Result<Vec<String>, BookError> {
        self.read(examine)
    }

    /// The reports of recoveries of this book, the latest first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn recoveries(&self) -> Result<Vec<Recovery>, BookError> {
        self.read(recover::all)
    }
}
