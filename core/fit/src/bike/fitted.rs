//! The kit that is in a bike now.

use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::{End, SeatCode};
use steerwright_mechanics::tilt::Offsets;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// An angle kit that is in the bike: what a further check needs of it. Lengths in mm, as installed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FittedKit {
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// The upper half.
    pub upper: FittedEnd,
    /// The lower half.
    pub lower: FittedEnd,
}

/// One half of a kit that is in the bike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FittedEnd {
    /// The seat it sits in.
    pub seat: SeatCode,
    /// Height outside the head tube's face.
    pub stack_mm: f64,
    /// The bearing's reference plane outside the face, negative inside.
    pub plane_mm: f64,
    /// The bearing's centre off the head tube's axis, forward positive.
    pub offset_mm: f64,
}

impl FittedKit {
    /// One half.
    pub fn end(&self, end: End) -> &FittedEnd {
        match end {
            End::Upper => &self.upper,
            End::Lower => &self.lower,
        }
    }

    /// Planes and offsets of its bearings.
    pub fn offsets(&self) -> Offsets {
        Offsets {
            upper_plane: self.upper.plane_mm,
            lower_plane: self.lower.plane_mm,
            upper: self.upper.offset_mm,
            lower: self.lower.offset_mm,
        }
    }

    /// A stack that follows from the kit, for [`Quantity::UpperStack`] and [`Quantity::LowerStack`].
    pub fn stack(&self, what: Quantity) -> Option<Estimate> {
        let end = match what {
            Quantity::UpperStack => &self.upper,
            Quantity::LowerStack => &self.lower,
            _ => return None,
        };
        Some(Estimate::new(end.stack_mm, Rule::BearingPlane.value() / 2.0))
    }
}
