//! Units of readings.

use super::Dimension;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The unit of a reading. The core calculates in millimetres and degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Inch of exactly 25.4 mm (international inch, 1959).
    In,
    /// Degree of arc.
    Deg,
}

impl Unit {
    /// Whether it measures lengths or angles.
    pub fn dimension(self) -> Dimension {
        match self {
            Self::Mm | Self::Cm | Self::In => Dimension::Length,
            Self::Deg => Dimension::Angle,
        }
    }

    /// The size of this unit in mm or degrees.
    pub fn in_base(self) -> f64 {
        match self {
            Self::Mm | Self::Deg => 1.0,
            Self::Cm => 10.0,
            Self::In => 25.4,
        }
    }

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::In => "in",
            Self::Deg => "deg",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
