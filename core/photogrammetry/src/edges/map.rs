//! Edges of a whole picture, thinned to one pixel and placed between pixels.
//!
//! Row by row: derivatives over five by five pixels with binomial
//! smoothing, their length, thinning across the edge, and what is left over goes on a list. Edges that touch are
//! joined as the rows go by, and a faint one stays if it hangs together with a clear one (the criteria and the two
//! thresholds are J. Canny's, IEEE PAMI 8 (1986) 679-698).

use super::chains::Chains;
use super::grey::Grey;
use super::rows::{LEVEL, Rows};

/// One pixel of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edgel {
    /// Where the edge crosses, pixels from the picture's left side, a pixel's middle at half.
    pub x: f32,
    /// The same from the top.
    pub y: f32,
    /// Growth of the grey to the right, in 48ths of the height of a sharp step.
    pub gx: i16,
    /// Growth of the grey downwards.
    pub gy: i16,
}

impl Edgel {
    /// The column and the row of the pixel on whose brink it was found.
    pub fn pixel(&self) -> [u32; 2] {
        [self.x, self.y].map(|value| value.max(0.0) as u32)
    }
}

/// What counts as an edge: heights of a sharp step, grey levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HysteresisThresholds {
    /// Fainter ones are none.
    pub faint: f64,
    /// One as clear as this keeps those that touch it.
    pub clear: f64,
}

/// The edges of a picture, row by row from the top, one edgel a pixel across the edge.
///
/// Empty for a picture less than three pixels wide or high, or wider or higher than 32 000, and for heights that are
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
