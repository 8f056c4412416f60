//! From questions to a verdict, for one kit in full.

use super::requirement::{QuestionValues, Rework, Question, ask_all};
use super::{Facts, PreparedKit, Requirement};
use serde::{Deserialize, Serialize};
use steerwright_metrology::conformity::{Bounds, joint_bounds};

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

/// Judges one kit in full. The report shows every requirement, those of a hopeless kit as well.
pub fn judge(kit: &PreparedKit, facts: &Facts) -> Judgement {
    let answer = |(requirement, question, rework): QuestionValues| {
        let p = question.probability();
        Answer { requirement, question, rework, p, state: state(p, rework, facts.cutting) }
    };
    let answers: Vec<Answer> = ask_all(kit, facts).into_iter().map(answer).collect();
    let bounds = joint_bounds(answers.iter().map(|answer| planned(answer, facts.cutting)));
    let worst = answers.iter().map(|answer| answer.state).max().unwrap_or(State::Met);
    Judgement { verdict: verdict(worst, bounds), bounds, answers }
}

/// The state that follows from the probability `p` that a requirement is met as the bike is, NaN where that is not
/// known.
fn state(p: f64, rework: Rework, cutting: Cutting) -> State {
    let fails_from = if rework == Rework::Forbidden { 0.5 } else { HOPELESS };
    match (rework, cutting) {
        _ if p.is_nan() => State::NotKnown,
        _ if p >= CONFIDENT => State::Met,
        (Rework::Replace, _) | (Rework::Cut, Cutting::Possible) => State::MetAfterWork,
        (Rework::Cut, Cutting::NotKnown) => State::NotKnown,
        _ if p <= fails_from => State::NotMet,
        _ => State::NotKnown,
    }
}

/// Bounds on the probability that a requirement is met, planned work done.
fn planned(answer: &Answer, cutting: Cutting) -> Bounds {
    let as_it_is = Bounds::from(answer.p);
    match answer.state {
        State::MetAfterWork => Bounds { low: 1.0, high: 1.0 },
        // The work may turn out to be possible.
        State::NotKnown if answer.rework == Rework::Cut && cutting == Cutting::NotKnown => {
            Bounds { high: 1.0, ..as_it_is }
        }
        _ => as_it_is,
    }
}

/// One failure is enough, then one open question, then the bound itself.
fn verdict(worst: State, bounds: Bounds) -> Verdict {
    match worst {
        State::NotMet => Verdict::WillNotGo,
        State::NotKnown => Verdict::MeasureFirst,
        _ if bounds.low < CONFIDENT => Verdict::MeasureFirst,
        State::MetAfterWork => Verdict::GoesInAfterWork,
        State::Met => Verdict::GoesIn,
    }
}
