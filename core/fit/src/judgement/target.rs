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
