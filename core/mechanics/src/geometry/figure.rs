//! The figures of a side view.

use serde::{Deserialize, Serialize};
use std::fmt;
use steerwright_metrology::quantity::Unit;

/// A figure of the side view. The names in reports are the variants in `snake_case`.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Figure {
    /// Between the ground and the steering axis, degrees.
    HeadAngle,
    /// Between the ground and the seat tube, degrees.
    SeatAngle,
    /// From the ground to the bottom bracket's centre, mm.
    BottomBracketHeight,
    /// Horizontal distance from bottom bracket to the head tube's upper face, mm.
    Reach,
    /// Height of the head tube's upper face above the bottom bracket, mm.
    Stack,
    /// Horizontal distance between the axles, mm.
    Wheelbase,
    /// From bottom bracket to front axle, straight, mm.
    FrontCentre,
    /// On the ground, from the front wheel's contact forward to the steering axis, mm.
    Trail,
    /// From the front wheel's contact to the steering axis, normal to the axis, mm.
    MechanicalTrail,
    /// `trail sin H cos H`, mm, with the head angle H: compares how strongly bikes tend to turn the bars further. It is
    /// not the drop of the axle, which depends on the steering angle and is much smaller.
    WheelFlop,
}

impl Figure {
    /// Every figure, in the order of the reports.
    pub const ALL: [Self; 10] = [
        Self::HeadAngle,
        Self::SeatAngle,
        Self::BottomBracketHeight,
        Self::Reach,
        Self::Stack,
        Self::Wheelbase,
        Self::FrontCentre,
        Self::Trail,
        Self::MechanicalTrail,
        Self::WheelFlop,
    ];

    /// How many figures there are.
    pub const COUNT: usize = Self::ALL.len();

    /// The name used in reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::HeadAngle => "head_angle",
            Self::SeatAngle => "seat_angle",
            Self::BottomBracketHeight => "bottom_bracket_height",
            Self::Reach => "reach",
            Self::Stack => "stack",
            Self::Wheelbase => "wheelbase",
            Self::FrontCentre => "front_centre",
            Self::Trail => "trail",
            Self::MechanicalTrail => "mechanical_trail",
            Self::WheelFlop => "wheel_flop",
        }
    }

    /// Millimetres or degrees.
    pub fn unit(self) -> Unit {
        match self {
            Self::HeadAngle | Self::SeatAngle => Unit::Deg,
            _ => Unit::Mm,
        }
    }
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
