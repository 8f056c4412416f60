//! Marks: a shape for a verdict, with its word beside it.

use serde::Serialize;
use steerwright_fit::judgement::Verdict;

/// The mark of a verdict. Each is a shape; colour only helps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Full disc with a tick.
    Fits,
    /// Disc with a notch.
    FitsAfterWork,
    /// Broken ring with caliper jaws.
    MeasureFirst,
    /// Barred disc.
    DoesNotFit,
    /// Two arrows against each other; takes the place of any other mark.
    Disagree,
}

impl Mark {
    /// The mark of a verdict.
    pub fn of(verdict: Verdict) -> Self {
        match verdict {
            Verdict::GoesIn => Self::Fits,
            Verdict::GoesInAfterWork => Self::FitsAfterWork,
            Verdict::MeasureFirst => Self::MeasureFirst,
            Verdict::WillNotGo => Self::DoesNotFit,
        }
    }

    /// Id of its word.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Fits => "mark-fits",
            Self::FitsAfterWork => "mark-fits-after-work",
            Self::MeasureFirst => "mark-measure-first",
            Self::DoesNotFit => "mark-does-not-fit",
            Self::Disagree => "mark-disagree",
        }
    }
}

/// What stands before a bike in a list: a verdict's mark, or the sign of a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sign {
    /// A verdict.
    Verdict(Mark),
    /// An envelope: a shop is asked.
    Asked,
    /// A spanner: a kit is in.
    Fitted,
    /// Nothing can be said yet.
    Open,
}
