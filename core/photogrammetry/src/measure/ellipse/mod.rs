//! Ellipses through marks.
//!
//! [`Ellipse::direct`] is the direct least squares fit of A. Fitzgibbon, M. Pilu and R. Fisher (1999) in the
//! partitioned form of R. Halíř and J. Flusser (1998). [`Ellipse::nearest`] is the ellipse with the least sum of
//! squared distances (W. Gander, G. Golub and R. Strebel, BIT 34, 1994).

mod direct;
mod foot;
mod nearest;

pub use foot::foot;

use super::marks::Pixel;
use nalgebra::Matrix3;

/// An ellipse in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Its centre.
    pub centre: Pixel,
    /// Half its longer axis.
    pub major: f64,
    /// Half its shorter axis, at most `major`.
    pub minor: f64,
    /// Direction of the longer axis, degrees from `x` towards `y`, in [0, 180).
    pub turn_deg: f64,
}

impl Ellipse {
    /// The point of its edge at the parameter `t`, radians from the longer axis.
    pub fn at(&self, t: f64) -> Pixel {
        let (sin, cos) = libm::sincos(t);
        self.turned_back(self.major * cos, self.minor * sin)
    }

    /// Transforms from the ellipse's own axes to picture coordinates.
    fn turned_back(&self, along: f64, across: f64) -> Pixel {
        let (sin, cos) = libm::sincos(self.turn_deg.to_radians());
        let [x, y] = self.centre;
        [x + along * cos - across * sin, y + along * sin + across * cos]
    }

    /// Transforms from picture coordinates to the ellipse's own axes.
    fn turned(&self, [px, py]: Pixel) -> [f64; 2] {
        let (sin, cos) = libm::sincos(self.turn_deg.to_radians());
        let [x, y] = self.centre;
        let (dx, dy) = (px - x, py - y);
        [dx * cos + dy * sin, dy * cos - dx * sin]
    }

    /// From its five parameters, with the axes in any order; `None` if they are not those of an ellipse.
    fn sorted(centre: Pixel, along: f64, across: f64, turn: f64) -> Option<Self> {
        let (along, across) = (along.abs(), across.abs());
        let [x, y] = centre;
        if ![x, y, along, across, turn].iter().all(|value| value.is_finite()) || along <= 0.0 || across <= 0.0
        {
            return None;
        }
        let (major, minor, turn_deg) = if along >= across {
            (along, across, turn.to_degrees())
        } else {
            (across, along, turn.to_degrees() + 90.0)
        };
        Some(Self { centre, major, minor, turn_deg: turn_deg.rem_euclid(180.0) })
    }

    /// Its symmetric matrix `Q` with `[x y 1] Q [x y 1]' = 0` on the edge and below zero inside.
    pub fn matrix(&self) -> Matrix3<f64> {
        let (sin, cos) = libm::sincos(self.turn_deg.to_radians());
        let [x, y] = self.centre;
        let (p, q) = (self.major.powi(-2), self.minor.powi(-2));
        let (a, b, c) = (p * cos * cos + q * sin * sin, (p - q) * sin * cos, p * sin * sin + q * cos * cos);
        let (d, e) = (-(a * x + b * y), -(b * x + c * y));
        let f = -(d * x + e * y) - 1.0;
        Matrix3::new(a, b, d, b, c, e, d, e, f)
    }
}

impl Ellipse {
    /// The widest gap between angularly neighbouring points on the ellipse, degrees of its circle; 360 with fewer than
    /// two points.
    pub fn widest_gap_deg(&self, points: &[Pixel]) -> f64 {
        let mut round: Vec<f64> = points
            .iter()
            .map(|point| {
                let [u, v] = self.turned(*point);
                libm::atan2(v / self.minor, u / self.major).to_degrees()
            })
            .collect();
        round.sort_by(f64::total_cmp);
        let (Some(first), Some(last)) = (round.first(), round.last()) else { return 360.0 };
        let over_the_end = first + 360.0 - last;
        round.iter().zip(round.iter().skip(1)).map(|(a, b)| b - a).fold(over_the_end, f64::max)
    }
}
