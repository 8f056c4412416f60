//! The camera: a pinhole with one radial coefficient.

use super::marks::{Image, Pixel};
use nalgebra::{Matrix3, Vector3};

/// Minimum depth of a point in front of the lens, mm.
pub(super) const NEAREST: f64 = 50.0;
/// Where the derivative of the distorted radius with respect to the ideal one falls below this, the distortion formula
/// is about to fold back.
pub(super) const LEAST_SLOPE: f64 = 0.05;

/// A camera. In its own coordinates `x` points right, `y` down and `z` away from it, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Focal length, pixels.
    pub focal_px: f64,
    /// Principal point, pixels.
    pub axis: Pixel,
    /// Radial distortion, as [`super::Lens::distortion`].
    pub distortion: f64,
    /// Half the picture's diagonal, pixels.
    pub half_diagonal: f64,
}

/// Diagonal of the film format to which a focal length refers, mm: 36 by 24.
const FILM_DIAGONAL: f64 = 43.266_615_305_567_87;

/// Half the diagonal of a picture, pixels.
pub(super) fn half_diagonal(image: Image) -> f64 {
    libm::hypot(f64::from(image.width), f64::from(image.height)) / 2.0
}

/// The focal length in pixels of a 35 mm equivalent focal length, mm.
pub(super) fn focal_px(image: Image, on_film: f64) -> f64 {
    on_film * 2.0 * half_diagonal(image) / FILM_DIAGONAL
}

impl Camera {
    /// The image of a point, pixels; `None` for a point that is not in front of the lens or is outside the valid range
    /// of the distortion formula.
    pub fn project(&self, point: Vector3<f64>) -> Option<Pixel> {
        if !(NEAREST..).contains(&point.z) {
            return None;
        }
        let scale = self.focal_px / (point.z * self.half_diagonal);
        let (x, y) = (point.x * scale, point.y * scale);
        let square = x * x + y * y;
        if !(LEAST_SLOPE..).contains(&(1.0 + 3.0 * self.distortion * square)) {
            return None;
        }
        let grown = self.half_diagonal * (1.0 + self.distortion * square);
        let [cx, cy] = self.axis;
        Some([cx + x * grown, cy + y * grown])
    }

    /// The position at which an ideal lens would show what appears at `pixel`; `None` outside the valid range of the
    /// formula.
    pub fn straightened(&self, [px, py]: Pixel) -> Option<Pixel> {
        let [cx, cy] = self.axis;
        let (x, y) = ((px - cx) / self.half_diagonal, (py - cy) / self.half_diagonal);
        let bent = libm::hypot(x, y);
        let mut ideal = bent;
        for _ in 0..30 {
            let slope = 1.0 + 3.0 * self.distortion * ideal * ideal;
            if !(LEAST_SLOPE..).contains(&slope) {
                return None;
            }
            let by = (bent - ideal * (1.0 + self.distortion * ideal * ideal)) / slope;
            ideal += by;
            if by.abs() < 1e-14 {
                break;
            }
        }
        let ratio = if bent > 0.0 { ideal / bent } else { 1.0 };
        Some([cx + x * ratio * self.half_diagonal, cy + y * ratio * self.half_diagonal])
    }

    /// The viewing direction of a pixel, with `z` 1.
    pub fn ray(&self, pixel: Pixel) -> Option<Vector3<f64>> {
        let [x, y] = self.straightened(pixel)?;
        let [cx, cy] = self.axis;
        Some(Vector3::new((x - cx) / self.focal_px, (y - cy) / self.focal_px, 1.0))
    }

    /// The camera matrix of the ideal lens.
    pub fn matrix(&self) -> Matrix3<f64> {
        let [cx, cy] = self.axis;
        Matrix3::new(self.focal_px, 0.0, cx, 0.0, self.focal_px, cy, 0.0, 0.0, 1.0)
    }
}
