//! Saves that are durable when they return.

use serde::Deserialize;
use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};
use steerwright_core::book::{BikeId, FieldBook, Op};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::{TempBook, bike, reading};

/// Wall time of one side's turn.
const TURN: Duration = Duration::from_millis(500);
/// Upper limit of the median time of a save, ms.
const MOST_MS: f64 = 2.0;
/// Lower limit of the rate, as a share of the disk's own rate.
const OF_DISK: f64 = 0.4;
/// Unit of the disk's baseline writes: one page.
const PAGE: usize = 4096;
/// The baseline file is overwritten cyclically, as the write-ahead log is.
const PAGES: u64 = 1000;

#[derive(Deserialize)]
struct Theirs {
    ops: u64,
    seconds: f64,
    version: String,
}

/// Result of one side's turn.
struct Turn {
    /// Saves per second.
    rate: f64,
    /// The median time of a save, ms.
    median_ms: f64,
    /// Processor time per save, ms.
    cpu_ms: f64,
}

fn turn(mut save: impl FnMut()) -> Turn {
    let (start, cpu, mut times) = (Instant::now(), crate::clock::cpu_seconds(), Vec::new());
    while start.elapsed() < TURN {
        let one = Instant::now();
        save();
        times.push(one.elapsed().as_secs_f64() * 1e3);
    }
    let saves = times.len() as f64;
    let [_, median_ms, _] = crate::spread(times);
    Turn {
        rate: saves / start.elapsed().as_secs_f64(),
        median_ms,
        cpu_ms: (crate::clock::cpu_seconds() - cpu) / saves * 1e3,
    }
}

fn ours(book: &mut FieldBook, bikes: &[BikeId]) -> Turn {
    let row = reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule);
    let mut at = 0;
    turn(|| {
        at = (at + 1) % bikes.len();
        book.transact(Op::AddMeasurement, |work| work.add_measurement(bikes[at], &row, Some("Wren"), None))
            .expect("saved");
    })
}

fn disk(folder: &Path) -> Turn {
    let mut file = File::create(folder.join("plain")).expect("a file");
    file.write_all(&vec![1; PAGE * PAGES as usize]).and_then(|()| file.sync_all()).expect("written");
    let page = [2; PAGE];
    let mut at = 0;
    turn(|| {
        at = (at + 1) % PAGES;
        file.seek(SeekFrom::Start(at * PAGE as u64)).expect("a place");
        file.write_all(&page).expect("written");
        file.sync_data().expect("on the disk");
    })
}

fn python(folder: &Path) -> Result<(f64, String), String> {
    let python = std::env::var("STEERWRIGHT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("peers/book.py");
    let output = Command::new(&python).arg(script).arg(folder).output().map_err(|error| error.to_string())?;
    if !output.status.success() {
        let message = String::from_utf8_lossy(&output.stderr);
        return Err(message.lines().last().unwrap_or("it failed without a message").to_owned());
    }
    let theirs: Theirs = serde_json::from_slice(&output.stdout).map_err(|error| error.to_string())?;
    Ok((theirs.ops as f64 / theirs.seconds, theirs.version))
}

pub(crate) fn run(rounds: usize) {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    // Space in the bikes' logs for as many readings as a turn can save.
    let bikes = book
        .transact(Op::Import, |work| {
            (0..1000)
                .map(|number| work.add_bike(&bike(&format!("Bike {number}")), None))
                .collect::<Result<Vec<_>, _>>()
        })
        .expect("bikes")
        .output;
    let (mut our, mut plain, mut their) = (Vec::new(), Vec::new(), Vec::new());
    let (mut medians, mut cpus) = (Vec::new(), Vec::new());
    let mut version = Ok(String::new());
    for _ in 0..rounds {
        let saves = ours(&mut book, &bikes);
        our.push(saves.rate);
        medians.push(saves.median_ms);
        cpus.push(saves.cpu_ms);
        plain.push(disk(temp_book.folder()).rate);
        match python(temp_book.folder()) {
            Ok((rate, said)) => {
                their.push(rate);
                version = Ok(said);
            }
            Err(reason) => version = Err(reason),
        }
    }
    let over = |others: &[f64]| our.iter().zip(others).map(|(ours, other)| ours / other).collect::<Vec<_>>();
    let shown = |name: &str, rates: Vec<f64>, ratios: Option<(Vec<f64>, f64)>| {
        let [_, median, _] = crate::spread(rates);
        let ratio = ratios.map_or(String::new(), |(ratios, aim)| {
            let [least, median, most] = crate::spread(ratios);
            let met = if median >= aim { "met" } else { "NOT met" };
            format!("ours over it {median:.2} ({least:.2}..{most:.2}), aim {aim:.1} {met}")
        });
        println!("{name:<34} {median:>9.0} a second  {ratio}");
    };
    println!("saves on the disk, one measurement each");
    let (of_disk, of_python) = (over(&plain), over(&their));
    shown("field book", our.clone(), None);
    let ([_, wall, _], [_, cpu, _]) = (crate::spread(medians), crate::spread(cpus));
    let met = if wall < MOST_MS { "met" } else { "NOT met" };
    println!(
        "{:<34} {wall:>9.3} ms at the median, {cpu:.3} ms of processor time, aim {MOST_MS} ms {met}",
        "one save"
    );
    shown("disk: write of a page, fdatasync", plain, Some((of_disk, OF_DISK)));
    match version {
        Ok(version) => shown(&version, their, Some((of_python, 1.0))),
        Err(reason) => println!("peer not run: {reason}"),
    }
}
