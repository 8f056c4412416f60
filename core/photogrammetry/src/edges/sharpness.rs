//! Sharpness of edges.

use super::profile::{Profile, Scale};
use super::{Edge, Grey};

/// Sharpness of the edges from which a shape was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sharpness {
    /// Median standard deviation of the Gaussian blur of these edges, pixels.
    pub blur_px: f64,
}

impl Sharpness {
    /// Width of the brightness change from 10 % to 90 %, pixels.
    pub fn width_px(&self) -> f64 {
        // Distance between the first and the last decile of a normal distribution.
        2.563_103 * self.blur_px
    }
}

/// The sharpness of edges; `None` without edges inside the picture.
pub(super) fn blurred(grey: &Grey, edges: &[Edge]) -> Option<Sharpness> {
    let light = Scale::light();
    let sigma = 0.7;
    let every = edges.len() / 120 + 1;
    let mut widths: Vec<f64> = edges
        .iter()
        .step_by(every)
        .filter_map(|edge| {
            // Wide enough to contain a soft edge, narrow enough to isolate a sharp one.
            let mut blur = 1.0;
            for _ in 0..4 {
                let half = (3.0 * libm::hypot(blur, sigma)).clamp(3.0, 40.0);
                let profile = Profile::across(grey, &light, edge.at, edge.normal, half, 0.25, 1.0)?;
                blur = profile.blur(sigma)?;
            }
            Some(blur)
        })
        .collect();
    widths.sort_by(f64::total_cmp);
    widths.get(widths.len() / 2).map(|blur_px| Sharpness { blur_px: *blur_px })
}
