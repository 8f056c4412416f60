//! Our speed compared with well-known libraries for the same work, alternating on this machine:
//! `cargo bench --bench peers`.
//!
//! Each round measures one side after the other as CPU time of its own process, so that load of other programs and
//! changes of clock frequency affect both. A peer needs a Python with its library, `$STEERWRIGHT_PYTHON` or `python3`;
//! without it our own time is still measured and the table states that the peer was not run.
//!
//! `cargo bench --bench peers -- kits --rounds 9` runs the subjects whose name contains `kits`, nine rounds each.
#![expect(clippy::print_stdout, reason = "the table is the bench's result")]

mod clock;
mod kits;
mod peer;
mod photo;
mod subject;

use std::process::ExitCode;
use subject::{Outcome, Subject};

fn subjects() -> Vec<Subject> {
    kits::subjects().into_iter().chain(photo::subjects()).collect()
}

fn main() -> ExitCode {
    let (mut filter, mut rounds) = (String::new(), 7usize);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--rounds" => {
                match words.next().and_then(|count| count.parse().ok()).filter(|count| *count > 0) {
                    Some(count) => rounds = count,
                    None => {
                        println!("--rounds takes a number from 1");
                        return ExitCode::from(2);
                    }
                }
            }
            "--photo-memory" => {
                println!("{}", words.next().and_then(|file| photo::memory(&file).ok()).unwrap_or_default());
                return ExitCode::SUCCESS;
            }
            // Passed by cargo itself.
            "--bench" => {}
            _ => filter = word,
        }
    }
    println!(
        "{:<28} {:>12} {:>12}  {:>6} {:>15}  {:>5}",
        "subject", "ours ns/op", "peer ns/op", "ratio", "range", "aim"
    );
    for subject in subjects().into_iter().filter(|subject| subject.name.contains(&filter)) {
        let (name, aim) = (subject.name, subject.aim);
        let Outcome { ours, peer } = subject.run(rounds);
        match peer {
            Ok(peer) => {
                let [least, median, most] = peer.ratio;
                let range = format!("{least:.2}..{most:.2}");
                let met = if median >= aim { "met" } else { "NOT met" };
                println!(
                    "{name:<28} {ours:>12.2} {:>12.2}  {median:>6.2} {range:>15}  {aim:>5.2} {met}",
                    peer.time
                );
                println!("{:<28} peer: {}", "", peer.version);
            }
            Err(reason) => println!("{name:<28} {ours:>12.2} {:>12}  peer not run: {reason}", "-"),
        }
    }
    if "photo".contains(&filter) || filter.contains("photo") {
        photo::beside_time()
            .unwrap_or_else(|error| vec![format!("photo: {error}")])
            .iter()
            .for_each(|row| println!("{row}"));
    }
    ExitCode::SUCCESS
}
