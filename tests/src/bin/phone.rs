//! The phone's side as a process that tests kill: queues order requests, sends them, and reports progress.
//!
//! `phone BOOK FORWARD SEED COUNT PHOTO...` opens the book with a clock that is FORWARD ms ahead, and takes turns that
//! follow from the seed: a photo added, a request queued (COUNT of them), a round of calls. Standard output: `opened`,
//! `queued ID` once the request is in the book, `delivered ID` once the book has a receipt, `done` when nothing is
//! pending, `waiting` when pending work is not due yet.

use std::hash::{BuildHasher, RandomState};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;
use steerwright_core::book::{BookError, Clock, FieldBook, NewPhoto, Op, OrderId, Timestamp};
use steerwright_core::orders::State;
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_tests::crash::mix;
use steerwright_tests::fixture::draft_for_the_only_bike;
use steerwright_workshop::delivery::{
    LoopControl, OutboxWorker, RoutingTable, SystemLoopControl, Timeouts, Trust, system_now,
};

/// The system clock, set ahead, with ids that are unique per process.
#[derive(Clone)]
struct Ahead {
    forward: i64,
    control: SystemLoopControl,
}

impl LoopControl for Ahead {
    fn now(&mut self) -> Timestamp {
        Timestamp(system_now().0 + self.forward)
    }

    fn sleep(&mut self, span: Duration) {
        self.control.sleep(span);
    }

    fn is_cancelled(&self) -> bool {
        false
    }
}

impl Clock for Ahead {
    fn now(&mut self) -> Timestamp {
        LoopControl::now(self)
    }

    fn random(&mut self) -> [u8; 10] {
        let words = [RandomState::new().hash_one(0), RandomState::new().hash_one(1)];
        let mut bytes = words.iter().flat_map(|word| word.to_le_bytes());
        std::array::from_fn(|_| bytes.next().unwrap_or_default())
    }
}

fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

fn tell_deliveries(book: &FieldBook, told: &mut Vec<OrderId>) -> Result<bool, BookError> {
    let orders = book.read().orders(None)?;
    for order in orders.iter().filter(|order| order.state == State::Delivered) {
        if !told.contains(&order.id) {
            told.push(order.id);
            say(&format!("delivered {}", order.id));
        }
    }
    Ok(orders.iter().all(|order| order.state == State::Delivered))
}

fn live(
    book: &Path,
    forward: i64,
    mut seed: u64,
    mut count: u32,
    photos: &[PathBuf],
) -> Result<(), BookError> {
    let mut clock = Ahead { forward, control: SystemLoopControl::default() };
    let (mut book, _) = FieldBook::open(book, Box::new(clock.clone()))?;
    let times = Timeouts { whole: Duration::from_secs(20), ..Timeouts::default() };
    let mut worker =
        OutboxWorker::new(&Trust::Platform, times, Box::new(RoutingTable)).expect("times that hold");
    say("opened");
    let mut told = Vec::new();
    let mut with = Vec::new();
    loop {
        match mix(&mut seed) % 3 {
            0 if count > 0 => {
                let path = &photos[mix(&mut seed) as usize % photos.len()];
                let bytes = std::fs::read(path).expect("a photo");
                let draft = draft_for_the_only_bike(&book)?;
                let new = NewPhoto { bike: Some(draft.bike), note: "from the phone", forget_original: true };
                with = vec![book.add_photo(&bytes, &Limits::default(), &BuiltIn, &new)?.output.id];
            }
            1 if count > 0 => {
                let mut draft = draft_for_the_only_bike(&book)?;
                draft.photos = std::mem::take(&mut with);
                let id = book.transact(Op::Order, |work| work.queue_order(&draft))?.output;
                say(&format!("queued {id}"));
                count -= 1;
            }
            _ => {
                let round = worker.sync_once(&mut book, &mut clock)?;
                let all = tell_deliveries(&book, &mut told)?;
                if count == 0 && all {
                    say("done");
                    return Ok(());
                }
                if count == 0 && round.calls == 0 {
                    // The observer sets the clock ahead for the next run.
                    say("waiting");
                    clock.sleep(Duration::from_millis(20));
                }
            }
        }
    }
}

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let mut word = || words.next().unwrap_or_default();
    let (book, forward, seed, count) = (word(), word().parse(), word().parse(), word().parse());
    let photos: Vec<PathBuf> = words.map(PathBuf::from).collect();
    let (Ok(forward), Ok(seed), Ok(count), false) = (forward, seed, count, photos.is_empty()) else {
        return ExitCode::from(2);
    };
    match live(Path::new(&book), forward, seed, count, &photos) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error:?}");
            ExitCode::FAILURE
        }
    }
}
