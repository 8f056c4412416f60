//! Opening a book, and what stands in the way.

use super::change_tracker::ChangeTracker;
use super::error::Inner;
use super::migrate::{self, APPLICATION_ID, STEPS, Step};
use super::recover::{self, Recovery};
use super::transact::{self, Work};
use super::{
    BookError, Clock, Op, Outcome, Reader, Timestamp, connection, erasure, files, journal, repair, words,
};
use rusqlite::{Connection, ErrorCode, OptionalExtension, TransactionBehavior};
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

/// The field book: one SQLite file with its photos in a folder beside it.
pub struct FieldBook {
    // Closed in this order: the writer, last, leaves the file without a write-ahead log.
    reader: Reader,
    writer: Connection,
    tracker: ChangeTracker,
    clock: Box<dyn Clock>,
    path: PathBuf,
    /// Whether something was erased of which the file may still hold traces.
    erasing: bool,
}

/// What opening a book meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Opened {
    /// There was none; it was made.
    New,
    /// It was there.
    Existing,
    /// It was there, in an older format, and was brought up to date.
    Migrated {
        /// The format it had.
        from: i32,
        /// The format it has.
        to: i32,
    },
    /// It was damaged: it was set aside, and what could be read is in a new book. To be told to the user.
    Recovered(Recovery),
}

/// What the name of the photos' folder ends in.
pub(super) const PHOTOS: &str = "-photos";

/// A file beside the book, named after it.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// Left by an operation that met damage; the next opening then looks at the whole file first.
fn suspicion(path: &Path) -> PathBuf {
    beside(path, "-suspect")
}

/// Turns an inner error into the public one and remembers damage for the next opening.
pub(super) fn noticed<T>(path: &Path, result: Result<T, Inner>) -> Result<T, BookError> {
    if let Err(error) = &result
        && (error.is_corrupt() || error.is_senseless())
    {
        // If not even this can be written, the damage will be met again.
        let _ = fs::write(suspicion(path), b"");
    }
    Ok(result?)
}

/// What lies at the path, told without changing it.
enum Lies {
    Nothing,
    Book,
    Damage(String),
}

fn look(path: &Path, known: i32) -> Result<Lies, Inner> {
    let opening = || format!("opening {}", path.display());
    let length = match fs::metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Lies::Nothing),
        Err(error) => return Err(Inner::io(opening())(error)),
        Ok(about) if !about.is_file() => return Err(Inner::NotABook { path: path.to_owned() }),
        Ok(about) => about.len(),
    };
    if length == 0 {
        return Ok(Lies::Nothing);
    }
    // Another program's file must not be moved away as a damaged book because somebody mistyped a path.
    let named = path.extension().is_some_and(|extension| extension == "steerbook");
    let other = |what: &str| {
        if named { Ok(Lies::Damage(what.to_owned())) } else { Err(Inner::NotABook { path: path.to_owned() }) }
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
    // A commit not yet moved from the log to the file can have changed both.
    let logged = fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0);
    if version <= known && (logged || application == 0) {
        let ask_all = |conn: Connection| {
            let ask = |pragma| conn.pragma_query_value(None, pragma, |row| row.get::<_, i32>(0));
            let tables =
                conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get::<_, i64>(0))?;
            Ok((ask("user_version")?, ask("application_id")?, tables))
        };
        let mut asked = connection::onlooker(path).and_then(ask_all);
        // A program was killed while it made the file: what it had not finished is taken back first, as any program
        // that opens the file has to.
        if matches!(&asked, Err(Inner::Sqlite(error)) if error.sqlite_error_code() == Some(ErrorCode::ReadOnly))
        {
            asked = connection::reader(path).and_then(ask_all);
        }
        match asked {
            Ok((_, 0, 0)) => return Ok(Lies::Nothing),
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
    Ok(Lies::Book)
}

/// Touches every table once: a book that cannot do that is of no use.
fn probe(conn: &Connection) -> Result<(), Inner> {
    for table in recover::tables(conn)? {
        // All of a row: its key alone may come from an index.
        conn.query_row(&format!("SELECT * FROM {table} LIMIT 1"), [], |_| Ok(())).optional()?;
    }
    // The tables the program knows have to be there, whatever else is.
    for table in journal::UNDOABLE {
        if !conn.table_exists(None, *table)? {
            return Err(Inner::Stored(format!("the table {table} is not there")));
        }
    }
    Ok(())
}

/// Everything SQLite itself finds wrong with the file, at most a hundred lines; takes time in proportion to its size.
pub(super) fn examine(conn: &Connection) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare("PRAGMA quick_check(100)")?;
    let rows = rows.query_map([], |row| row.get::<_, String>(0))?;
    let mut found: Vec<String> = rows.collect::<Result<_, _>>()?;
    found.retain(|line| line != "ok");
    Ok(found)
}

/// Opens what lies there, or makes it.
fn attach(path: &Path, steps: &[Step], thorough: bool) -> Result<(Connection, i32), Inner> {
    let mut conn = connection::writer(path)?;
    let was = migrate::bring_up(&mut conn, path, steps)?;
    if was < migrate::newest(steps) {
        // The new format goes into the file itself, where a program that does not know it sees it at once.
        conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
    }
    probe(&conn)?;
    if thorough {
        examine_closely(&mut conn)
            .map_err(|error| if error.is_senseless() { Inner::Stored(error.to_string()) } else { error })?;
    }
    Ok((conn, was))
}

/// Looks at every page and every row, and at what each table's definition and its triggers say, which is asked only where
/// something is written.
fn examine_closely(conn: &mut Connection) -> Result<(), Inner> {
    let first = examine(conn)?.into_iter().next();
    if let Some(first) = first.map_or_else(|| repair::complaint(conn), |first| Ok(Some(first)))? {
        return Err(Inner::Stored(first));
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
    // The rows are sound; the words of the search are made from them.
    words::rebuild(&tx)?;
    tx.commit()?;
    Ok(())
}

fn open(path: &Path, clock: &mut dyn Clock, steps: &[Step]) -> Result<(Connection, Opened), Inner> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if let Some(folder) = folder {
        fs::create_dir_all(folder).map_err(Inner::io(format!("making the folder {}", folder.display())))?;
    }
    if let Some(recovery) = recover::finish(path)? {
        recover::remove(&suspicion(path))?;
        return Ok((attach(path, steps, false)?.0, Opened::Recovered(recovery)));
    }
    let known = migrate::newest(steps);
    let suspect = suspicion(path).exists();
    let damage = match look(path, known)? {
        Lies::Nothing => {
            let (conn, _) = attach(path, steps, false)?;
            sync_folder(path)?;
            return Ok((conn, Opened::New));
        }
        Lies::Damage(why) => why,
        Lies::Book => match attach(path, steps, suspect) {
            Ok((conn, was)) => {
                recover::remove(&suspicion(path))?;
                let migrated = Opened::Migrated { from: was, to: known };
                return Ok((conn, if was < known { migrated } else { Opened::Existing }));
            }
            Err(error) if error.is_corrupt() => error.to_string(),
            Err(error) => return Err(error),
        },
    };
    let recovery = recover::recover(path, clock, steps, damage)?;
    let (conn, _) = attach(path, steps, false)?;
    recover::remove(&suspicion(path))?;
    Ok((conn, Opened::Recovered(recovery)))
}

/// Puts the names in a file's folder on the disk.
pub(super) fn sync_folder(path: &Path) -> Result<(), Inner> {
    // Only a Unix lets a folder be opened for this; elsewhere the system writes names by itself.
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        let sync = File::open(folder).and_then(|folder| folder.sync_all());
        sync.map_err(Inner::io(format!("writing the folder {}", folder.display())))?;
    }
    Ok(())
}

impl FieldBook {
    /// Opens the book at `path`, whose name should end in `.steerbook`, and makes it if there is none.
    ///
    /// A book of an older format is brought up to date, every row kept. A damaged one is set aside under another name
    /// in the same folder, never deleted, and what can be read of it goes into a new one.
    ///
    /// # Errors
    /// [`BookError::NewerFile`] or [`BookError::NotABook`], with the file left byte for byte as it is, and the errors
    /// of the file system.
    pub fn open(path: &Path, clock: Box<dyn Clock>) -> Result<(Self, Opened), BookError> {
        Ok(Self::open_with(path, clock, STEPS)?)
    }

    pub(super) fn open_with(
        path: &Path,
        mut clock: Box<dyn Clock>,
        steps: &[Step],
    ) -> Result<(Self, Opened), Inner> {
        let (mut writer, mut opened) = open(path, &mut *clock, steps)?;
        let photos = beside(path, PHOTOS);
        match noticed(path, files::sweep(&mut writer, &photos, clock.now())) {
            // Met only here: the file is looked at as a whole, and saved if need be.
            Err(BookError::Corrupt { .. }) => {
                drop(writer);
                (writer, opened) = open(path, &mut *clock, steps)?;
                files::sweep(&mut writer, &photos, clock.now())?;
            }
            swept => swept?,
        }
        let erasing = !erasure::rewrite(&writer)?;
        let tracker = ChangeTracker::of(&mut writer, journal::UNDOABLE)?;
        let reader = Reader::new(connection::reader(path)?, path);
        Ok((Self { reader, writer, tracker, clock, path: path.to_owned(), erasing }, opened))
    }

    /// The book's reader, for looking things up.
    pub fn read(&self) -> &Reader {
        &self.reader
    }

    /// The time, for what is written beside the book.
    pub(super) fn now(&mut self) -> Timestamp {
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
        let photos = self.reader.photos_folder();
        let result = transact::transact(&mut self.writer, &self.tracker, &mut *self.clock, photos, op, work);
        let (outcome, erase) = noticed(&self.path, result)?;
        self.erasing |= erase;
        if self.erasing {
            // What was written is on the disk, whatever becomes of this; what it did not do is still noted in the book.
            let _ = self.rewrite_if_asked();
        }
        Ok(outcome)
    }

    /// Ends an erasure: see [`erasure`].
    pub(super) fn rewrite_if_asked(&mut self) -> Result<bool, BookError> {
        let done = noticed(&self.path, erasure::rewrite(&self.writer))?;
        self.erasing = !done;
        Ok(done)
    }

    /// Undoes the user's last action that was not undone yet; `None` if there is none. The last hundred at least are kept,
    /// over closing and opening too, but not over an update to a new format.
    ///
    /// # Errors
    /// [`BookError::Refused`] if something that cannot be undone depends on it.
    pub fn undo(&mut self) -> Result<Option<Outcome<Op>>, BookError> {
        let result =
            transact::turn_back(&mut self.writer, &self.tracker, &mut *self.clock, journal::State::Done);
        noticed(&self.path, result)
    }

    /// Redoes what was undone last; `None` if there is nothing, as after any new action.
    ///
    /// # Errors
    /// [`BookError::Refused`] if something stands in the way by now.
    pub fn redo(&mut self) -> Result<Option<Outcome<Op>>, BookError> {
        let result =
            transact::turn_back(&mut self.writer, &self.tracker, &mut *self.clock, journal::State::Undone);
        noticed(&self.path, result)
    }
}

impl Reader {
    /// What [`FieldBook::undo`] would undo.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn next_undo(&self) -> Result<Option<Op>, BookError> {
        self.read(|conn| Ok(journal::latest(conn, journal::State::Done)?.map(|(_, op)| op)))
    }

    /// What [`FieldBook::redo`] would redo.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn next_redo(&self) -> Result<Option<Op>, BookError> {
        self.read(|conn| Ok(journal::latest(conn, journal::State::Undone)?.map(|(_, op)| op)))
    }

    /// Everything that is wrong with the file itself, line by line; takes time in proportion to its size.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn examine(&self) -> Result<Vec<String>, BookError> {
        self.read(examine)
    }

    /// What was saved from damaged books and what was not, the latest first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn recoveries(&self) -> Result<Vec<Recovery>, BookError> {
        self.read(recover::all)
    }
}
