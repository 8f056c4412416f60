//! Headset seats: the sizes of the open Standardized Headset Identification System and which one a bike has.

mod code;

pub use code::{SeatCode, Style};

use serde::{Deserialize, Serialize};

/// Upper or lower end of the head tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The stem's end.
    Upper,
    /// The fork crown's end.
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
