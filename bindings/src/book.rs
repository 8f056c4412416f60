//! The field book as a shell holds it.

use crate::clock::{self, OwnClock};
use crate::{Action, Changes, LocalizedText, SteerwrightError, TimeSource};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use steerwright_core::book::{self, FieldBook, Op, Outcome, Reader, Timestamp, Work};

/// A field book. It may be called from any thread, and from several at once: looking up never waits for writing.
#[derive(uniffi::Object)]
pub struct Book {
    writer: Mutex<FieldBook>,
    readers: Mutex<Vec<Reader>>,
    clock: OwnClock,
    opened: Opened,
}

/// What opening a book meant.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum Opened {
    /// There was none; it was made.
    New,
    /// It was there.
    Existing,
    /// It was there in an older format and was brought up to date.
    Migrated {
        /// The format it had.
        from: i32,
        /// The format it has.
        to: i32,
    },
    /// It was damaged: it was set aside, and what could be read is in a new book. To be told to the user.
    Recovered {
        /// Where the damaged file lies now.
        set_aside: String,
        /// Whether every row could be read.
        complete: bool,
        /// For the user, in a few sentences.
        english: String,
    },
}

/// What undoing or redoing did.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Reverted {
    /// What was undone or redone.
    pub action: Action,
    /// The same in words, to follow "Undone:".
    pub text: LocalizedText,
    /// Which screens are stale.
    pub changes: Changes,
}

impl From<book::Opened> for Opened {
    fn from(opened: book::Opened) -> Self {
        match opened {
            book::Opened::New => Self::New,
            book::Opened::Existing => Self::Existing,
            book::Opened::Migrated { from, to } => Self::Migrated { from, to },
            book::Opened::Recovered(recovery) => Self::Recovered {
                set_aside: recovery.set_aside.display().to_string(),
                complete: recovery.lost.is_empty(),
                english: recovery.description(),
            },
        }
    }
}

pub(crate) fn action(op: Op) -> LocalizedText {
    LocalizedText::new(format!("action.{}", op.name()), op.description())
}

impl Reverted {
    fn new(Outcome { output, changes }: Outcome<Op>) -> Self {
        Self { action: output, text: action(output), changes: changes.into() }
    }
}

/// Most readers that are kept for the next call.
const KEPT: usize = 4;

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A transaction that was cut short by a panic was taken back: the book behind it is sound.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Book {
    pub(crate) fn writer(&self) -> MutexGuard<'_, FieldBook> {
        held(&self.writer)
    }

    /// The time.
    pub(crate) fn now(&self) -> Timestamp {
        self.clock.time()
    }

    /// Looks something up; every call has a reader of its own.
    pub(crate) fn read<T>(
        &self,
        look: impl FnOnce(&Reader) -> Result<T, SteerwrightError>,
    ) -> Result<T, SteerwrightError> {
        let kept = held(&self.readers).pop();
        let reader = match kept {
            Some(reader) => reader,
            None => self.writer().another_reader()?,
        };
        let found = look(&reader);
        let mut readers = held(&self.readers);
        if readers.len() < KEPT {
            readers.push(reader);
        }
        found
    }

    /// Changes the book as one step to undo.
    pub(crate) fn change<T>(
        &self,
        op: Op,
        work: impl FnOnce(&mut Work<'_>) -> Result<T, book::BookError>,
    ) -> Result<Outcome<T>, SteerwrightError> {
        Ok(self.writer().transact(op, work)?)
    }
}

#[uniffi::export]
impl Book {
    /// Opens the book at a path whose name ends in `.steerbook`, and makes it if there is none. With no time source the
    /// system's clock counts. Open it once and keep it.
    #[uniffi::constructor(default(time = None))]
    pub fn open(path: String, time: Option<Arc<dyn TimeSource>>) -> Result<Arc<Self>, SteerwrightError> {
        clock::chance()?;
        let clock = OwnClock(time);
        let (book, opened) = FieldBook::open(Path::new(&path), Box::new(clock.clone()))?;
        Ok(Arc::new(Self {
            writer: Mutex::new(book),
            readers: Mutex::default(),
            clock,
            opened: opened.into(),
        }))
    }

    /// What opening meant.
    pub fn opened(&self) -> Opened {
        self.opened.clone()
    }

    /// What `undo` would undo, to follow "Undo:".
    pub fn next_undo(&self) -> Result<Option<LocalizedText>, SteerwrightError> {
        self.read(|reader| Ok(reader.next_undo()?.map(action)))
    }

    /// What `redo` would redo.
    pub fn next_redo(&self) -> Result<Option<LocalizedText>, SteerwrightError> {
        self.read(|reader| Ok(reader.next_redo()?.map(action)))
    }

    /// Undoes the user's last action; nothing if there is none. Orders are not undone but withdrawn.
    pub fn undo(&self) -> Result<Option<Reverted>, SteerwrightError> {
        Ok(self.writer().undo()?.map(Reverted::new))
    }

    /// Redoes what was undone last.
    pub fn redo(&self) -> Result<Option<Reverted>, SteerwrightError> {
        Ok(self.writer().redo()?.map(Reverted::new))
    }
}
