//! Part coordinates on the sheet, mirrored for a lower end, which is the upper one upside down.

use crate::Point;

/// Places a part: its own `u` and `v` run along two directions of the sheet.
#[derive(Clone, Copy)]
pub(super) struct Pose {
    pub(super) origin: Point,
    pub(super) u: Point,
    pub(super) v: Point,
}

impl Pose {
    /// `u` to the right and `v` down, at a scale in sheet millimetres per millimetre of the part.
    pub(super) fn upright(origin: Point, scale: f64) -> Self {
        Self { origin, u: Point::new(scale, 0.0), v: Point::new(0.0, scale) }
    }

    /// The same upside down: `v` up.
    pub(super) fn upside_down(self) -> Self {
        Self { v: -self.v, ..self }
    }

    pub(super) fn at(self, u: f64, v: f64) -> Point {
        self.origin + self.u * u + self.v * v
    }

    /// A direction of the part as a unit direction on the sheet.
    pub(super) fn way(self, u: f64, v: f64) -> Point {
        (self.u * u + self.v * v).unit()
    }

    pub(super) fn all(self, places: &[(f64, f64)]) -> Vec<Point> {
        places.iter().map(|(u, v)| self.at(*u, *v)).collect()
    }

    /// The same points on the right and, mirrored, on the left.
    pub(super) fn both_sides(self, places: &[(f64, f64)]) -> [Vec<Point>; 2] {
        let mirrored: Vec<(f64, f64)> = places.iter().map(|(u, v)| (-u, *v)).collect();
        [self.all(places), self.all(&mirrored)]
    }
}
