//! A program that writes the book is killed at any point: all it has said is done is there, nothing is there by half,
//! and the book opens as if nothing had happened.
//!
//! `STEERWRIGHT_CRASH_ROUNDS` sets how often (default 40), `STEERWRIGHT_CRASH_SEED` which row of chances.

#![cfg(unix)]

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use steerwright_core::book::{FieldBook, Opened};
use steerwright_tests::crash::{Desk, Step, StepClock, mix, plan, state, unsound};
use tempfile::TempDir;

/// Steps of a book's life.
const STEPS: usize = 48;
/// The first step's number; those before made the book.
const FIRST: u64 = 1_000;

fn chance(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect("a number"))
}

/// What a life starts from.
#[derive(Debug, Clone, Copy)]
enum Start {
    /// No book.
    Nothing,
    /// A book of the first release, full.
    FirstRelease,
    /// A book with more actions than can be undone.
    Long,
}

fn put(start: Start, desk: &Desk, path: &Path) {
    match start {
        Start::Nothing => {}
        Start::FirstRelease => {
            let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/books/v1.steerbook");
            fs::copy(fixture, path).unwrap();
        }
        Start::Long => {
            let clock = StepClock::default();
            let (mut book, _) = FieldBook::open(path, Box::new(clock.clone())).unwrap();
            for number in 0..115 {
                let step = if number % 20 == 0 { Step::AddBike } else { Step::Measure };
                desk.take(step, number, &mut book, &clock).unwrap();
            }
        }
    }
}

/// One book's life as it is without any interruption: its steps, and its state before the first and after each.
struct Life {
    start: Start,
    steps: Vec<Step>,
    states: Vec<String>,
}

fn life(start: Start, seed: u64, desk: &Desk) -> Life {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.steerbook");
    put(start, desk, &path);
    let clock = StepClock::default();
    let (mut book, _) = FieldBook::open(&path, Box::new(clock.clone())).unwrap();
    let steps = plan(seed, STEPS);
    let mut states = vec![state(&path)];
    for (step, number) in steps.iter().zip(FIRST..) {
        desk.take(*step, number, &mut book, &clock)
            .unwrap_or_else(|error| panic!("{step:?} {number}: {error}"));
        states.push(state(&path));
    }
    drop(book);
    assert_eq!(unsound(&path), Vec::<String>::new());
    Life { start, steps, states }
}

/// When to kill.
#[derive(Debug, Clone, Copy)]
enum When {
    /// So long after the start.
    After(Duration),
    /// So long after so many steps were said to be done.
    Acknowledged(usize, Duration),
}

fn when(seed: &mut u64, left: usize) -> When {
    let micros = |seed: &mut u64, most: u64| Duration::from_micros(mix(seed) % most);
    if mix(seed).is_multiple_of(4) {
        When::After(micros(seed, 25_000))
    } else {
        let steps = mix(seed) as usize % left.clamp(1, 8);
        When::Acknowledged(steps, micros(seed, 4_000))
    }
}

/// Sleeping is not exact enough for places some microseconds apart.
fn wait(duration: Duration) {
    let start = Instant::now();
    while start.elapsed() < duration {
        std::hint::spin_loop();
    }
}

fn writer(path: &Path, desk: &Path, manner: &str, steps: &[(Step, u64)]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_book_writer"));
    command.arg(path).arg(desk).arg(manner);
    for (step, number) in steps {
        let place = Step::ALL.iter().position(|it| it == step).unwrap();
        command.arg(format!("{place}:{number}"));
    }
    command
}

/// Lets the writer run and kills it; how many steps it said were done, and whether it had opened the book.
fn run_and_kill(mut command: Command, when: When) -> (usize, bool) {
    let mut child: Child = command.stdout(Stdio::piped()).spawn().unwrap();
    let mut said = BufReader::new(child.stdout.take().unwrap());
    let (mut done, mut opened) = (0, false);
    let mut line = String::new();
    let mut hear = |said: &mut BufReader<_>, done: &mut usize, opened: &mut bool| {
        line.clear();
        if said.read_line(&mut line).unwrap() == 0 {
            return false;
        }
        assert!(!line.starts_with("failed"), "{line}");
        // A line that was cut off says nothing.
        *done += usize::from(line.starts_with("did ") && line.ends_with('\n'));
        *opened |= line == "opened\n";
        true
    };
    let delay = match when {
        When::After(delay) => delay,
        When::Acknowledged(steps, delay) => {
            while (done < steps || !opened) && hear(&mut said, &mut done, &mut opened) {}
            delay
        }
    };
    wait(delay);
    child.kill().unwrap();
    child.wait().unwrap();
    // What it had said before it died counts.
    while hear(&mut said, &mut done, &mut opened) {}
    (done, opened)
}

fn desk() -> (TempDir, Desk) {
    let folder = TempDir::new().unwrap();
    let desk = Desk::new(folder.path());
    desk.lay();
    (folder, desk)
}

/// The step after which a book stands, not before `least`; the book has to be sound.
fn place(path: &Path, life: &Life, least: usize, about: &str) -> usize {
    let (book, opened) = FieldBook::open(path, Box::new(StepClock::default())).unwrap();
    assert!(!matches!(opened, Opened::Recovered(_)), "{about}: {opened:?}");
    drop(book);
    assert_eq!(unsound(path), Vec::<String>::new(), "{about}");
    let now = state(path);
    // The step on its way may be there, if it is there whole.
    let at =
        [least + 1, least].into_iter().find(|at| life.states.get(*at).is_some_and(|state| *state == now));
    at.unwrap_or_else(|| {
        panic!("{about}: not the state after step {least} or the next\n{}", differs(life, least, &now))
    })
}

fn differs(life: &Life, least: usize, now: &str) -> String {
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    let (was, now) = (lines(&life.states[least]), lines(now));
    let gone = was.iter().filter(|line| !now.contains(line)).map(|line| format!("- {line}"));
    let new = now.iter().filter(|line| !was.contains(line)).map(|line| format!("+ {line}"));
    gone.chain(new).take(40).collect::<Vec<_>>().join("\n")
}

#[test]
fn a_writer_killed_at_any_point() {
    let rounds = chance("STEERWRIGHT_CRASH_ROUNDS", 40);
    let first = chance("STEERWRIGHT_CRASH_SEED", 20_260_501);
    let (desk_folder, desk) = desk();
    let (mut round, mut lives, mut opening, mut under_way) = (0, 0, 0, 0);
    while round < rounds {
        let mut seed = first.wrapping_add(lives);
        let start = [Start::FirstRelease, Start::Long, Start::Nothing][(lives % 3) as usize];
        let life = life(start, mix(&mut seed), &desk);
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("book.steerbook");
        put(life.start, &desk, &path);
        let mut at = 0;
        while at < STEPS && round < rounds {
            let when = when(&mut seed, STEPS - at);
            let left: Vec<(Step, u64)> = life.steps.iter().copied().zip(FIRST..).skip(at).collect();
            let (done, opened) = run_and_kill(writer(&path, desk_folder.path(), "once", &left), when);
            let about = format!(
                "STEERWRIGHT_CRASH_SEED={} (life {lives}, round {round}, from {start:?}, at step {at}, {when:?}, {done} done)",
                first.wrapping_add(lives)
            );
            let now = place(&path, &life, at + done, &about);
            opening += u64::from(!opened);
            under_way += u64::from(now > at + done);
            at = now;
            round += 1;
        }
        lives += 1;
    }
    println!(
        "{rounds} kills in {lives} books; {opening} while opening; {under_way} after a commit not yet told"
    );
}

#[test]
fn two_lives_are_the_same() {
    let (_folder, desk) = desk();
    let (one, two) = (life(Start::FirstRelease, 7, &desk), life(Start::FirstRelease, 7, &desk));
    assert_eq!(one.states, two.states);
    let changed = one.states.windows(2).filter(|pair| pair[0] != pair[1]).count();
    assert!(changed > STEPS / 2, "most steps leave a trace, {changed}");
}
