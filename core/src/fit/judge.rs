//! From questions to a verdict, for one kit in full.

use super::requirement::{Ask, Mend, Question, ask_all};
use super::{Facts, PreparedKit, Requirement};
use crate::conformity::{Bounds, Limits, normal_cdf};
use crate::quantity::Estimate;
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
    let mut all =
        Everything { cutting: facts.cutting, answers: Vec::with_capacity(16), tally: Tally::default() };
    // Nothing breaks off: the report shows every requirement, the hopeless kit's as well.
    let _ = ask_all(kit, facts, &mut all);
    Judgement { verdict: all.tally.verdict(), bounds: all.tally.bounds(), answers: all.answers }
}

struct Everything {
    cutting: Cutting,
    answers: Vec<Answer>,
    tally: Tally,
}

impl Ask for Everything {
    fn ask(&mut self, requirement: Requirement, question: Question, mend: Mend) -> ControlFlow<()> {
        let p = match question {
            Question::Chance(p) => p,
            Question::NotKnown => f64::NAN,
            Question::Limit { of, within } => {
                let depths = Depths::of(of, within);
                depths.tails().fold(depths.certain(), |p, tail| p - normal_cdf(tail))
            }
        };
        let met = Met::new(p, mend, self.cutting);
        self.tally.add(met);
        self.answers.push(Answer { requirement, question, mend, p: p.clamp(0.0, 1.0), state: met.state });
        ControlFlow::Continue(())
    }
}

/// How deep a quantity lies inside its lower and its upper limit, in standard uncertainties.
#[derive(Clone, Copy)]
pub(super) struct Depths([f64; 2]);

impl Depths {
    #[inline]
    pub(super) fn of(of: Estimate, within: Limits) -> Self {
        Self([depth(of.value - within.lower, of.u), depth(within.upper - of.value, of.u)])
    }

    /// The probability before the tails are taken off it: 0 where one of them is all there is.
    #[inline]
    pub(super) fn certain(self) -> f64 {
        if self.beyond(FAR) { 0.0 } else { 1.0 }
    }

    /// True if the quantity lies outside a limit by so many standard uncertainties.
    #[inline]
    pub(super) fn beyond(self, far: f64) -> bool {
        self.0.iter().any(|depth| *depth <= -far)
    }

    /// Arguments of the normal distribution function for the tails that count.
    #[inline]
    pub(super) fn tails(self) -> impl Iterator<Item = f64> {
        let counts = !self.beyond(FAR);
        // A NaN has to come out as a NaN.
        let counts = move |depth: &f64| counts && (*depth < FAR || depth.is_nan());
        self.0.into_iter().filter(counts).map(|depth| -depth)
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

/// What one answer means: its state, and the least and greatest probability of being met once planned work is done.
#[derive(Clone, Copy)]
pub(super) struct Met {
    pub(super) state: State,
    least: f64,
    most: f64,
}

impl Met {
    #[inline]
    pub(super) fn new(p: f64, mend: Mend, cutting: Cutting) -> Self {
        let met = |state, least, most| Self { state, least, most };
        let p = p.clamp(0.0, 1.0);
        if p.is_nan() {
            return met(State::NotKnown, 0.0, 1.0);
        }
        if p >= CONFIDENT {
            return met(State::Met, p, p);
        }
        let unmended = if p <= HOPELESS { State::NotMet } else { State::NotKnown };
        match mend {
            Mend::Nothing => met(unmended, p, p),
            Mend::Forbidden if p <= 0.5 => met(State::NotMet, p, p),
            Mend::Forbidden => met(unmended, p, p),
            Mend::Replace => met(State::MetAfterWork, 1.0, 1.0),
            Mend::Cut => match cutting {
                Cutting::Possible => met(State::MetAfterWork, 1.0, 1.0),
                Cutting::Forbidden => met(unmended, p, p),
                Cutting::NotKnown => met(State::NotKnown, p, 1.0),
            },
        }
    }
}

/// A kit's answers taken together: one failure is enough, then one open question, then the bound itself.
#[derive(Clone, Copy)]
pub(super) struct Tally {
    shortfall: f64,
    high: f64,
    worst: State,
}

impl Default for Tally {
    fn default() -> Self {
        Self { shortfall: 0.0, high: 1.0, worst: State::Met }
    }
}

impl Tally {
    #[inline]
    pub(super) fn add(&mut self, met: Met) {
        self.shortfall += 1.0 - met.least;
        self.high = self.high.min(met.most);
        self.worst = self.worst.max(met.state);
    }

    #[inline]
    pub(super) fn bounds(self) -> Bounds {
        Bounds { low: (1.0 - self.shortfall).clamp(0.0, self.high), high: self.high }
    }

    #[inline]
    pub(super) fn verdict(self) -> Verdict {
        match self.worst {
            State::NotMet => Verdict::WillNotGo,
            State::NotKnown => Verdict::MeasureFirst,
            _ if self.bounds().low < CONFIDENT => Verdict::MeasureFirst,
            State::MetAfterWork => Verdict::GoesInAfterWork,
            State::Met => Verdict::GoesIn,
        }
    }
}
