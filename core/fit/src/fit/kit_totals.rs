//! What answers mean, one by one and taken together: the arithmetic that judging one kit and judging thousands share.
//!
//! Straight-line code on numbers of 64 bits, so that a loop over many kits becomes vector instructions.

use super::requirement::{Question, Rework};
use super::{CONFIDENT, Cutting, HOPELESS, State, Verdict};
use steerwright_metrology::conformity::Bounds;

/// A question as numbers; the probability is `certain` less the normal tails outside both limits.
#[derive(Debug, Clone, Copy)]
pub(super) struct QuestionValues {
    /// The probability but for its tails; NaN where nothing is known.
    pub(super) certain: f64,
    /// How far inside the lower and the upper limit the quantity lies, and its standard uncertainty, in its unit.
    pub(super) inside: [f64; 2],
    pub(super) u: f64,
}

impl QuestionValues {
    /// A requirement that is met for certain.
    pub(super) const MET: Self = Self { certain: 1.0, inside: [f64::INFINITY; 2], u: 1.0 };

    #[inline(always)]
    pub(super) fn new(question: Question) -> Self {
        match question {
            Question::Chance(p) => Self { certain: p, ..Self::MET },
            Question::NotKnown => Self { certain: f64::NAN, ..Self::MET },
            Question::Limit { of, within } => {
                Self { certain: 1.0, inside: [of.value - within.lower, within.upper - of.value], u: of.u }
            }
        }
    }
}

/// Where the tail outside a limit begins, in standard uncertainties: the argument of the normal distribution function.
/// Without uncertainty a step, a value on the limit inside.
#[inline(always)]
pub(super) fn outside(inside: f64, u: f64) -> f64 {
    let step = if inside >= 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    if (u > 0.0) | inside.is_nan() { -(inside / u) } else { step }
}

/// What can be done about an unmet requirement on one frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Remedy(u64);

impl Remedy {
    /// Nothing.
    pub(super) const NONE: Self = Self(0);
    /// Nothing, and it fails already where it is more likely not met than met.
    const FORBIDDEN: Self = Self(1);
    /// It is mended.
    const WORK: Self = Self(2);
    /// Whether it may be mended is not known.
    const UNSURE: Self = Self(3);

    #[inline(always)]
    pub(super) fn new(rework: Rework, cutting: Cutting) -> Self {
        match (rework, cutting) {
            (Rework::Nothing, _) | (Rework::Cut, Cutting::Forbidden) => Self::NONE,
            (Rework::Forbidden, _) => Self::FORBIDDEN,
            (Rework::Replace, _) | (Rework::Cut, Cutting::Possible) => Self::WORK,
            (Rework::Cut, Cutting::NotKnown) => Self::UNSURE,
        }
    }
}

/// A [`State`] as a number, the better the less.
pub(super) type Grade = u64;

const MET: Grade = State::Met as Grade;
const AFTER_WORK: Grade = State::MetAfterWork as Grade;
const NOT_KNOWN: Grade = State::NotKnown as Grade;
const NOT_MET: Grade = State::NotMet as Grade;

pub(super) fn state(grade: Grade) -> State {
    match grade {
        MET => State::Met,
        AFTER_WORK => State::MetAfterWork,
        NOT_MET => State::NotMet,
        _ => State::NotKnown,
    }
}

/// A kit's answers taken together: one failure is enough, then one open question, then the bound itself.
#[derive(Debug, Clone, Copy)]
pub(super) struct KitTotals {
    /// Sum of what each requirement's least probability lacks.
    pub(super) shortfall: f64,
    /// Least of the greatest probabilities.
    pub(super) high: f64,
    /// The worst state.
    pub(super) worst: Grade,
    /// Material that the work takes off, mm.
    pub(super) work_mm: f64,
    /// Pieces of work.
    pub(super) pieces: f64,
}

impl KitTotals {
    /// Nothing asked yet.
    pub(super) const NEW: Self = Self { shortfall: 0.0, high: 1.0, worst: MET, work_mm: 0.0, pieces: 0.0 };

    /// Adds an answer: its probability of being met as the bike is, what could mend it, and how much that takes off
    /// (NaN where no piece of work is named). Gives its state.
    #[inline(always)]
    pub(super) fn add(&mut self, p: f64, remedy: Remedy, work_mm: f64) -> Grade {
        let unknown = p.is_nan();
        let p = if p < 0.0 { 0.0 } else { p };
        let p = if p > 1.0 { 1.0 } else { p };
        let good = p >= CONFIDENT;
        let fails_from = if remedy == Remedy::FORBIDDEN { 0.5 } else { HOPELESS };
        let unmended = if p <= fails_from { NOT_MET } else { NOT_KNOWN };
        let (mended, unsure) = (remedy == Remedy::WORK, remedy == Remedy::UNSURE);
        let bad = if mended {
            AFTER_WORK
        } else if unsure {
            NOT_KNOWN
        } else {
            unmended
        };
        let known = if good { MET } else { bad };
        let grade = if unknown { NOT_KNOWN } else { known };
        // With planned work done.
        let least = if !good & mended { 1.0 } else { p };
        let most = if !good & (mended | unsure) { 1.0 } else { p };
        let least = if unknown { 0.0 } else { least };
        let most = if unknown { 1.0 } else { most };
        self.shortfall += 1.0 - least;
        self.high = if most < self.high { most } else { self.high };
        self.worst = if grade > self.worst { grade } else { self.worst };
        let works = (grade == AFTER_WORK) & !work_mm.is_nan();
        self.work_mm += if works { work_mm } else { 0.0 };
        self.pieces += if works { 1.0 } else { 0.0 };
        grade
    }

    /// Bounds on the probability that all are met, planned work done.
    #[inline]
    pub(super) fn bounds(&self) -> Bounds {
        Bounds { low: (1.0 - self.shortfall).clamp(0.0, self.high), high: self.high }
    }

    #[inline]
    pub(super) fn verdict(&self) -> Verdict {
        match state(self.worst) {
            State::NotMet => Verdict::WillNotGo,
            State::NotKnown => Verdict::MeasureFirst,
            _ if self.bounds().low < CONFIDENT => Verdict::MeasureFirst,
            State::MetAfterWork => Verdict::GoesInAfterWork,
            State::Met => Verdict::GoesIn,
        }
    }
}
