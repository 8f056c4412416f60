//! One piece of work, on our side and a peer's.

use crate::{clock::cpu_seconds, peer};
use std::time::Duration;

/// CPU time of one of our rounds, equal to that of the scripts.
const ROUND: Duration = Duration::from_millis(300);

/// Largest relative difference between the two sides' results for the same work.
const SAME: f64 = 1e-9;

/// A piece of work to compare.
pub(crate) struct Subject {
    /// Row of the table.
    pub(crate) name: &'static str,
    /// The target ratio of the peer's time to ours.
    pub(crate) aim: f64,
    /// Does some of the work and returns the number of operations.
    pub(crate) ours: Box<dyn FnMut() -> u64>,
    /// Our sum of results, which the script must reproduce: proof that both do the same work.
    pub(crate) check: Option<f64>,
    /// File in `tests/peers`.
    pub(crate) peer_script: &'static str,
    /// Arguments of the script.
    pub(crate) peer_args: Vec<String>,
}

/// A row of the table.
pub(crate) struct Outcome {
    /// Median of our nanoseconds per operation.
    pub(crate) ours: f64,
    /// The peer, or why it was not run.
    pub(crate) peer: Result<Peer, String>,
}

/// The peer's part of a row.
pub(crate) struct Peer {
    /// Median of its nanoseconds per operation.
    pub(crate) time: f64,
    /// Least, median and greatest of its time over ours, each within one round.
    pub(crate) ratio: [f64; 3],
    /// The library and its version.
    pub(crate) version: String,
}

impl Subject {
    /// Measures both sides in turn. A peer that fails once is not run again.
    pub(crate) fn run(mut self, rounds: usize) -> Outcome {
        self.round(); // warm-up
        let (mut ours, mut theirs, mut ratios) = (Vec::new(), Vec::new(), Vec::new());
        let mut version = Ok(String::new());
        for _ in 0..rounds {
            let our_time = self.round();
            ours.push(our_time);
            if version.is_err() {
                continue;
            }
            match self.peer_round() {
                Ok(round) => {
                    let time = round.cpu_seconds * 1e9 / round.ops as f64;
                    theirs.push(time);
                    ratios.push(time / our_time);
                    version = Ok(round.version);
                }
                Err(reason) => version = Err(reason),
            }
        }
        let [_, ours, _] = spread(&mut ours);
        let peer = version.map(|version| {
            let [_, time, _] = spread(&mut theirs);
            Peer { time, ratio: spread(&mut ratios), version }
        });
        Outcome { ours, peer }
    }

    /// Nanoseconds of CPU time per operation of ours.
    fn round(&mut self) -> f64 {
        let (start, mut ops) = (cpu_seconds(), 0u64);
        loop {
            ops += (self.ours)();
            let taken = cpu_seconds() - start;
            if taken >= ROUND.as_secs_f64() {
                return taken * 1e9 / ops as f64;
            }
        }
    }

    fn peer_round(&self) -> Result<peer::Round, String> {
        let round = peer::run(self.peer_script, &self.peer_args)?;
        match (self.check, round.check) {
            (Some(ours), Some(theirs)) if (ours - theirs).abs() <= SAME * ours.abs() => Ok(round),
            (None, _) => Ok(round),
            (Some(ours), theirs) => Err(format!("its results differ: {theirs:?}, ours {ours}")),
        }
    }
}

/// Least, median and greatest; NaN for nothing.
fn spread(values: &mut [f64]) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [values.first(), values.get(values.len() / 2), values.last()]
        .map(|value| value.copied().unwrap_or(f64::NAN))
}
