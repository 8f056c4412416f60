//! Edges of a whole picture, thinned to one pixel and located to subpixel accuracy.
//!
//! Rows are processed in turn: derivatives over five by five pixels with binomial smoothing, gradient magnitude, and
//! non-maximum suppression across the edge. Touching edge pixels are joined into components as rows are processed, and
//! a faint one is kept if its component contains a clear one (the criteria and the two thresholds are J. Canny's, IEEE
//! PAMI 8 (1986) 679-698).

use super::chains::Chains;
use super::grey::Grey;
use super::rows::{LEVEL, Rows};

/// One pixel of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edgel {
    /// Position of the edge, pixels from the picture's left side; pixel centres are at 0.5.
    pub x: f32,
    /// Position from the top, in the same unit.
    pub y: f32,
    /// Grey gradient to the right, in units of 1/48 of a sharp step's height.
    pub gx: i16,
    /// Grey gradient downwards, in the same unit.
    pub gy: i16,
}

impl Edgel {
    /// The column and the row of the pixel in which it was found.
    pub fn pixel(&self) -> [u32; 2] {
        [self.x, self.y].map(|value| value.max(0.0) as u32)
    }
}

/// Thresholds for an edge: heights of a sharp step, grey levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HysteresisThresholds {
    /// Weaker pixels are discarded.
    pub faint: f64,
    /// A pixel at least this strong keeps its whole component.
    pub clear: f64,
}

/// The edges of a picture, in row order from the top, one edgel per pixel across the edge.
///
/// Empty for a picture less than three pixels wide or high, or wider or higher than 32 000, and for thresholds that are
/// not finite.
pub fn edgels(picture: &Grey, heights: HysteresisThresholds) -> Vec<Edgel> {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    if !(3..=32_000).contains(&width) || !(3..=32_000).contains(&height) {
        return Vec::new();
    }
    let level = |steps: f64| (steps * f64::from(LEVEL)).clamp(1.0, f64::from(i16::MAX)) as i16;
    if !(heights.faint.is_finite() && heights.clear.is_finite()) {
        return Vec::new();
    }
    let (faint, clear) = (level(heights.faint), level(heights.clear.max(heights.faint)));
    let mut rows = Rows::new(picture.data(), width, height);
    let mut chains = Chains::new(clear);
    for y in 0..height {
        rows.advance(y, faint);
        chains.next_row();
        rows.found(|x, crossing| {
            let [along, down] = crossing.shift;
            let edgel = Edgel {
                x: x as f32 + 0.5 + along,
                y: y as f32 + 0.5 + down,
                gx: crossing.gx,
                gy: crossing.gy,
            };
            chains.push(x as u32, crossing.length, edgel);
        });
    }
    chains.kept()
}
