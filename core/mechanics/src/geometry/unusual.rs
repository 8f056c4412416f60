//! Comparison of a side view with the informative guidance of ISO 4210-2.

use super::SideView;
use std::fmt;

/// Range of head angles in the annex, degrees.
const HEAD_ANGLES: [f64; 2] = [65.0, 75.0];
/// Range of the crossing height in the annex, percent of the wheel radius above the ground.
const CROSSINGS: [f64; 2] = [15.0, 60.0];

/// A figure outside the guidance. This is advice: many good bikes differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UnusualGeometry {
    /// The head angle is outside 65 to 75 degrees.
    HeadAngle {
        /// The head angle, degrees.
        degrees: f64,
    },
    /// The steering axis crosses the vertical through the front axle outside 15 to 60 % of the wheel's radius
    /// above ground.
    Crossing {
        /// Height of the crossing above the ground, percent of the radius.
        percent: f64,
    },
}

impl fmt::Display for UnusualGeometry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HeadAngle { degrees } => {
                let [low, high] = HEAD_ANGLES;
                write!(
                    f,
                    "The head angle of {degrees:.1} degrees is outside the customary {low:.0} to {high:.0}."
                )
            }
            Self::Crossing { percent } => {
                let [low, high] = CROSSINGS;
                write!(
                    f,
                    "The steering axis crosses the vertical through the front axle at {percent:.0} % of the wheel's \
                     radius above the ground; {low:.0} to {high:.0} % is customary."
                )
            }
        }
    }
}

/// Height above the ground at which the steering axis crosses the vertical through the front axle, mm: trail
/// times the tangent of the head angle. Not finite for an upright axis.
pub fn crossing_height(view: &SideView) -> f64 {
    view.trail * view.axis.y / -view.axis.x
}

/// Compares a side view with the guidance on steering geometry in ISO 4210-2:2014, Annex A (informative; read
/// through a national adoption). Mountain bikes and cargo bikes often differ from it without being wrong.
pub fn unusual_geometry(view: &SideView) -> Vec<UnusualGeometry> {
    let outside = |value: f64, [low, high]: [f64; 2]| !(low..=high).contains(&value);
    let mut notes = Vec::new();
    if outside(view.head_angle, HEAD_ANGLES) {
        notes.push(UnusualGeometry::HeadAngle { degrees: view.head_angle });
    }
    let percent = 100.0 * crossing_height(view) / view.front_radius;
    if outside(percent, CROSSINGS) {
        notes.push(UnusualGeometry::Crossing { percent });
    }
    notes
}
