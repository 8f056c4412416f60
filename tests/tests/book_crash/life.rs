//! A book's life without any interruption, for comparison.

use rusqlite::Connection;
use std::fs;
use std::path::Path;
use std::process::Command;
use steerwright_core::book::{Bundle, FieldBook, Opened};
use steerwright_tests::crash::{CrashFixture, Step, StepClock, state, unsound};
use tempfile::TempDir;

/// Steps of a long life.
pub const STEPS: usize = 48;
/// The first step's number; earlier ones made the book.
pub const FIRST: u64 = 1_000;

/// The start of a life.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// No book.
    Nothing,
    /// A book with rows of every kind, without a backup.
    Seasoned,
    /// A book with more actions than can be undone.
    Long,
    /// A seasoned book without a backup and with an illegible page.
    Damaged,
    /// The same with a backup and rows newer than it.
    DamagedWithBackup,
}

impl Start {
    pub fn is_damaged(self) -> bool {
        matches!(self, Self::Damaged | Self::DamagedWithBackup)
    }
}

/// Opens a book and takes steps in it, numbered from `first`.
fn write(path: &Path, desk: &CrashFixture, first: u64, steps: impl IntoIterator<Item = Step>) {
    let clock = StepClock::default();
    let (mut book, _) = FieldBook::open(path, Box::new(clock.clone())).unwrap();
    for (step, number) in steps.into_iter().zip(first..) {
        desk.take(step, number, &mut book, &clock).unwrap();
    }
}

/// Creates the start of a life in a folder, with a folder for files written next to the book.
pub fn put(start: Start, desk: &CrashFixture, folder: &Path) {
    fs::create_dir(folder.join("out")).unwrap();
    let path = folder.join(BOOK);
    match start {
        Start::Nothing => {}
        Start::Long => {
            let step = |number| if number % 20 == 0 { Step::AddBike } else { Step::Measure };
            write(&path, desk, 0, (0..115).map(step));
        }
        Start::Seasoned | Start::Damaged | Start::DamagedWithBackup => {
            let first = [Step::AddBike, Step::ImportCatalogue, Step::AddBike];
            write(
                &path,
                desk,
                0,
                first.into_iter().chain(Step::ALL).chain([Step::AddPhoto, Step::StrikeOut]),
            );
        }
    }
    if start == Start::DamagedWithBackup {
        // Opening makes the backup.
        write(&path, desk, 100, [Step::Measure, Step::AddBike, Step::QueueOrder, Step::SendOrder]);
    }
    if start.is_damaged() {
        let conn = Connection::open(&path).unwrap();
        let (page, size): (usize, usize) = conn
            .query_row(
                "SELECT max(pageno), pgsize FROM dbstat WHERE name = 'measurements' AND pagetype = 'leaf'",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .unwrap();
        drop(conn);
        let mut bytes = fs::read(&path).unwrap();
        bytes[(page - 1) * size..page * size].fill(0xEE);
        fs::write(&path, bytes).unwrap();
        fs::write(folder.join("book.steerbook-suspect"), b"").unwrap();
    }
}

/// The book's name in its folder.
pub const BOOK: &str = "book.steerbook";

/// One book's life without any interruption: its steps, and its state before the first and after each.
pub struct Life {
    pub start: Start,
    pub steps: Vec<(Step, u64)>,
    /// A failing read is a symptom of a failing disk, so the book may be recovered into a new one, without the undo
    /// journal.
    pub reads_fail: bool,
    states: Vec<String>,
}

pub fn life(start: Start, steps: impl IntoIterator<Item = Step>, desk: &CrashFixture) -> Life {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join(BOOK);
    put(start, desk, folder.path());
    let clock = StepClock::default();
    let (mut book, _) = FieldBook::open(&path, Box::new(clock.clone())).unwrap();
    let steps: Vec<_> = steps.into_iter().zip(FIRST..).collect();
    let mut states = vec![comparable(&path)];
    for (step, number) in &steps {
        let taken = desk.take(*step, *number, &mut book, &clock);
        taken.unwrap_or_else(|error| panic!("{step:?} {number}: {error}"));
        states.push(comparable(&path));
    }
    // Files kept only for an action that has been discarded are removed when the book is opened.
    drop(book);
    drop(FieldBook::open(&path, Box::new(clock)).unwrap());
    assert_eq!(unsound(&path), Vec::<String>::new());
    Life { start, steps, reads_fail: false, states }
}

impl Life {
    /// Number of steps that changed the book.
    pub fn changes(&self) -> usize {
        self.states.windows(2).filter(|pair| pair[0] != pair[1]).count()
    }

    /// Whether a row with this prefix and this part ever existed.
    pub fn had(&self, row: &str, part: &str) -> bool {
        let rows = self.states.iter().flat_map(|state| state.lines());
        rows.filter(|line| line.starts_with(row)).any(|line| line.contains(part))
    }

    /// Whether two lives were the same.
    pub fn same(&self, other: &Self) -> bool {
        self.states == other.states
    }
}

/// The state without the report of a recovery, which contains a folder.
fn comparable(path: &Path) -> String {
    let state = state(path);
    state.split_inclusive('\n').filter(|line| !line.starts_with("recoveries:")).collect()
}

pub fn writer(path: &Path, desk: &Path, manner: &str, steps: &[(Step, u64)]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_book_writer"));
    command.arg(path).arg(desk).arg(manner);
    for (step, number) in steps {
        let place = Step::ALL.iter().position(|it| it == step).unwrap();
        command.arg(format!("{place}:{number}"));
    }
    command
}

pub fn desk() -> (TempDir, CrashFixture) {
    let folder = TempDir::new().unwrap();
    let desk = CrashFixture::new(folder.path());
    desk.lay();
    (folder, desk)
}

/// The step that the book's state corresponds to, not before `least`; the book has to be sound.
pub fn place(path: &Path, life: &Life, least: usize, about: &str) -> usize {
    let (book, opened) = FieldBook::open(path, Box::new(StepClock::default())).unwrap();
    let damaged = life.start.is_damaged();
    let recoveries = book.read().recoveries().unwrap();
    if life.reads_fail {
        assert!(damaged || recoveries.iter().all(|it| it.lost.is_empty()), "{about}: {recoveries:?}");
    } else {
        assert!(damaged || !matches!(opened, Opened::Recovered(_)), "{about}: {opened:?}");
        assert_eq!(recoveries.len(), usize::from(damaged), "{about}");
    }
    assert!(recoveries.iter().all(|it| it.set_aside.exists()), "{about}");
    drop(book);
    assert_eq!(unsound(path), Vec::<String>::new(), "{about}");
    let written = path.with_file_name("out").join("written.steerbundle");
    if written.exists() {
        let bundle = Bundle::check(fs::File::open(written).unwrap()).map(drop);
        assert_eq!(bundle, Ok(()), "{about}");
    }
    let without_journal = |state: &str| -> String {
        let journal = |line: &&str| line.starts_with("actions:") || line.starts_with("undo_");
        state.split_inclusive('\n').filter(|line| !journal(line)).collect()
    };
    let shown = |state: &str| if life.reads_fail { without_journal(state) } else { state.to_owned() };
    let now = shown(&comparable(path));
    // The step in progress may be present if it is complete.
    let at = [least + 1, least]
        .into_iter()
        .find(|at| life.states.get(*at).is_some_and(|state| shown(state) == now));
    at.unwrap_or_else(|| {
        panic!(
            "{about}: not the state after step {least} or the next\n{}",
            differs(&shown(&life.states[least]), &now)
        )
    })
}

/// A number from the environment.
pub fn chance(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect("a number"))
}

fn differs(was: &str, now: &str) -> String {
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    let (was, now) = (lines(was), lines(now));
    let gone = was.iter().filter(|line| !now.contains(line)).map(|line| format!("- {line}"));
    let new = now.iter().filter(|line| !was.contains(line)).map(|line| format!("+ {line}"));
    gone.chain(new).take(40).collect::<Vec<_>>().join("\n")
}
