//! The geometric fit.

use super::super::marks::Pixel;
use super::{Ellipse, foot};
use steerwright_metrology::least_squares::{Damping, Settings, Unknown, minimise};

const SEARCH: Settings = Settings {
    difference: 1e-3,
    damping: Damping::Marquardt { start: 1e-4 },
    max_step: f64::INFINITY,
    min_gain: None,
};

impl Ellipse {
    /// The ellipse near this one with the least sum of squared distances to the points. `None` if the iteration does
    /// not converge to an ellipse.
    pub fn nearest(&self, points: &[Pixel]) -> Option<Self> {
        let [x, y] = self.centre;
        let start = [x, y, self.major, self.minor, self.turn_deg.to_radians()];
        let size = 0.1 * self.minor.max(0.01 * self.major);
        let scales = [size, size, size, size, 0.1];
        let unknowns: Vec<Unknown> = start
            .into_iter()
            .zip(scales)
            .map(|(start, scale)| Unknown { start, scale, prior: None })
            .collect();
        let found = minimise(&unknowns, &SEARCH, |x| {
            let ellipse = unpacked(x)?;
            Some(points.iter().map(|point| distance(&ellipse, *point)).collect())
        })?;
        unpacked(&found.values)
    }

    /// Root mean square of the points' distances; 0 without points.
    pub fn distance_rms(&self, points: &[Pixel]) -> f64 {
        let sum: f64 = points.iter().map(|point| distance(self, *point).powi(2)).sum();
        (sum / points.len().max(1) as f64).sqrt()
    }
}

fn unpacked(x: &[f64]) -> Option<Ellipse> {
    let [x, y, along, across, turn] = *x else { return None };
    Ellipse::sorted([x, y], along, across, turn)
}

/// Distance from the edge, positive outside.
fn distance(ellipse: &Ellipse, point: Pixel) -> f64 {
    let [fx, fy] = foot(ellipse, point);
    let [px, py] = point;
    let [u, v] = ellipse.turned(point);
    let inside = (u / ellipse.major).powi(2) + (v / ellipse.minor).powi(2) < 1.0;
    let length = libm::hypot(px - fx, py - fy);
    if inside { -length } else { length }
}
