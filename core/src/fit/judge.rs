//! From questions to a verdict, for one kit in full or for thousands at once.

use super::requirement::{Ask, Mend, Question, ask_all};
use super::{Facts, PreparedKit, Requirement};
use crate::conformity::{Bounds, normal_cdf_many};
use serde::{Deserialize, Serialize};
use std::ops::ControlFlow;

/// From this probability on, a requirement counts as met, and a kit's lower bound as good enough.
pub const CONFIDENT: f64 = 0.95;
/// Down to this probability, a requirement counts as not met.
pub const HOPELESS: f64 = 0.05;
/// Beyond so many standard uncertainties a normal tail is below 2e-19 and is taken as nothing.
const FAR: f64 = 9.0;

/// Whether the frame may be cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cutting {
    /// Metal: a trained mechanic may.
    Possible,
    /// Carbon: not without the frame maker's written consent.
    Forbidden,
    /// The material is not known.
    NotKnown,
}

/// The answer to one requirement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Met as the bike is.
    Met,
    /// Met once the work named is done.
    MetAfterWork,
    /// Not measured, or not surely enough.
    NotKnown,
    /// Not met, and nothing mends it.
    NotMet,
}

/// The answer for a kit; ordered from the best to the worst to hear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Goes in as the bike is.
    GoesIn,
    /// Goes in once the work named is done.
    GoesInAfterWork,
    /// Something has to be measured first.
    MeasureFirst,
    /// Will not go, whatever is done.
    WillNotGo,
}

/// One requirement's answer in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Which requirement.
    pub requirement: Requirement,
    /// What was asked.
    pub question: Question,
    /// What could mend it.
    pub mend: Mend,
    /// Probability that it is met as the bike is; NaN where nothing is known.
    pub p: f64,
    /// What follows.
    pub state: State,
}

/// One kit's answers and what follows from them together.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// The verdict.
    pub verdict: Verdict,
    /// Bounds on the probability that the kit goes in, planned work done. Requirements share readings, so no
    /// independence is assumed; an unanswered one may be met or not.
    pub bounds: Bounds,
    /// Every answer, in the order asked. A requirement of two parts stands twice.
    pub answers: Vec<Answer>,
}

/// Judges one kit in full.
pub fn judge(kit: &PreparedKit, facts: &Facts) -> Judgement {
    let mut block = Block::default();
    // Nothing breaks off: the report shows every requirement, the hopeless kit's as well.
    let _ = ask_all(kit, facts, &mut Everything(&mut block));
    block.close_kit();
    block.fill_tails();
    let mut outcomes = block.outcomes(facts.cutting);
    let (verdict, bounds) =
        outcomes.next().unwrap_or((Verdict::MeasureFirst, Bounds { low: 0.0, high: 1.0 }));
    drop(outcomes);
    let answers = block.answers.into_iter().map(|open| open.closed(facts.cutting)).collect();
    Judgement { verdict, bounds, answers }
}

/// Judges many kits; the outcomes are in the kits' order and the same as [`judge`]'s, except that the bounds of a
/// kit that will not go are not refined once a requirement has failed for certain: they are 0 then anyway.
pub fn screen(kits: &[PreparedKit], facts: &Facts) -> Vec<(Verdict, Bounds)> {
    /// Kits handled at a time, so that their answers stay in the processor's first cache.
    const KITS: usize = 128;
    let mut block = Block::default();
    let mut outcomes = Vec::with_capacity(kits.len());
    for some in kits.chunks(KITS) {
        block.clear();
        for kit in some {
            let _ = ask_all(kit, facts, &mut UntilCertain(&mut block));
            block.close_kit();
        }
        block.fill_tails();
        outcomes.extend(block.outcomes(facts.cutting));
    }
    outcomes
}

/// An answer whose probability still lacks its tails.
#[derive(Debug, Clone, Copy)]
struct Open {
    requirement: Requirement,
    question: Question,
    mend: Mend,
    p: f64,
}

/// Several kits' answers in one row, and the normal tails they wait for in another.
#[derive(Default)]
struct Block {
    answers: Vec<Open>,
    /// Where each kit's answers end.
    ends: Vec<usize>,
    /// Arguments of the missing tails, as -|distance to a limit| / u ...
    depths: Vec<f64>,
    /// ... the tails themselves ...
    tails: Vec<f64>,
    /// ... and the answer each belongs to.
    waiting: Vec<usize>,
}

impl Block {
    fn clear(&mut self) {
        self.answers.clear();
        self.ends.clear();
        self.depths.clear();
        self.waiting.clear();
    }

    fn close_kit(&mut self) {
        self.ends.push(self.answers.len());
    }

    /// Takes one question; gives the probability so far, exactly 0 if the requirement has failed for certain.
    #[inline]
    fn take(&mut self, requirement: Requirement, question: Question, mend: Mend) -> f64 {
        let p = match question {
            Question::Chance(p) => p,
            Question::NotKnown => f64::NAN,
            Question::Limit { of, within } => {
                let above = depth(of.value - within.lower, of.u);
                let below = depth(within.upper - of.value, of.u);
                if above <= -FAR || below <= -FAR {
                    0.0
                } else {
                    for side in [above, below] {
                        // A NaN has to come out as a NaN.
                        if side < FAR || side.is_nan() {
                            self.depths.push(-side);
                            self.waiting.push(self.answers.len());
                        }
                    }
                    1.0
                }
            }
        };
        self.answers.push(Open { requirement, question, mend, p });
        p
    }

    fn fill_tails(&mut self) {
        self.tails.clear();
        self.tails.resize(self.depths.len(), 0.0);
        normal_cdf_many(&self.depths, &mut self.tails);
        for (&tail, &index) in self.tails.iter().zip(&self.waiting) {
            if let Some(answer) = self.answers.get_mut(index) {
                answer.p -= tail;
            }
        }
    }

    fn outcomes(&self, cutting: Cutting) -> impl Iterator<Item = (Verdict, Bounds)> {
        let mut start = 0;
        self.ends.iter().map(move |&end| {
            let answers = self.answers.get(start..end).unwrap_or_default();
            start = end;
            outcome(answers, cutting)
        })
    }
}

/// Distance inside a limit in standard uncertainties; without uncertainty a step, a value on the limit inside.
#[inline]
fn depth(inside: f64, u: f64) -> f64 {
    if u > 0.0 || inside.is_nan() {
        inside / u
    } else if inside >= 0.0 {
        f64::INFINITY
    } else {
        f64::NEG_INFINITY
    }
}

struct Everything<'a>(&'a mut Block);

impl Ask for Everything<'_> {
    fn ask(&mut self, requirement: Requirement, question: Question, mend: Mend) -> ControlFlow<()> {
        self.0.take(requirement, question, mend);
        ControlFlow::Continue(())
    }
}

/// Breaks off at the first requirement that has failed for certain and that nothing mends.
struct UntilCertain<'a>(&'a mut Block);

impl Ask for UntilCertain<'_> {
    #[inline]
    fn ask(&mut self, requirement: Requirement, question: Question, mend: Mend) -> ControlFlow<()> {
        let p = self.0.take(requirement, question, mend);
        if p == 0.0 && matches!(mend, Mend::Nothing | Mend::Forbidden) {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    }
}

impl Open {
    /// State, and the least and greatest probability of being met once planned work is done.
    fn state(&self, cutting: Cutting) -> (State, f64, f64) {
        let p = self.p.clamp(0.0, 1.0);
        if p.is_nan() {
            return (State::NotKnown, 0.0, 1.0);
        }
        if p >= CONFIDENT {
            return (State::Met, p, p);
        }
        let unmended = if p <= HOPELESS { State::NotMet } else { State::NotKnown };
        match self.mend {
            Mend::Nothing => (unmended, p, p),
            Mend::Forbidden if p <= 0.5 => (State::NotMet, p, p),
            Mend::Forbidden => (unmended, p, p),
            Mend::Replace => (State::MetAfterWork, 1.0, 1.0),
            Mend::Cut => match cutting {
                Cutting::Possible => (State::MetAfterWork, 1.0, 1.0),
                Cutting::Forbidden => (unmended, p, p),
                Cutting::NotKnown => (State::NotKnown, p, 1.0),
            },
        }
    }

    fn closed(self, cutting: Cutting) -> Answer {
        let (state, _, _) = self.state(cutting);
        let p = self.p.clamp(0.0, 1.0);
        Answer { requirement: self.requirement, question: self.question, mend: self.mend, p, state }
    }
}

/// Verdict and bounds of one kit: one failure is enough, then one open question, then the bound itself.
fn outcome(answers: &[Open], cutting: Cutting) -> (Verdict, Bounds) {
    let (mut shortfall, mut high) = (0.0, 1.0f64);
    let (mut failed, mut open, mut work) = (false, false, false);
    for answer in answers {
        let (state, least, most) = answer.state(cutting);
        shortfall += 1.0 - least;
        high = high.min(most);
        match state {
            State::Met => {}
            State::MetAfterWork => work = true,
            State::NotKnown => open = true,
            State::NotMet => failed = true,
        }
    }
    let bounds = Bounds { low: (1.0 - shortfall).clamp(0.0, high), high };
    let verdict = if failed {
        Verdict::WillNotGo
    } else if open || bounds.low < CONFIDENT {
        Verdict::MeasureFirst
    } else if work {
        Verdict::GoesInAfterWork
    } else {
        Verdict::GoesIn
    };
    (verdict, bounds)
}
