//! The disk fails, is full, or the process ends at one chosen system call: at every one in turn with
//! `STEERWRIGHT_FAULTS_EVERY=1`, at each sixteenth without.

use super::life::{BOOK, Life, Start, chance, desk, life, place, put, writer};
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use steerwright_tests::crash::{CrashFixture, Step};
use tempfile::TempDir;

/// The fault at the chosen call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    /// It fails with EIO.
    Eio,
    /// It fails with ENOSPC, if it needs space.
    Full,
    /// Half of a write is written, and the next has no space.
    Short,
    /// The process is killed before it.
    Kill,
    /// The process is killed after half of a write.
    Torn,
    /// The process is killed after it.
    After,
}

impl How {
    fn name(self) -> &'static str {
        match self {
            Self::Eio => "eio",
            Self::Full => "full",
            Self::Short => "short",
            Self::Kill => "kill",
            Self::Torn => "torn",
            Self::After => "after",
        }
    }

    fn kills(self) -> bool {
        matches!(self, Self::Kill | Self::Torn | Self::After)
    }
}

/// The kinds of modifying calls: open, write, sync, rename, truncate, unlink, mkdir.
const CHANGING: &str = "owsntum";
const READING: &str = "r";

/// The library that makes calls fail, compiled by the system's C compiler, which linking needs anyway.
fn library() -> &'static Path {
    static LIBRARY: OnceLock<PathBuf> = OnceLock::new();
    LIBRARY.get_or_init(|| {
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/crash/faults.c");
        let made = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("faults-{}.so", std::process::id()));
        let status = Command::new("cc")
            .args(["-shared", "-fPIC", "-O1", "-Wall", "-Wextra", "-Werror", "-o"])
            .arg(&made)
            .arg(source)
            .arg("-ldl")
            .status()
            .unwrap();
        assert!(status.success());
        made
    })
}

/// A writer's output and its exit status.
struct Said {
    done: usize,
    failed: Vec<String>,
    code: Option<i32>,
    signal: Option<i32>,
    errors: String,
}

/// Parameters of one kind of interruption of one life.
struct Trial<'t> {
    life: &'t Life,
    desk: &'t Path,
    /// The start of the life, to be copied.
    base: &'t Path,
    kinds: &'t str,
    how: Option<How>,
    stays: bool,
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().flatten() {
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

impl Trial<'_> {
    /// Runs a writer in `folder` with a fault at the `at`th call.
    fn run(&self, folder: &Path, at: u64, counts: &Path) -> Said {
        // A writer that exits at its first failure must not retry, and one that fails once may.
        let manner = if self.stays { "once" } else { "again" };
        let mut command = writer(&folder.join(BOOK), self.desk, manner, &self.life.steps);
        command
            .env("LD_PRELOAD", library())
            .env("STEERWRIGHT_FAULT_FOLDER", folder)
            .env("STEERWRIGHT_FAULT_KINDS", self.kinds)
            .env("STEERWRIGHT_FAULT_AT", at.to_string())
            .env("STEERWRIGHT_FAULT_HOW", self.how.map_or("", How::name))
            .env("STEERWRIGHT_FAULT_STAYS", if self.stays { "1" } else { "0" })
            .env("STEERWRIGHT_FAULT_COUNTS", counts);
        let output = command.output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        Said {
            done: text.lines().filter(|line| line.starts_with("did ")).count(),
            failed: text.lines().filter(|line| line.starts_with("failed ")).map(str::to_owned).collect(),
            code: output.status.code(),
            signal: output.status.signal(),
            errors: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// Number of calls of each kind without a fault.
    fn counts(&self) -> Vec<(char, u64)> {
        let (folder, elsewhere) = (TempDir::new().unwrap(), TempDir::new().unwrap());
        copy(self.base, folder.path());
        let counts = elsewhere.path().join("counts");
        let said = Trial { how: None, ..*self }.run(folder.path(), 0, &counts);
        assert_eq!((said.code, &said.failed), (Some(0), &Vec::new()), "{}", said.errors);
        let read = |line: &str| {
            let (kind, count) = line.split_once(' ').unwrap();
            (kind.chars().next().unwrap(), count.parse().unwrap())
        };
        fs::read_to_string(counts).unwrap().lines().map(read).collect()
    }

    /// Every call in turn, or one in `every` from an offset that differs from life to life; returns their number.
    fn every(&self, every: usize, offset: usize) -> u64 {
        let calls = self.counts().into_iter().map(|(_, count)| count).sum();
        let chosen = (1..=calls).skip(offset % every).step_by(every);
        chosen.map(|at| self.one(at)).count() as u64
    }

    fn one(&self, at: u64) {
        let (folder, elsewhere) = (TempDir::new().unwrap(), TempDir::new().unwrap());
        copy(self.base, folder.path());
        let said = self.run(folder.path(), at, &elsewhere.path().join("counts"));
        let (steps, how) = (&self.life.steps, self.how.unwrap());
        let about = format!(
            "{how:?} at call {at} of {:?} (stays: {}), {:?} from {:?}: {} done, {:?}, ended with {:?} {}",
            self.kinds, self.stays, steps, self.life.start, said.done, said.failed, said.code, said.errors
        );
        for failed in &said.failed {
            let error = failed.splitn(3, ' ').nth(2).unwrap();
            let told = error.starts_with("Io {") || error == "Full";
            assert!(told || self.life.reads_fail && error.starts_with("Corrupt {"), "{about}");
        }
        if how.kills() {
            assert_eq!(said.signal, Some(9), "{about}");
        } else if self.stays {
            assert!(matches!(said.code, Some(0 | 3)), "{about}");
        } else {
            // The fault is over: the failed step succeeds when it is retried.
            assert_eq!((said.code, said.done), (Some(0), steps.len()), "{about}");
        }
        if !how.kills() && !self.stays {
            let left: Vec<_> = fs::read_dir(folder.path().join("out")).unwrap().flatten().collect();
            assert!(left.iter().all(|entry| entry.file_name() == "written.steerbundle"), "{about} {left:?}");
        }
        let now = place(&folder.path().join(BOOK), self.life, said.done, &about);
        assert!(how.kills() || self.stays || now == steps.len(), "{about}");
    }
}

/// Lives of one step, and of none: creation, opening with the daily backup, recovery.
fn lives(desk: &CrashFixture) -> Vec<Life> {
    let opened = [Start::Nothing, Start::Seasoned, Start::Damaged, Start::DamagedWithBackup];
    let openings = opened.into_iter().map(|start| life(start, [], desk));
    openings.chain(Step::ALL.into_iter().map(|step| life(Start::Seasoned, [step], desk))).collect()
}

fn all_lives(kinds: &str, how: How, stays: bool) {
    let (desk_folder, desk) = desk();
    let every = chance("STEERWRIGHT_FAULTS_EVERY", 16) as usize;
    let (mut calls, mut count) = (0, 0);
    for mut life in lives(&desk) {
        life.reads_fail = kinds == READING;
        if life.reads_fail && life.steps.iter().any(|(step, _)| matches!(step, Step::Undo | Step::Redo)) {
            continue;
        }
        // A device that fails to read while a damaged book is recovered is a double fault; that may cost rows.
        if life.reads_fail && life.start.is_damaged() {
            continue;
        }
        let base = TempDir::new().unwrap();
        put(life.start, &desk, base.path());
        let trial =
            Trial { life: &life, desk: desk_folder.path(), base: base.path(), kinds, how: Some(how), stays };
        let now = trial.every(every, count as usize * 5 + how as usize);
        (calls, count) = (calls + now, count + 1);
    }
    println!("{how:?}, stays: {stays}: {calls} calls in {count} lives");
    assert!(calls * every as u64 > count, "{calls}");
}

/// The faults take effect: SQLite and the book itself make system calls that can be intercepted.
#[test]
fn every_kind_of_call_is_counted() {
    let (desk_folder, desk) = desk();
    let life = life(Start::Nothing, [Step::AddBike, Step::AddPhoto, Step::WriteBundle], &desk);
    let base = TempDir::new().unwrap();
    put(life.start, &desk, base.path());
    let kinds = "owsntumr";
    let trial =
        Trial { life: &life, desk: desk_folder.path(), base: base.path(), kinds, how: None, stays: false };
    let counts = trial.counts();
    for (kind, least) in [('o', 8), ('w', 20), ('s', 10), ('n', 3), ('t', 1), ('u', 1), ('m', 1), ('r', 4)] {
        let found = counts.iter().find(|(it, _)| *it == kind).unwrap().1;
        assert!(found >= least, "{kind}: {counts:?}");
    }
}

#[test]
fn a_call_that_fails_once() {
    all_lives(CHANGING, How::Eio, false);
}

#[test]
fn a_disk_that_fails_from_then_on() {
    all_lives(CHANGING, How::Eio, true);
}

#[test]
fn a_read_that_fails_once() {
    all_lives(READING, How::Eio, false);
}

#[test]
fn no_room_once() {
    all_lives(CHANGING, How::Full, false);
}

#[test]
fn no_room_from_then_on() {
    all_lives(CHANGING, How::Full, true);
}

#[test]
fn no_room_halfway() {
    all_lives("w", How::Short, true);
}

#[test]
fn killed_before_each_call() {
    all_lives(CHANGING, How::Kill, false);
}

#[test]
fn killed_after_half_of_each_write() {
    all_lives("w", How::Torn, false);
}

#[test]
fn killed_after_each_call() {
    all_lives("sntum", How::After, false);
}
