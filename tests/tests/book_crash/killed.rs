//! Killed at random points of long lives.

use super::life::{BOOK, STEPS, Start, chance, desk, life, place, put, writer};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use steerwright_tests::crash::{Step, mix, plan};
use tempfile::TempDir;

/// The time to kill.
#[derive(Debug, Clone, Copy)]
enum When {
    /// This long after the start.
    After(Duration),
    /// This long after this many steps were reported as done.
    Acknowledged(usize, Duration),
}

fn when(seed: &mut u64, left: usize) -> When {
    let micros = |seed: &mut u64, most: u64| Duration::from_micros(mix(seed) % most);
    if mix(seed).is_multiple_of(4) {
        When::After(micros(seed, 25_000))
    } else {
        let steps = mix(seed) as usize % (left.min(8) + 1);
        When::Acknowledged(steps, micros(seed, 4_000))
    }
}

/// Busy-waits, since sleeping is not exact enough for points some microseconds apart.
fn wait(duration: Duration) {
    let start = Instant::now();
    while start.elapsed() < duration {
        std::hint::spin_loop();
    }
}

/// Runs the writer and kills it; returns the number of reported steps, and whether it had opened the book.
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
        // A truncated line does not count.
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
    // Its output before it died counts.
    while hear(&mut said, &mut done, &mut opened) {}
    (done, opened)
}

#[test]
fn a_writer_killed_at_any_point() {
    let rounds = chance("STEERWRIGHT_CRASH_ROUNDS", 40);
    let first = chance("STEERWRIGHT_CRASH_SEED", 20_260_501);
    let (desk_folder, desk) = desk();
    let (mut round, mut lives, mut opening, mut under_way) = (0, 0, 0, 0);
    while round < rounds {
        let own = first.wrapping_add(lives);
        let mut seed = own;
        let starts = [Start::DamagedWithBackup, Start::Long, Start::Nothing, Start::Seasoned];
        let start = starts[(own % 4) as usize];
        let life = life(start, plan(mix(&mut seed), STEPS), &desk);
        let folder = TempDir::new().unwrap();
        let path = folder.path().join(BOOK);
        put(life.start, &desk, folder.path());
        let mut at = 0;
        while at < STEPS && round < rounds {
            let when = when(&mut seed, STEPS - at);
            let (done, opened) =
                run_and_kill(writer(&path, desk_folder.path(), "once", &life.steps[at..]), when);
            let about = format!(
                "STEERWRIGHT_CRASH_SEED={own} (from {start:?}, at step {at}, {when:?}, {done} more done)"
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
    let one = life(Start::Seasoned, plan(7, STEPS), &desk);
    assert!(one.same(&life(Start::Seasoned, plan(7, STEPS), &desk)));
    assert!(one.changes() > STEPS / 2, "most steps leave a trace, {}", one.changes());
}

/// The order request steps have an effect.
#[test]
fn order_requests_are_among_what_is_written() {
    let (_folder, desk) = desk();
    let steps = [[Step::AddBike; 3], [Step::QueueOrder; 3]].concat();
    let one = life(Start::Seasoned, steps.into_iter().chain([Step::SendOrder; 6]), &desk);
    for part in ["queued", "underway", "step"] {
        assert!(one.had("outbox:", part), "no order request was ever {part}");
    }
}
