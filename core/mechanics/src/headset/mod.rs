//! Headset seats: the sizes of the open Standardized Headset Identification System, and the identification of a bike's
//! size.
//!
//! [`identify`] computes a [`Posterior`] over the table of [`sizes`] from the observations and readings of one end. A
//! kit has to match the seat of the frame ([`FrameSeat`]), since one bore takes cups of two styles.

mod code;
mod evidence;
mod frame_seat;
mod full_code;
mod identify;
mod observation_model;
mod predictive;
mod sizes;

pub use code::{NotASeatCode, SeatCode, Style};
pub use evidence::{ObservedSeat, SeatDimension, SeatEvidence};
pub use frame_seat::{FrameSeat, frame_seat, same_frame_seat};
pub use full_code::{FullCode, HalfCode, HalfProblem, NotAFullCode, NotAHalfCode, Tenths};
pub use identify::{IDENTIFIED_FROM, Posterior, identify};
pub use predictive::{Component, Predictive};
pub use sizes::{
    BearingSize, Contact, Flag, ForkSize, Inside, Size, Span, Weight, bearing_size, bearing_sizes,
    fork_sizes, size, sizes,
};

use serde::{Deserialize, Serialize};

/// Upper or lower end of the head tube.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// At the stem.
    Upper,
    /// At the fork crown.
    Lower,
}

impl End {
    /// Both ends, upper first.
    pub const BOTH: [Self; 2] = [Self::Upper, Self::Lower];

    /// "upper" or "lower".
    pub fn name(self) -> &'static str {
        match self {
            Self::Upper => "upper",
            Self::Lower => "lower",
        }
    }
}
