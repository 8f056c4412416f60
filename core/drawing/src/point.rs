//! Points on the sheet and basic plane geometry.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Neg, Sub};

/// A point on the sheet in millimetres: `x` to the right, `y` down, the origin in the upper left corner. Serialized as
/// `[x, y]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// Millimetres from the left edge.
    pub x: f64,
    /// Millimetres from the upper edge.
    pub y: f64,
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<Point> for [f64; 2] {
    fn from(point: Point) -> Self {
        [point.x, point.y]
    }
}

impl Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Point {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::new(self.x * factor, self.y * factor)
    }
}

impl Neg for Point {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

impl Point {
    /// A point from its two coordinates, mm.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The direction `degrees` anticlockwise from the right as seen on the sheet, length 1.
    pub fn towards(degrees: f64) -> Self {
        let (sin, cos) = libm::sincos(degrees.to_radians());
        Self::new(cos, -sin)
    }

    /// Distance from the origin, mm.
    pub fn length(self) -> f64 {
        libm::hypot(self.x, self.y)
    }

    /// Distance to another point, mm.
    pub fn distance(self, other: Self) -> f64 {
        (self - other).length()
    }

    /// The direction as seen on the sheet, degrees anticlockwise from the right, in (-180, 180].
    pub fn direction_deg(self) -> f64 {
        libm::atan2(-self.y, self.x).to_degrees()
    }

    /// Rotated a quarter anticlockwise as seen on the sheet.
    pub(crate) fn left(self) -> Self {
        Self::new(self.y, -self.x)
    }

    pub(crate) fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// The same direction with length 1; to the right for a vector without a direction.
    pub(crate) fn unit(self) -> Self {
        let length = self.length();
        if length > 1e-12 { self * (1.0 / length) } else { Self::new(1.0, 0.0) }
    }

    pub(crate) fn between(self, other: Self, share: f64) -> Self {
        self + (other - self) * share
    }
}

/// An upright rectangle on the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundingBox {
    /// The corner with the smallest coordinates (upper left).
    pub min: Point,
    /// The corner with the largest coordinates (lower right).
    pub max: Point,
}

impl BoundingBox {
    /// Distance from a point, mm; 0 inside.
    pub fn distance_to(self, point: Point) -> f64 {
        let nearest =
            Point::new(point.x.clamp(self.min.x, self.max.x), point.y.clamp(self.min.y, self.max.y));
        point.distance(nearest)
    }

    /// The smallest box around some points; `None` without any.
    pub fn of(points: impl IntoIterator<Item = Point>) -> Option<Self> {
        points.into_iter().fold(None, |extent: Option<Self>, point| {
            let Some(Self { min, max }) = extent else { return Some(Self { min: point, max: point }) };
            Some(Self {
                min: Point::new(min.x.min(point.x), min.y.min(point.y)),
                max: Point::new(max.x.max(point.x), max.y.max(point.y)),
            })
        })
    }

    /// The union of both.
    pub fn with(self, other: Self) -> Self {
        Self {
            min: Point::new(self.min.x.min(other.min.x), self.min.y.min(other.min.y)),
            max: Point::new(self.max.x.max(other.max.x), self.max.y.max(other.max.y)),
        }
    }

    /// Enlarged by `margin` mm on every side.
    pub fn grown(self, margin: f64) -> Self {
        let by = Point::new(margin, margin);
        Self { min: self.min - by, max: self.max + by }
    }

    /// The middle.
    pub fn centre(self) -> Point {
        self.min.between(self.max, 0.5)
    }

    /// Whether the two share an area; touching edges do not count.
    pub fn overlaps(self, other: Self) -> bool {
        self.min.x < other.max.x
            && other.min.x < self.max.x
            && self.min.y < other.max.y
            && other.min.y < self.max.y
    }

    /// Whether `other` is inside, edges included.
    pub fn holds(self, other: Self) -> bool {
        self.min.x <= other.min.x
            && self.min.y <= other.min.y
            && self.max.x >= other.max.x
            && self.max.y >= other.max.y
    }

    /// Whether a straight stroke passes through the rectangle or touches its edge.
    pub fn meets_stroke(self, from: Point, to: Point) -> bool {
        self.inside(from, to).is_some_and(|(enter, leave)| enter <= leave)
    }

    /// The part of a straight stroke inside the rectangle, if it is longer than a point.
    pub(super) fn cut(self, from: Point, to: Point) -> Option<(Point, Point)> {
        let (enter, leave) = self.inside(from, to)?;
        (enter < leave).then(|| (from.between(to, enter), from.between(to, leave)))
    }

    /// Where along a stroke, from 0 to 1, it enters and leaves the rectangle; the start is after the end if the stroke
    /// misses it (Liang and Barsky 1984, ACM Trans. Graph. 3:1-22).
    fn inside(self, from: Point, to: Point) -> Option<(f64, f64)> {
        let way = to - from;
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for (step, room) in [
            (-way.x, from.x - self.min.x),
            (way.x, self.max.x - from.x),
            (-way.y, from.y - self.min.y),
            (way.y, self.max.y - from.y),
        ] {
            if step.abs() < 1e-12 {
                if room < 0.0 {
                    return None;
                }
            } else if step < 0.0 {
                enter = enter.max(room / step);
            } else {
                leave = leave.min(room / step);
            }
        }
        Some((enter, leave))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stroke_meets_a_rectangle_only_where_it_passes() {
        let extent = BoundingBox { min: Point::new(1.0, 1.0), max: Point::new(3.0, 2.0) };
        assert!(extent.meets_stroke(Point::new(0.0, 0.0), Point::new(4.0, 3.0)));
        assert!(extent.meets_stroke(Point::new(2.0, 1.5), Point::new(2.1, 1.6)), "a stroke inside");
        assert!(!extent.meets_stroke(Point::new(0.0, 0.0), Point::new(0.9, 0.9)), "too short");
        assert!(!extent.meets_stroke(Point::new(0.0, 2.5), Point::new(4.0, 2.5)), "passes below");
        assert!(extent.meets_stroke(Point::new(2.0, 0.0), Point::new(2.0, 9.0)), "upright");
    }

    #[test]
    fn directions_turn_anticlockwise_on_a_sheet_whose_y_points_down() {
        assert!(Point::towards(90.0).y < -0.999);
        assert!((Point::new(1.0, -1.0).direction_deg() - 45.0).abs() < 1e-12);
        assert!((Point::towards(0.0).left() - Point::towards(90.0)).length() < 1e-12);
    }
}
