//! The field book's speed: `cargo bench -p steerwright-tests --bench book`.
//!
//! First the time that a screen waits for, over a large book. Then durable saves, as wall and processor time,
//! alternating with the same rows written by Python's `sqlite3` (`$STEERWRIGHT_PYTHON` or `python3`; the row is left
//! out without one) and with the disk's own plain write and sync. `-- --bikes 500 --rounds 1` makes it short. The book
//! is in the folder for temporary files, so set `TMPDIR` to a disk whose sync is representative.
#![expect(clippy::print_stdout, reason = "the table is the bench's result")]

#[path = "../peers/clock.rs"]
mod clock;
mod saves;
mod screens;

fn main() -> std::process::ExitCode {
    let (mut bikes, mut rounds) = (10_000, 7);
    let mut words = std::env::args().skip(1).filter(|word| word != "--bench");
    while let Some(word) = words.next() {
        let number = words.next().and_then(|number| number.parse().ok()).filter(|number| *number > 0);
        match (word.as_str(), number) {
            ("--bikes", Some(number)) => bikes = number,
            ("--rounds", Some(number)) => rounds = number,
            _ => {
                println!("expected --bikes or --rounds with a number from 1");
                return std::process::ExitCode::from(2);
            }
        }
    }
    screens::run(bikes, 20 * rounds);
    saves::run(rounds);
    std::process::ExitCode::SUCCESS
}

/// Least, median and greatest.
fn spread(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [0, values.len() / 2, values.len() - 1].map(|at| values[at])
}
