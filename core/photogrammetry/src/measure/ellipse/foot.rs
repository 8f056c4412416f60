//! The point of an ellipse nearest to a position.

use super::super::marks::Pixel;
use super::Ellipse;

/// The point of the ellipse's edge nearest to `place`; at the ellipse's centre, where there are two, either.
///
/// Robust for every position and shape: the multiplier of the distance's condition is bracketed and bisected (D.
/// Eberly, Distance from a point to an ellipse, 2013).
pub fn foot(ellipse: &Ellipse, place: Pixel) -> Pixel {
    let [u, v] = ellipse.turned(place);
    let (a, b) = (ellipse.major, ellipse.minor);
    let (along, across) = quarter(a, b, u.abs(), v.abs());
    ellipse.turned_back(along.copysign(u), across.copysign(v))
}

/// In the first quadrant, `a >= b > 0`.
fn quarter(a: f64, b: f64, u: f64, v: f64) -> (f64, f64) {
    if v <= 0.0 {
        let reach = (a * a - b * b) / a;
        if u < reach {
            let share = a * u / (a * a - b * b);
            return (a * share, b * (1.0 - share * share).max(0.0).sqrt());
        }
        return (a, 0.0);
    }
    if u <= 0.0 {
        return (0.0, b);
    }
    // In units of b: s is the multiplier over b^2, the root of g is in (z1 - 1, |(r z0, z1)| - 1).
    let (z0, z1, r) = (u / a, v / b, (a / b).powi(2));
    let g = |s: f64| (r * z0 / (s + r)).powi(2) + (z1 / (s + 1.0)).powi(2) - 1.0;
    let (mut low, mut high) = (z1 - 1.0, libm::hypot(r * z0, z1) - 1.0);
    let mut s = f64::midpoint(low, high);
    for _ in 0..200 {
        let value = g(s);
        if value > 0.0 {
            low = s
        } else {
            high = s
        }
        let next = f64::midpoint(low, high);
        if next <= low || next >= high {
            break;
        }
        s = next;
    }
    (r * u / (s + r), v / (s + 1.0))
}
