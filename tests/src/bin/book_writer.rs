//! Writes a field book step by step and says so, for checks that interrupt it.
//!
//! `book_writer BOOK DESK once|again STEP:NUMBER...` opens the book and takes the steps, each named by its place among
//! all steps. On standard output: `opened`, `did NUMBER` as soon as a step has returned, `failed NUMBER ERROR` if it
//! did not work (`failed opening ERROR`), `done` once the book is closed. `once` ends after the first failure with exit
//! code 3; `again` tries what failed once more.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;
use steerwright_core::book::{BookError, FieldBook};
use steerwright_tests::crash::{CrashFixture, Step, StepClock};

fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    // Nobody listens any more: then there is nobody to tell.
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

/// Tries once, or twice; says what failed.
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
