//! Input of the side view.

use crate::DrawingError;
use crate::error::within;
use serde::{Deserialize, Serialize};

/// Points of a bike seen from its right side, mm: `x` forward from below the rear axle, `y` up from the
/// ground, written as `[x, y]`. All must be within 3000 mm of the origin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BikePoints {
    /// Rear axle; its height is the rear wheel's radius.
    pub rear_axle: [f64; 2],
    /// Front axle; its height is the front wheel's radius.
    pub front_axle: [f64; 2],
    /// Centre of the bottom bracket, where it is known.
    pub bottom_bracket: Option<[f64; 2]>,
    /// Middle of the head tube's upper face.
    pub head_tube_top: [f64; 2],
    /// Middle of the head tube's lower face.
    pub head_tube_bottom: [f64; 2],
    /// Crown race seat on the steering axis.
    pub crown: [f64; 2],
    /// Angle of the steering axis from the ground, degrees; 40 to 90.
    pub head_angle_deg: f64,
    /// Angle of the seat tube from the ground, degrees, where it is known; 50 to 90.
    pub seat_angle_deg: Option<f64>,
}

/// A bike before and after a change. All shown numbers are computed from these points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SideViewInput {
    /// Title of the picture.
    pub title: String,
    /// The bike in its present state.
    pub before: BikePoints,
    /// The bike after the change; `None` draws the bike alone.
    pub after: Option<BikePoints>,
}

impl BikePoints {
    pub(super) fn check(&self, when: &str) -> Result<(), DrawingError> {
        let places = [
            ("rear_axle", Some(self.rear_axle)),
            ("front_axle", Some(self.front_axle)),
            ("bottom_bracket", self.bottom_bracket),
            ("head_tube_top", Some(self.head_tube_top)),
            ("head_tube_bottom", Some(self.head_tube_bottom)),
            ("crown", Some(self.crown)),
        ];
        for (name, place) in places {
            for coordinate in place.into_iter().flatten() {
                within(&format!("{when}.{name}"), coordinate, -3000.0, 3000.0)?;
            }
        }
        let [rear_x, rear_y] = self.rear_axle;
        let [front_x, front_y] = self.front_axle;
        within(&format!("{when}.rear_axle height"), rear_y, 100.0, 600.0)?;
        within(&format!("{when}.front_axle height"), front_y, 100.0, 600.0)?;
        within(&format!("{when} wheelbase"), front_x - rear_x, 300.0, 2600.0)?;
        let [top_x, top_y] = self.head_tube_top;
        let [bottom_x, bottom_y] = self.head_tube_bottom;
        within(
            &format!("{when} head tube length"),
            libm::hypot(top_x - bottom_x, top_y - bottom_y),
            40.0,
            400.0,
        )?;
        within(&format!("{when}.head_angle_deg"), self.head_angle_deg, 40.0, 90.0)?;
        if let Some(angle) = self.seat_angle_deg {
            within(&format!("{when}.seat_angle_deg"), angle, 50.0, 90.0)?;
        }
        Ok(())
    }
}

impl SideViewInput {
    pub(super) fn check(&self) -> Result<(), DrawingError> {
        self.before.check("before")?;
        self.after.as_ref().map_or(Ok(()), |after| after.check("after"))
    }
}
