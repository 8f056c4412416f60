//! Transactions, the only way to change the book.

use super::error::Inner;
use super::files::PhotoFileWriter;
use super::orders::undo;
use super::summary::{self, ActionSummary};
use super::{BikeId, BookError, Clock, Reader, Timestamp, backup, journal};
use rusqlite::{Connection, Transaction};
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::PathBuf;
use steerwright_metrology::ids;
use uuid::Uuid;

macro_rules! ops {
    ($($variant:ident = $name:literal, $says:literal;)*) => {
        /// A user action, one step that can be undone.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Op {
            $(#[doc = concat!("To ", $says, ".")] $variant,)*
        }

        impl Op {
            /// Every action.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The name in the database.
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// In English words, to follow "Undo:": `strike out a measurement`.
            pub fn description(self) -> &'static str {
                match self { $(Self::$variant => $says,)* }
            }
        }
    };
}

ops! {
    AddBike = "add_bike", "add a bike";
    EditBike = "edit_bike", "change a bike";
    ArchiveBike = "archive_bike", "archive a bike";
    RestoreBike = "restore_bike", "restore a bike from the archive";
    DeleteBike = "delete_bike", "delete a bike";
    AddMeasurement = "add_measurement", "write down a measurement";
    StrikeOut = "strike_out", "strike out a measurement";
    BringBack = "bring_back", "restore a measurement";
    KeepCheck = "keep_check", "keep a check";
    FitKit = "fit_kit", "record that a kit was fitted";
    RemoveKit = "remove_kit", "record that a kit was taken out";
    AddPhoto = "add_photo", "add a photo";
    EditPhoto = "edit_photo", "change a photo";
    MeasurePhoto = "measure_photo", "measure on a photo";
    RemovePhoto = "remove_photo", "remove a photo";
    ImportCatalogue = "import_catalogue", "import a catalogue";
    PinMaker = "pin_maker", "trust a maker's key";
    Import = "import", "import from a file";
    ChangeSettings = "change_settings", "change the settings";
    Order = "order", "ask for a kit, or change what was asked";
}

impl Op {
    /// The action of that name in the database.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|op| op.name() == name)
    }
}

/// A screen of a shell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Screen {
    /// The list of bikes and the search.
    BikeList,
    /// One bike with everything on it.
    Bike(BikeId),
    /// Makers, their keys and catalogues.
    Catalogues,
    /// Photos, also those of no bike.
    Photos,
    /// The settings; instruments change every bike's findings.
    Settings,
    /// Order requests, pending and sent.
    Orders,
}

/// Which screens are stale, derived from the rows that changed.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[serde(transparent)]
pub struct Changes(pub BTreeSet<Screen>);

impl Changes {
    /// Nothing changed.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether this screen is stale.
    pub fn contains(&self, screen: Screen) -> bool {
        self.0.contains(&screen)
    }
}

/// The result of a committed transaction.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome<T> {
    /// What the closure returned.
    pub output: T,
    /// Which screens are stale.
    pub changes: Changes,
}

/// An open transaction. Its methods change the book.
///
/// If one of them fails, the transaction is not committed, even if the closure continues.
pub struct Work<'t> {
    tx: &'t Transaction<'t>,
    /// Reads the state before this transaction.
    before: &'t Reader,
    clock: &'t mut dyn Clock,
    now: Timestamp,
    stale: BTreeSet<Screen>,
    put: PhotoFileWriter,
    failed: bool,
    erase: bool,
}

impl Work<'_> {
    /// When this transaction began; all rows in it have this timestamp.
    pub fn now(&self) -> Timestamp {
        self.now
    }

    /// The transaction itself, for the modules that write.
    pub(crate) fn tx(&self) -> &Transaction<'_> {
        self.tx
    }

    /// An id for a new row.
    pub(crate) fn fresh_id(&mut self) -> Uuid {
        ids::fresh(self.now, self.clock.random())
    }

    /// Ten random bytes from the clock.
    pub(crate) fn random(&mut self) -> [u8; 10] {
        self.clock.random()
    }

    /// The folder of the photos' files.
    pub(crate) fn photos_folder(&self) -> PathBuf {
        self.put.folder().to_owned()
    }

    /// Writes a photo's file. It is synced to the disk before the rows of this transaction are committed.
    pub(super) fn put(&mut self, hash: &[u8; 32], bytes: &[u8]) -> Result<(), Inner> {
        self.put.put(hash, bytes)
    }

    /// Makes a backup of the state before this transaction, if an import of this many rows is large.
    pub(super) fn back_up_before_import(&self, rows: usize) -> Result<(), Inner> {
        if rows < backup::LARGE_IMPORT_ROWS {
            return Ok(());
        }
        backup::make(self.before.connection(), self.before.own_path(), backup::Occasion::Import, self.now)
    }

    /// Requests that the file is rewritten after this transaction commits.
    pub(super) fn erase(&mut self) {
        self.erase = true;
    }

    /// Marks a screen as stale whose tables the undo journal does not record.
    pub(crate) fn touch(&mut self, screen: Screen) {
        self.stale.insert(screen);
    }

    /// Runs one step; its failure fails the whole transaction.
    pub(crate) fn step<T>(
        &mut self,
        step: impl FnOnce(&mut Self) -> Result<T, Inner>,
    ) -> Result<T, BookError> {
        let result = step(self);
        self.failed |= result.is_err();
        Ok(result?)
    }
}

/// Runs a closure in one transaction on the writer's connection. Returns the outcome and whether the file is to be
/// rewritten.
pub(super) fn transact<T>(
    conn: &mut Connection,
    before: &Reader,
    clock: &mut dyn Clock,
    now: Timestamp,
    op: Op,
    work: impl FnOnce(&mut Work<'_>) -> Result<T, BookError>,
) -> Result<(Outcome<T>, bool), Inner> {
    let tx = conn.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let mut working = Work {
        tx: &tx,
        before,
        clock,
        now,
        stale: BTreeSet::new(),
        put: PhotoFileWriter::new(before.photos_folder()),
        failed: false,
        erase: false,
    };
    let done = run(&mut working, op, work);
    let Work { put, erase, .. } = working;
    match done.and_then(|done| put.sync().map(|()| done)) {
        Ok(outcome) => {
            tx.commit()?;
            Ok((outcome, erase))
        }
        Err(error) => {
            put.roll_back();
            Err(error)
        }
    }
}

/// The transaction except for its commit.
fn run<T>(
    working: &mut Work<'_>,
    op: Op,
    work: impl FnOnce(&mut Work<'_>) -> Result<T, BookError>,
) -> Result<Outcome<T>, Inner> {
    let action = journal::begin(working.tx, op, journal::State::Done, working.now)?;
    let output = work(working)?;
    if working.failed {
        return Err(Inner::rule("action.part_failed", "a part of it failed, so nothing was changed"));
    }
    let mut changes = journal::end(working.tx, action)?;
    changes.0.append(&mut working.stale);
    Ok(Outcome { output, changes })
}

/// What [`revert`] would revert.
pub(super) fn next(conn: &Connection, state: journal::State) -> Result<Option<ActionSummary>, Inner> {
    let Some((action, op)) = journal::latest(conn, state)? else { return Ok(None) };
    summary::of_action(conn, action, op).map(Some)
}

/// Reverts the latest action of a state; `None` if there is none.
pub(super) fn revert(
    conn: &mut Connection,
    now: Timestamp,
    state: journal::State,
) -> Result<Option<Outcome<ActionSummary>>, Inner> {
    let tx = conn.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let Some((action, op)) = journal::latest(&tx, state)? else { return Ok(None) };
    let undoing = state == journal::State::Done;
    if let Some(obstacle) = undo::obstacle(&tx, action, undoing)? {
        // The user is told once; the action then no longer hides those before it.
        journal::forget_one(&tx, action)?;
        tx.commit()?;
        return Err(obstacle);
    }
    let summary = summary::of_action(&tx, action, op)?;
    let opposite = match state {
        journal::State::Done => journal::State::Undone,
        journal::State::Undone => journal::State::Done,
    };
    let depends = |error: Inner| match error {
        Inner::Sqlite(error)
            if error.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation) =>
        {
            let (rule, word) = match state {
                journal::State::Done => ("action.cannot_be_undone", "undone"),
                journal::State::Undone => ("action.cannot_be_redone", "redone"),
            };
            let reason =
                format!("\"{}\" can no longer be {word}: something else depends on it", op.description());
            Inner::rule(rule, reason).with("action", op.name())
        }
        other => other,
    };
    let changes = journal::revert(&tx, action, op, opposite, now).map_err(depends)?;
    tx.commit().map_err(|error| depends(error.into()))?;
    Ok(Some(Outcome { output: summary, changes }))
}
