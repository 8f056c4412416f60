//! Why taps became no marks.

use serde::Serialize;

/// Why an edge is not answered for. The text says what was found; [`SnapFailure::remedy`] what to do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "unsure", rename_all = "snake_case")]
pub enum SnapFailure {
    /// Fewer taps than a circle or a line needs.
    #[error("there are {taps} taps where {needed} are needed")]
    TooFewTaps {
        /// How many there are.
        taps: usize,
        /// How many it takes.
        needed: usize,
    },
    /// Taps on top of each other, in a line where a circle is meant, or no numbers.
    #[error("the taps are too near to each other, or in a line")]
    NoShape,
    /// Taps that leave the picture.
    #[error("the taps lie outside the picture")]
    Outside,
    /// What was tapped covers too few pixels.
    #[error("what was tapped is {across_px:.0} pixels across: too small")]
    TooSmall {
        /// How large it is, pixels.
        across_px: f64,
    },
    /// Nothing there.
    #[error("there is no edge near the taps")]
    NoEdge,
    /// Too little of it can be seen.
    #[error("the edge can be seen along {percent:.0} % only")]
    TooLittle {
        /// How much of it was found, per cent.
        percent: f64,
    },
    /// Two edges that fit the taps equally well.
    #[error("two edges, {apart_px:.0} pixels apart, are equally likely")]
    TwoAlike {
        /// How far apart they are, pixels.
        apart_px: f64,
    },
    /// An edge was found that may not be the one meant.
    #[error("the edge found is the one meant by {percent:.0} % only")]
    Doubtful {
        /// How sure it is, per cent.
        percent: f64,
    },
    /// The edge is too soft.
    #[error("the edge is {width_px:.0} pixels wide: too blurred")]
    TooBlurred {
        /// From a tenth to nine tenths of the change of brightness, pixels.
        width_px: f64,
    },
}

/// Less sure than this is not sure enough to measure by.
const SURE: f64 = 0.5;

impl SnapFailure {
    /// An edge that is less likely to be the one meant than not is refused.
    pub(super) fn unless_sure(sure: f64) -> Result<(), Self> {
        if sure >= SURE { Ok(()) } else { Err(Self::Doubtful { percent: 100.0 * sure }) }
    }

    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::TooFewTaps { .. } => {
                "Tap at least three places on a tyre's outer edge, or both ends of a line."
            }
            Self::NoShape => "Tap places far apart: all round a tyre, or at both ends of a line.",
            Self::Outside => "Tap inside the picture.",
            Self::TooSmall { .. } => "Use a larger picture, or come nearer with the zoom.",
            Self::NoEdge => {
                "Tap nearer to the edge, or set the marks by hand; where all is blurred, take the photo again."
            }
            Self::TooLittle { .. } => "Take the photo against a plain background, or set the marks by hand.",
            Self::TwoAlike { .. } => "Tap more places, nearer to the edge that is meant.",
            Self::Doubtful { .. } => "Tap again, nearer to the edge, or set the marks by hand.",
            Self::TooBlurred { .. } => {
                "Hold the phone still, tap to focus on the bike, and take the photo again."
            }
        }
    }
}
