//! Many kits judged at a time, so that the normal tails of all their answers are computed together.

use super::judge::{Depths, Met, Tally};
use super::rank::Labour;
use super::requirement::{Ask, Mend, Question, ask_all};
use super::work::Job;
use super::{Cutting, Facts, HOPELESS, PreparedKit, Requirement, State, Verdict};
use crate::conformity::{Bounds, normal_cdf_many};
use std::ops::ControlFlow;

/// What is needed of a kit to rank it.
#[derive(Clone, Copy)]
pub(super) struct Outcome {
    pub(super) verdict: Verdict,
    pub(super) bounds: Bounds,
    pub(super) labour: Labour,
}

/// One answer, its probability still lacking its tails.
struct Brief {
    p: f64,
    /// What the work takes that would mend it, mm; NaN where none would.
    work_mm: f64,
    mend: Mend,
}

/// Room for the answers of a few kits, used again for the next few.
#[derive(Default)]
pub(super) struct Lot {
    /// Every kit's answers in one row ...
    answers: Vec<Brief>,
    /// ... and where each kit's end.
    ends: Vec<usize>,
    /// Arguments of the missing tails ...
    depths: Vec<f64>,
    /// ... the tails themselves ...
    tails: Vec<f64>,
    /// ... and the answer each belongs to.
    waiting: Vec<usize>,
}

impl Lot {
    /// Kits handled at a time, so that their answers stay in the processor's first cache.
    pub(super) const KITS: usize = 128;

    /// Appends the outcome of each kit.
    pub(super) fn judge(&mut self, kits: &[PreparedKit], facts: &Facts, outcomes: &mut Vec<Outcome>) {
        self.answers.clear();
        self.ends.clear();
        self.depths.clear();
        self.waiting.clear();
        for kit in kits {
            // Broken off or not: what was asked decides.
            let _ = ask_all(kit, facts, &mut UntilSettled { lot: self, kit, facts });
            self.ends.push(self.answers.len());
        }
        self.take_off_tails();
        let mut start = 0;
        outcomes.extend(self.ends.iter().map(|&end| {
            let answers = self.answers.get(start..end).unwrap_or_default();
            start = end;
            outcome(answers, facts.cutting)
        }));
    }

    fn take_off_tails(&mut self) {
        self.tails.resize(self.depths.len(), 0.0);
        normal_cdf_many(&self.depths, &mut self.tails);
        for (tail, &answer) in self.tails.iter().zip(&self.waiting) {
            if let Some(answer) = self.answers.get_mut(answer) {
                answer.p -= tail;
            }
        }
    }
}

fn outcome(answers: &[Brief], cutting: Cutting) -> Outcome {
    let (mut tally, mut labour) = (Tally::default(), Labour::default());
    for answer in answers {
        let met = Met::new(answer.p, answer.mend, cutting);
        tally.add(met);
        if met.state == State::MetAfterWork && !answer.work_mm.is_nan() {
            labour.add(answer.work_mm);
        }
    }
    let (verdict, bounds) = (tally.verdict(), tally.bounds());
    // Not everything was asked of a kit that will not go: what its lower bound lacks for is not known.
    let low = if verdict == Verdict::WillNotGo { 0.0 } else { bounds.low };
    Outcome { verdict, bounds: Bounds { low, ..bounds }, labour }
}

/// Breaks off at the first requirement that is not met and that nothing mends.
struct UntilSettled<'a> {
    lot: &'a mut Lot,
    kit: &'a PreparedKit,
    facts: &'a Facts,
}

/// So many standard uncertainties outside a limit, a requirement counts as not met: the tail inside is 0.0228, under
/// [`HOPELESS`].
const OUTSIDE: f64 = 2.0;

impl Ask for UntilSettled<'_> {
    #[inline]
    fn ask(&mut self, requirement: Requirement, question: Question, mend: Mend) -> ControlFlow<()> {
        let Self { lot, kit, facts } = self;
        let (p, failed) = match question {
            Question::Chance(p) => (p, p <= HOPELESS),
            Question::NotKnown => (f64::NAN, false),
            Question::Limit { of, within } => {
                let depths = Depths::of(of, within);
                for tail in depths.tails() {
                    lot.depths.push(tail);
                    lot.waiting.push(lot.answers.len());
                }
                (depths.certain(), depths.beyond(OUTSIDE))
            }
        };
        let final_word = match mend {
            Mend::Nothing | Mend::Forbidden => true,
            Mend::Cut => facts.cutting == Cutting::Forbidden,
            Mend::Replace => false,
        };
        let work_mm = match mend {
            Mend::Nothing | Mend::Forbidden => f64::NAN,
            Mend::Cut | Mend::Replace => {
                Job::mending(requirement, question, mend, kit, facts).map_or(f64::NAN, |job| job.amount_mm())
            }
        };
        lot.answers.push(Brief { p, work_mm, mend });
        if failed && final_word { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conformity::normal_cdf;

    #[test]
    fn what_breaks_off_is_hopeless() {
        assert!(normal_cdf(-OUTSIDE) < HOPELESS);
    }
}
