//! What the rider wants.

use serde::{Deserialize, Serialize};

/// Which way the steering angle is to move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// A smaller head angle, the front wheel further out.
    #[default]
    Slacker,
    /// A larger head angle; only kits that can be turned round do it.
    Steeper,
}

/// The change a rider asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TargetChange {
    /// So many degrees on the ground, in the direction of the check; never negative.
    Change(f64),
    /// This head angle, degrees from the ground.
    HeadAngle(f64),
}

/// What a rider wants of the steering: a direction, and how far if that is settled.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wanted {
    /// Which way the angle is to move.
    pub direction: Direction,
    /// How far, or to which angle; absent while the rider is not sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<TargetChange>,
}
