//! A bicycle seen from its right side, as eleven numbers and as points.

use super::error::{LONGEST, within};
use super::{Figure, GeometryError, stance};
use serde::{Deserialize, Serialize};

/// The eleven numbers that determine a side view; lengths in mm, angles in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bicycle {
    /// Horizontal distance between the axles.
    pub wheelbase: f64,
    /// Between the ground and the steering axis, above 0 and up to 100: derivatives at 90 need both sides.
    pub head_angle: f64,
    /// From front axle to crown race seat, along the steering axis.
    pub axle_to_crown: f64,
    /// From the steering axis forward to the front axle, normal to the axis; negative for a reversed fork.
    pub fork_offset: f64,
    /// From the head tube's lower face down to the crown race seat, along the axis; slightly negative where
    /// the seat is inside the tube.
    pub lower_stack: f64,
    /// From the head tube's upper face to its lower face.
    pub head_tube_length: f64,
    /// Front wheel with tyre.
    pub front_radius: f64,
    /// Rear wheel with tyre.
    pub rear_radius: f64,
    /// From bottom bracket to rear axle, straight.
    pub chainstay: f64,
    /// From the ground to the bottom bracket's centre.
    pub bottom_bracket_height: f64,
    /// Between the ground and the seat tube, above 0 and up to 100.
    pub seat_angle: f64,
}

/// The smallest accepted value of a length that must be positive, mm.
pub(super) const SHORTEST: f64 = 1e-3;
/// The smallest accepted angle, degrees: a horizontal steering axis has no trail.
pub(super) const FLATTEST: f64 = 1e-3;
/// The largest accepted angle, degrees.
pub(super) const STEEPEST: f64 = 100.0;
/// The greatest depth of a crown race seat inside the head tube, mm, as a negative stack.
pub(super) const DEEPEST: f64 = -50.0;

impl Bicycle {
    /// Checks each number by itself, and that the chainstay spans the height of the bottom bracket.
    pub(super) fn check(&self) -> Result<(), GeometryError> {
        within("wheelbase", self.wheelbase, SHORTEST, LONGEST)?;
        within("head_angle", self.head_angle, FLATTEST, STEEPEST)?;
        within("axle_to_crown", self.axle_to_crown, SHORTEST, LONGEST)?;
        within("fork_offset", self.fork_offset, -LONGEST, LONGEST)?;
        within("lower_stack", self.lower_stack, DEEPEST, LONGEST)?;
        within("head_tube_length", self.head_tube_length, SHORTEST, LONGEST)?;
        within("front_radius", self.front_radius, SHORTEST, LONGEST)?;
        within("rear_radius", self.rear_radius, SHORTEST, LONGEST)?;
        within("chainstay", self.chainstay, SHORTEST, LONGEST)?;
        within("bottom_bracket_height", self.bottom_bracket_height, SHORTEST, LONGEST)?;
        within("seat_angle", self.seat_angle, FLATTEST, STEEPEST)?;
        let height = (self.bottom_bracket_height - self.rear_radius).abs();
        if self.chainstay < height {
            return Err(GeometryError::ChainstayTooShort { chainstay: self.chainstay, height });
        }
        Ok(())
    }

    /// The bicycle on level ground.
    ///
    /// # Errors
    /// If a number is outside its range or the chainstay does not span the bottom bracket's height.
    pub fn side_view(&self) -> Result<SideView, GeometryError> {
        stance::stand(self)
    }
}

/// A point of the side view, mm: `x` forward from below the rear axle of the unchanged bike, `y` up from the
/// ground.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point {
    /// Forward.
    pub x: f64,
    /// Up.
    pub y: f64,
}

impl Point {
    /// A point from its coordinates, mm.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }
}

/// A bicycle on its wheels: its figures, mm and degrees, and its points.
///
/// The rear axle is at `x = 0`, so before and after can be drawn over each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideView {
    /// [`Figure::HeadAngle`].
    pub head_angle: f64,
    /// [`Figure::SeatAngle`].
    pub seat_angle: f64,
    /// [`Figure::BottomBracketHeight`].
    pub bottom_bracket_height: f64,
    /// [`Figure::Reach`].
    pub reach: f64,
    /// [`Figure::Stack`].
    pub stack: f64,
    /// [`Figure::Wheelbase`].
    pub wheelbase: f64,
    /// [`Figure::FrontCentre`].
    pub front_centre: f64,
    /// [`Figure::Trail`].
    pub trail: f64,
    /// [`Figure::MechanicalTrail`].
    pub mechanical_trail: f64,
    /// [`Figure::WheelFlop`], a factor.
    pub wheel_flop: f64,
    /// Rear axle.
    pub rear_axle: Point,
    /// Front axle.
    pub front_axle: Point,
    /// Crown race seat, on the steering axis.
    pub crown_race: Point,
    /// Middle of the head tube's lower face.
    pub lower_face: Point,
    /// Middle of the head tube's upper face.
    pub upper_face: Point,
    /// Bottom bracket.
    pub bottom_bracket: Point,
    /// Unit vector up the steering axis.
    pub axis: Point,
    /// Front wheel's radius.
    pub front_radius: f64,
    /// Rear wheel's radius.
    pub rear_radius: f64,
}

impl SideView {
    /// One figure, mm or degrees.
    pub fn get(&self, figure: Figure) -> f64 {
        match figure {
            Figure::HeadAngle => self.head_angle,
            Figure::SeatAngle => self.seat_angle,
            Figure::BottomBracketHeight => self.bottom_bracket_height,
            Figure::Reach => self.reach,
            Figure::Stack => self.stack,
            Figure::Wheelbase => self.wheelbase,
            Figure::FrontCentre => self.front_centre,
            Figure::Trail => self.trail,
            Figure::MechanicalTrail => self.mechanical_trail,
            Figure::WheelFlop => self.wheel_flop,
        }
    }

    /// Every figure in the order of [`Figure::ALL`].
    pub fn figures(&self) -> [f64; Figure::COUNT] {
        Figure::ALL.map(|figure| self.get(figure))
    }
}
