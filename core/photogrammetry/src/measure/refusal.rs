//! Why a photo gives no result, and warnings about one that does.

use super::scene::End;
use serde::Serialize;
use std::fmt;
use steerwright_input::FileErrors;

/// Front or rear wheel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WheelEnd {
    /// The front wheel.
    Front,
    /// The rear wheel.
    Rear,
}

impl From<End> for WheelEnd {
    fn from(end: End) -> Self {
        match end {
            End::Front => Self::Front,
            End::Rear => Self::Rear,
        }
    }
}

impl fmt::Display for WheelEnd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Front => "front",
            Self::Rear => "rear",
        })
    }
}

/// Why a photo gives no result. The text states what was found; [`Refusal::remedy`] what to do.
#[derive(Debug, Clone, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "refusal", rename_all = "snake_case")]
pub enum Refusal {
    /// Numbers outside their domain.
    #[error("{problems}")]
    Marks {
        /// Every problem.
        problems: FileErrors,
    },
    /// Rough taps.
    #[error("some marks are rough taps")]
    Rough,
    /// Marks on a tyre that fit no ellipse.
    #[error("the marks on the {wheel} tyre lie on no ellipse")]
    NoEllipse {
        /// Which wheel.
        wheel: WheelEnd,
    },
    /// Marks on less than half of a tyre.
    #[error("the marks on the {wheel} tyre leave {gap_deg:.0} degrees of it free")]
    HalfWheel {
        /// Which wheel.
        wheel: WheelEnd,
        /// The widest gap between two marks, degrees round the wheel.
        gap_deg: f64,
    },
    /// A wheel that the picture's edge cuts.
    #[error("the picture's edge cuts the {wheel} wheel")]
    CutOff {
        /// Which wheel.
        wheel: WheelEnd,
    },
    /// Both tyres marked on one wheel.
    #[error("the marks on the front and the rear tyre are on one wheel")]
    OneWheel,
    /// The head tube is nearer to the rear wheel.
    #[error("what was marked at the head tube stands nearer to the rear wheel than to the front wheel")]
    Swapped,
    /// The front wheel is not straight.
    #[error("the front wheel is turned by about {degrees:.0} degrees")]
    Turned {
        /// Turn about the steering axis, degrees.
        degrees: f64,
    },
    /// The two tyres do not fit circles of the given sizes in one plane.
    #[error(
        "the two tyres are no circles of the sizes given in one plane ({misfit:.1} times the marks' noise)"
    )]
    Disagree {
        /// Root mean square of the residuals, in standard deviations of the marks.
        misfit: f64,
    },
    /// One mark is far off the others.
    #[error("{which} is about {off_px:.0} pixels off")]
    MarkOff {
        /// Which mark.
        which: String,
        /// Distance, pixels.
        off_px: f64,
    },
    /// The camera is too near.
    #[error("the camera stood {distance_mm:.0} mm from the bike: perspective is too strong")]
    TooClose {
        /// From the wheels' plane, mm.
        distance_mm: f64,
    },
    /// The bike was not taken side-on.
    #[error("the camera looked {degrees:.0} degrees past square")]
    TooOblique {
        /// Between the line of sight and the plane's normal, degrees.
        degrees: f64,
    },
    /// The adjustment did not converge to a camera and bike.
    #[error("no camera and no bike explain the marks")]
    Unexplained,
}

impl Refusal {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Marks { .. } => "Correct what is named.",
            Self::Rough => {
                "Give the picture too, so that they are placed on its edges, or set them carefully."
            }
            Self::NoEllipse { .. } => "Set at least six marks on the tyre's outer edge, spread all round.",
            Self::HalfWheel { .. } => "Set marks all round the tyre's outer edge.",
            Self::CutOff { .. } => "Take the photo again with both wheels whole and some room round them.",
            Self::OneWheel => "Mark each tyre on its own wheel.",
            Self::Swapped => "Exchange front and rear, or check the marks at the head tube.",
            Self::Turned { .. } => "Straighten the front wheel and take the photo again.",
            Self::Disagree { .. } => {
                "Check the tyres' diameters and that the marks are on the tyres' outer edges; straighten the front wheel."
            }
            Self::MarkOff { .. } => "Look at this mark again and set it anew, or leave it out.",
            Self::TooClose { .. } => "Step back to four metres or more, zoom in, and take the photo again.",
            Self::TooOblique { .. } => {
                "Stand square to the bike, level with the axles, and take the photo again."
            }
            Self::Unexplained => {
                "Check that each mark is where its name says, and take the photo again if it is."
            }
        }
    }
}

/// Warnings about a photo that gives a result.
#[derive(Debug, Clone, PartialEq, Serialize, thiserror::Error)]
#[serde(tag = "doubt", rename_all = "snake_case")]
pub enum Doubt {
    /// The stated side and the bike's direction contradict each other. Lengths and angles of a side view are the same
    /// in a mirror, so they are valid.
    #[error(
        "the chainrings are on a bike's right side, so this picture is mirrored, or the stated side is wrong; the numbers are the same in a mirror"
    )]
    Mirrored,
    /// A tyre's size is the prior for all bikes.
    #[error(
        "the {wheel} tyre's diameter was not given: an ordinary one was assumed, with an uncertainty to match"
    )]
    DiameterAssumed {
        /// Which wheel.
        wheel: WheelEnd,
    },
    /// The fork offset is the prior for all bikes.
    #[error("the fork offset was not given: an ordinary one was assumed, with an uncertainty to match")]
    OffsetAssumed,
    /// No focal length was given.
    #[error("the focal length is not known and was found from the wheels")]
    FocalFound,
    /// The camera was well off square.
    #[error("the camera looked {degrees:.0} degrees past square; up to 30 is good")]
    Oblique {
        /// Between the line of sight and the plane's normal, degrees.
        degrees: f64,
    },
    /// The marks scatter more than stated; every uncertainty was enlarged.
    #[error("the marks lie {factor:.1} times as far off as stated: every uncertainty was enlarged by that")]
    Scatter {
        /// The factor (R. T. Birge, Phys. Rev. 40 (1932) 207).
        factor: f64,
    },
    /// A mark with a large residual.
    #[error("{which} lies {normalised:.1} standard deviations off the others")]
    MarkOff {
        /// Which mark.
        which: String,
        /// Its normalised residual.
        normalised: f64,
    },
    /// A result too uncertain to report.
    #[error("the marks do not tell the {label}")]
    NotTold {
        /// The quantity, in words.
        label: String,
    },
}
