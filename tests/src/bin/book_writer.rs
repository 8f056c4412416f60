//! Writes a field book step by step and reports progress, for tests that interrupt it.
//!
//! `book_writer BOOK DESK once|again STEP:NUMBER...` opens the book and takes the steps, each identified by its index
//! among all steps. Standard output: `opened`, `did NUMBER` as soon as a step has returned, `failed NUMBER ERROR` if it
//! failed (`failed opening ERROR`), `done` once the book is closed. `once` exits after the first failure with exit code
//! 3; `again` retries a failed step once.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;
use steerwright_core::book::{BookError, FieldBook};
use steerwright_tests::crash::{CrashFixture, Step, StepClock};

fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    // If the reader is gone, the error can be ignored.
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

/// Tries once, or twice; reports failures.
fn attempt<T>(again: bool, what: &str, mut work: impl FnMut() -> Result<T, BookError>) -> Option<T> {
    for _ in 0..=usize::from(again) {
        match work() {
            Ok(it) => return Some(it),
            Err(error) => say(&format!("failed {what} {error:?}")),
        }
    }
    None
}

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let (Some(book), Some(desk), Some(manner)) = (words.next(), words.next(), words.next()) else {
        return ExitCode::from(2);
    };
    let again = manner == "again";
    let clock = StepClock::default();
    let desk = CrashFixture::new(Path::new(&desk));
    let open = || FieldBook::open(Path::new(&book), Box::new(clock.clone()));
    let Some((mut book, _)) = attempt(again, "opening", open) else { return ExitCode::from(3) };
    say("opened");
    for word in words {
        let Some((step, number)) = word.split_once(':') else { return ExitCode::from(2) };
        let step = step.parse().ok().and_then(|place: usize| Step::ALL.get(place).copied());
        let (Some(step), Ok(number)) = (step, number.parse::<u64>()) else { return ExitCode::from(2) };
        let taken = attempt(again, &number.to_string(), || desk.take(step, number, &mut book, &clock));
        if taken.is_none() {
            return ExitCode::from(3);
        }
        say(&format!("did {number}"));
    }
    drop(book);
    say("done");
    ExitCode::SUCCESS
}
