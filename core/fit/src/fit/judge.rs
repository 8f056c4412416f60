//! From questions to a verdict, for one kit in full.

use super::kit_totals::{KitTotals, QuestionValues, Remedy, outside, state};
use super::requirement::{Ask, Question, Rework, ask_all};
use super::{Facts, PreparedKit, Requirement};
use serde::{Deserialize, Serialize};
use std::ops::ControlFlow;
use steerwright_metrology::conformity::{Bounds, normal_cdf};

/// From this probability on, a requirement counts as met, and a kit's lower bound as good enough.
pub const CONFIDENT: f64 = 0.95;
/// Down to this probability, a requirement counts as not met.
pub const HOPELESS: f64 = 0.05;

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
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
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
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
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
    pub rework: Rework,
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
        Everything { cutting: facts.cutting, answers: Vec::with_capacity(16), kit_totals: KitTotals::NEW };
    // Nothing breaks off: the report shows every requirement, the hopeless kit's as well.
    let _ = ask_all(kit, facts, &mut all);
    Judgement { verdict: all.kit_totals.verdict(), bounds: all.kit_totals.bounds(), answers: all.answers }
}

struct Everything {
    cutting: Cutting,
    answers: Vec<Answer>,
    kit_totals: KitTotals,
}

impl Ask for Everything {
    fn ask(&mut self, requirement: Requirement, question: Question, rework: Rework) -> ControlFlow<()> {
        let QuestionValues { certain, inside, u } = QuestionValues::new(question);
        let p = inside.into_iter().fold(certain, |p, inside| p - normal_cdf(outside(inside, u)));
        // What the work takes is told where the work is described.
        let grade = self.kit_totals.add(p, Remedy::new(rework, self.cutting), f64::NAN);
        let (p, state) = (p.clamp(0.0, 1.0), state(grade));
        self.answers.push(Answer { requirement, question, rework, p, state });
        ControlFlow::Continue(())
    }
}
