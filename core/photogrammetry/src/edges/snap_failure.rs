//! Why taps could not be placed on an edge.

use serde::Serialize;

/// Why an edge is not reported. The text states what was found; [`SnapFailure::remedy`] what to do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "unsure", rename_all = "snake_case")]
pub enum SnapFailure {
    /// Fewer taps than a circle or a line needs.
    #[error("there are {taps} taps where {needed} are needed")]
    TooFewTaps {
        /// Number of taps.
        taps: usize,
        /// Number required.
        needed: usize,
    },
    /// Taps that coincide, are collinear where a circle is needed, or are not finite.
    #[error("the taps are too near to each other, or in a line")]
    NoShape,
    /// Taps outside the picture.
    #[error("the taps lie outside the picture")]
    Outside,
    /// The tapped shape covers too few pixels.
    #[error("what was tapped is {across_px:.0} pixels across: too small")]
    TooSmall {
        /// Its size, pixels.
        across_px: f64,
    },
    /// No edge near the taps.
    #[error("there is no edge near the taps")]
    NoEdge,
    /// Too little of the edge is visible.
    #[error("the edge can be seen along {percent:.0} % only")]
    TooLittle {
        /// Share of it that was found, per cent.
        percent: f64,
    },
    /// Two edges that fit the taps equally well.
    #[error("two edges, {apart_px:.0} pixels apart, are equally likely")]
    TwoAlike {
        /// Distance between them, pixels.
        apart_px: f64,
    },
    /// The detected edge may not be the intended one.
    #[error("the edge found is the one meant by {percent:.0} % only")]
    Doubtful {
        /// Confidence, per cent.
        percent: f64,
    },
    /// The edge is too blurred.
    #[error("the edge is {width_px:.0} pixels wide: too blurred")]
    TooBlurred {
        /// Width of the brightness change from 10 % to 90 %, pixels.
        width_px: f64,
    },
}

/// Confidence below this is insufficient for measuring.
const SURE: f64 = 0.5;

impl SnapFailure {
    /// Rejects an edge that is more likely than not a different one.
    pub(super) fn unless_sure(sure: f64) -> Result<(), Self> {
        if sure >= SURE { Ok(()) } else { Err(Self::Doubtful { percent: 100.0 * sure }) }
    }

    /// What the user can do about it.
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
