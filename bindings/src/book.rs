//! The field book object that a host app holds.

use crate::clock::{self, OwnClock};
use crate::{Action, Changes, LocalizedText, SteerwrightError, TimeSource};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use steerwright_core::book::{self, BikeId, FieldBook, Op, Outcome, Reader, Timestamp, Work};

/// A field book. Every method may be called from any thread, concurrently. Reads never wait for a write.
#[derive(uniffi::Object)]
pub struct Book {
    writer: Mutex<FieldBook>,
    readers: Mutex<Vec<Reader>>,
    clock: OwnClock,
    opened: Opened,
}

/// What happened when the book was opened.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum Opened {
    /// The file did not exist and was created.
    New,
    /// The file existed in the current format.
    Existing,
    /// The file existed in an older format and was migrated.
    Migrated {
        /// Format version before the migration.
        from: i32,
        /// Format version after the migration.
        to: i32,
    },
    /// The file was damaged. It was moved aside, and the readable rows were copied to a new book. The user
    /// has to be informed.
    Recovered {
        /// Path of the damaged file.
        set_aside: String,
        /// Whether every row was recovered.
        complete: bool,
        /// Message for the user, a few sentences.
        english: String,
    },
}

/// An action of the user, with the bikes that it is about.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ActionSummary {
    /// The action.
    pub action: Action,
    /// The bikes, in the order of the book.
    pub bikes: Vec<ActionBike>,
    /// What it did to them, in a few words each: "head tube length 112 mm", "name: Ash to Birch".
    pub things: Vec<String>,
    /// The action alone in words, to follow "Undo:" or "Undone:".
    pub text: LocalizedText,
    /// All of it in English, to follow "Undo:" or "Undone:": "write down a measurement (Hire bike 05): head tube length
    /// 112 mm".
    pub english: String,
}

/// A bike that an action is about.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct ActionBike {
    /// Id in the book.
    pub id: BikeId,
    /// The bike's name; as it was, if it is gone.
    pub name: String,
}

/// Result of an undo or redo.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Reverted {
    /// The action that was undone or redone.
    pub summary: ActionSummary,
    /// Stale screens.
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

impl From<book::ActionSummary> for ActionSummary {
    fn from(summary: book::ActionSummary) -> Self {
        let english = summary.description();
        let book::ActionSummary { op, bikes, things } = summary;
        Self {
            action: op,
            bikes: bikes.into_iter().map(|(id, name)| ActionBike { id, name }).collect(),
            things: things.into_iter().map(String::from).collect(),
            text: LocalizedText::new(format!("action.{}", op.name()), op.description()),
            english,
        }
    }
}

impl Reverted {
    fn new(Outcome { output, changes }: Outcome<book::ActionSummary>) -> Self {
        Self { summary: output.into(), changes: changes.into() }
    }
}

/// Maximum number of idle readers kept for reuse.
const KEPT: usize = 4;

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A poisoned lock is safe to use: the transaction that panicked was rolled back.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Book {
    pub(crate) fn writer(&self) -> MutexGuard<'_, FieldBook> {
        held(&self.writer)
    }

    /// The current time of the book's clock.
    pub(crate) fn now(&self) -> Timestamp {
        self.clock.time()
    }

    /// Runs a read with a pooled reader. Concurrent reads use separate readers.
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

    /// Runs a write as one transaction and one undo step.
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
    /// Opens the book at `path`, which has to end in `.steerbook`, and creates it if it does not exist.
    /// Without a time source the system clock is used. Open a book once and keep the object.
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

    /// What happened when the book was opened.
    pub fn opened(&self) -> Opened {
        self.opened.clone()
    }

    /// The action that `undo` would undo, to follow "Undo:".
    pub fn next_undo(&self) -> Result<Option<ActionSummary>, SteerwrightError> {
        self.read(|reader| Ok(reader.next_undo()?.map(Into::into)))
    }

    /// The action that `redo` would redo.
    pub fn next_redo(&self) -> Result<Option<ActionSummary>, SteerwrightError> {
        self.read(|reader| Ok(reader.next_redo()?.map(Into::into)))
    }

    /// Undoes the user's last action. Returns nothing if there is none. Order requests are not undone; they
    /// are withdrawn.
    pub fn undo(&self) -> Result<Option<Reverted>, SteerwrightError> {
        Ok(self.writer().undo()?.map(Reverted::new))
    }

    /// Redoes the action that was undone last.
    pub fn redo(&self) -> Result<Option<Reverted>, SteerwrightError> {
        Ok(self.writer().redo()?.map(Reverted::new))
    }
}
