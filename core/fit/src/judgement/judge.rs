//! One kit judged in full: from the answers to a verdict.

use super::requirement::{Criterion, Question, Rework, criteria};
use super::{Facts, PreparedKit, Requirement};
use serde::{Deserialize, Serialize};
use steerwright_metrology::conformity::{Bounds, joint_bounds, probability};

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
    /// Not met, and nothing fixes it.
    NotMet,
}

/// The answer for a kit, ordered from best to worst.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Fits as the bike is.
    GoesIn,
    /// Fits once the work named is done.
    GoesInAfterWork,
    /// Something has to be measured first.
    MeasureFirst,
    /// Does not fit, whatever is done.
    WillNotGo,
}

impl Verdict {
    /// The id of the words that a user reads.
    pub fn id(self) -> &'static str {
        match self {
            Self::GoesIn => "verdict-goes-in",
            Self::GoesInAfterWork => "verdict-goes-in-after-work",
            Self::MeasureFirst => "verdict-measure-first",
            Self::WillNotGo => "verdict-will-not-go",
        }
    }

    /// The answer in a few words, as tables and pictures show it.
    pub fn words(self) -> &'static str {
        match self {
            Self::GoesIn => "fits",
            Self::GoesInAfterWork => "fits after work",
            Self::MeasureFirst => "measure first",
            Self::WillNotGo => "does not fit",
        }
    }
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
    /// Whether readings that it rests on contradict each other.
    pub contradicted: bool,
    /// Probability that it is met as the bike is; NaN where nothing is known or readings contradict each other.
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

/// Judges one kit in full, requirements after a hopeless one included.
pub fn judge(kit: &PreparedKit, facts: &Facts) -> Judgement {
    let answers: Vec<Answer> =
        criteria(kit, facts).into_iter().map(|criterion| answer(criterion, facts)).collect();
    let with_work: Vec<Bounds> = answers.iter().map(|answer| with_work_done(answer, facts.cutting)).collect();
    let bounds = Bounds {
        low: joint_bounds(with_work.iter().map(|bounds| bounds.low)).low,
        high: joint_bounds(with_work.iter().map(|bounds| bounds.high)).high,
    };
    Judgement { verdict: verdict(&answers, bounds), bounds, answers }
}

/// What can be done on this frame about a requirement that is not met.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Remedy {
    /// Nothing.
    None,
    /// Nothing, and it fails already where it is more likely not met than met.
    Forbidden,
    /// It is fixed.
    Work,
    /// Whether it may be mended is not known.
    NotKnown,
}

fn remedy(rework: Rework, cutting: Cutting) -> Remedy {
    match (rework, cutting) {
        (Rework::Nothing, _) | (Rework::Cut, Cutting::Forbidden) => Remedy::None,
        (Rework::Forbidden, _) => Remedy::Forbidden,
        (Rework::Replace, _) | (Rework::Cut, Cutting::Possible) => Remedy::Work,
        (Rework::Cut, Cutting::NotKnown) => Remedy::NotKnown,
    }
}

fn answer(criterion: Criterion, facts: &Facts) -> Answer {
    let Criterion { requirement, question, rework } = criterion;
    let contradicted = requirement.reads().iter().any(|what| facts.contradicted.contains(what));
    let p = match question {
        // At least one of them is wrong, and which one is not known: their mean says nothing.
        _ if contradicted => f64::NAN,
        Question::Limit { of, within } => probability(of, within),
        Question::Chance(p) => p.clamp(0.0, 1.0),
        Question::NotKnown => f64::NAN,
    };
    let state = match remedy(rework, facts.cutting) {
        _ if p.is_nan() => State::NotKnown,
        _ if p >= CONFIDENT => State::Met,
        Remedy::Work => State::MetAfterWork,
        Remedy::None if p <= HOPELESS => State::NotMet,
        Remedy::Forbidden if p <= 0.5 => State::NotMet,
        Remedy::None | Remedy::Forbidden | Remedy::NotKnown => State::NotKnown,
    };
    Answer { requirement, question, rework, contradicted, p, state }
}

/// The least and the greatest probability that one criterion is met, planned work done.
fn with_work_done(answer: &Answer, cutting: Cutting) -> Bounds {
    let p = answer.p;
    if p.is_nan() {
        return Bounds { low: 0.0, high: 1.0 };
    }
    match remedy(answer.rework, cutting) {
        Remedy::Work if p < CONFIDENT => Bounds { low: 1.0, high: 1.0 },
        Remedy::NotKnown if p < CONFIDENT => Bounds { low: p, high: 1.0 },
        _ => Bounds { low: p, high: p },
    }
}

/// One failure is enough, then one open question, then a lower bound that is not good enough.
fn verdict(answers: &[Answer], bounds: Bounds) -> Verdict {
    match answers.iter().map(|answer| answer.state).max().unwrap_or(State::Met) {
        State::NotMet => Verdict::WillNotGo,
        State::NotKnown => Verdict::MeasureFirst,
        _ if bounds.low < CONFIDENT => Verdict::MeasureFirst,
        State::MetAfterWork => Verdict::GoesInAfterWork,
        State::Met => Verdict::GoesIn,
    }
}
