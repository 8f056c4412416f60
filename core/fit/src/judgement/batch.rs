//! Many kits judged against one bike.

use super::{Facts, PreparedKit, Task, Verdict, Work, judge, work_for};
use steerwright_metrology::conformity::Bounds;

/// What is kept of each kit of a batch; [`judge`](super::judge()) gives the answers behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchResult {
    /// The verdict.
    pub verdict: Verdict,
    /// Bounds on the probability that the kit goes in, planned work done.
    pub bounds: Bounds,
    /// The work it takes.
    pub work: TotalWork,
}

/// The work that one kit takes, added up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TotalWork {
    /// Material taken off the frame, mm: each piece counts the change of its dimension.
    pub removed_mm: f64,
    /// Number of pieces of work, parts to replace included.
    pub pieces: usize,
}

impl TotalWork {
    fn of(work: &[Work]) -> Self {
        // Not `sum()`: of nothing at all that is -0.
        let removed_mm = work.iter().fold(0.0, |sum, work| sum + work.amount_mm());
        // A check takes nothing off and replaces nothing.
        let pieces = work.iter().filter(|work| work.task != Task::CheckBore).count();
        Self { removed_mm, pieces }
    }
}

/// Judges each of `kits` against one bike; the results are in the order of `kits`.
pub fn judge_batch(kits: &[PreparedKit], facts: &Facts) -> Vec<BatchResult> {
    let result = |kit| {
        let judgement = judge(kit, facts);
        let work = TotalWork::of(&work_for(&judgement.answers, kit, facts));
        BatchResult { verdict: judgement.verdict, bounds: judgement.bounds, work }
    };
    kits.iter().map(result).collect()
}
