//! Where the pixels of a view's row come from, and the view row by row.

use super::Warp;
use super::sample::sample;
use crate::whole::nearest;
use nalgebra::Vector3;
use steerwright_photo::Pixels;

/// Steps to the pixel.
pub(super) const STEPS: u32 = 256;

/// Places that are found and looked up together.
pub(super) const STRETCH: usize = 64;

/// For each place of a stretch four pixels, and how far it is past the first of them, in steps up to the whole. Each is
/// an array of its own, which the compiler fills and reads several at a time.
pub(super) struct Spots {
    /// The first by its number in the picture.
    pub(super) at: [u32; STRETCH],
    pub(super) right: [u32; STRETCH],
    pub(super) below: [u32; STRETCH],
    /// All bits where the place is in the picture, none where it is not.
    pub(super) seen: [u32; STRETCH],
}

pub(super) fn fill(warp: &Warp, picture: &Pixels, size: [u32; 2], nothing: u8) -> Vec<u8> {
    pulp::Arch::new().dispatch(Fill { warp, picture, size, nothing })
}

struct Fill<'a> {
    warp: &'a Warp,
    picture: &'a Pixels,
    size: [u32; 2],
    nothing: u8,
}

impl pulp::WithSimd for Fill<'_> {
    type Output = Vec<u8>;

    // Inlined into a function compiled for the processor found, where the compiler vectorises the places.
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Vec<u8> {
        let [width, height] = self.size.map(|side| side as usize);
        let channels = self.picture.colour.channels();
        let mut data = vec![0; width * height * channels];
        let mut spots =
            Spots { at: [0; STRETCH], right: [0; STRETCH], below: [0; STRETCH], seen: [0; STRETCH] };
        for (row, out) in data.chunks_exact_mut(width * channels).enumerate() {
            let line = Line::new(self.warp, self.picture, [width as f64 / 2.0, row as f64 + 0.5]);
            for (stretch, out) in out.chunks_mut(STRETCH * channels).enumerate() {
                line.find(stretch * STRETCH, &mut spots);
                sample(self.picture, &spots, out, self.nothing);
            }
        }
        data
    }
}

/// Where the places of a view's row are, in single precision from the row's middle on: within 1/1000 pixel at the
/// picture's far side.
struct Line {
    middle: f32,
    /// The place at the middle, `[p w, q w, w]`, and what a pixel to the right adds.
    at: [f32; 3],
    by: [f32; 3],
    distortion: f32,
    nearest: f32,
    least_slope: f32,
    across: [f32; 2],
    down: [f32; 2],
    width: u32,
    height: u32,
}

impl Line {
    fn new(warp: &Warp, picture: &Pixels, [middle, row]: [f64; 2]) -> Self {
        let at = warp.ideal * Vector3::new(middle, row, 1.0);
        let by = warp.ideal.column(0);
        Self {
            middle: middle as f32,
            at: [at.x, at.y, at.z].map(|v| v as f32),
            by: [by.x, by.y, by.z].map(|v| v as f32),
            distortion: warp.distortion as f32,
            nearest: warp.nearest.max(f64::from(f32::MIN_POSITIVE)) as f32,
            least_slope: warp.least_slope as f32,
            across: warp.across.map(|v| v as f32),
            down: warp.down.map(|v| v as f32),
            width: picture.width,
            height: picture.height,
        }
    }

    /// From the pixel with a number on. Places past the view's side are found too; nobody looks at them.
    #[inline(always)]
    fn find(&self, from: usize, spots: &mut Spots) {
        let ([p0, q0, w0], [px, qx, wx]) = (self.at, self.by);
        let ([by_x, more_x], [by_y, more_y]) = (self.across, self.down);
        let (width, height) = (self.width as f32, self.height as f32);
        let steps = STEPS as f32;
        let (last_x, last_y) = ((width - 1.0) * steps, (height - 1.0) * steps);
        // The last row and column are reached as all of the second pixel.
        let (last_column, last_row) =
            (self.width.saturating_sub(2) as i32, self.height.saturating_sub(2) as i32);
        let from = from as f32 + 0.5 - self.middle;
        let places = spots.at.iter_mut().zip(&mut spots.right).zip(&mut spots.below).zip(&mut spots.seen);
        for (column, (((at, right), below), seen)) in places.enumerate() {
            let along = column as i32 as f32 + from;
            let w = w0 + along * wx;
            let over = 1.0 / w;
            let (p, q) = ((p0 + along * px) * over, (q0 + along * qx) * over);
            let bent = self.distortion * (p * p + q * q);
            let (x, y) = (p * (1.0 + bent) * by_x + more_x, q * (1.0 + bent) * by_y + more_y);
            let is_seen = (w >= self.nearest)
                & (1.0 + 3.0 * bent >= self.least_slope)
                & (x >= 0.0)
                & (x <= width)
                & (y >= 0.0)
                & (y <= height);
            let (x, y) = (whole((x - 0.5) * steps, last_x), whole((y - 0.5) * steps, last_y));
            let (first, row) = ((x >> 8).min(last_column), (y >> 8).min(last_row));
            *at = (row * self.width as i32 + first) as u32;
            *right = (x - (first << 8)) as u32;
            *below = (y - (row << 8)) as u32;
            *seen = if is_seen { u32::MAX } else { 0 };
        }
    }
}

/// The nearest whole number from 0 to `last`, which is below 2^23; of no number, 0.
#[inline(always)]
fn whole(value: f32, last: f32) -> i32 {
    nearest(value.max(0.0).min(last)) as i32
}

#[cfg(test)]
mod tests {
    use super::whole;

    #[test]
    fn whole_numbers_within_bounds() {
        for (value, number) in
            [(-1.0, 0), (f32::NAN, 0), (f32::NEG_INFINITY, 0), (6.6, 7), (8.0, 7), (f32::INFINITY, 7)]
        {
            assert_eq!(whole(value, 7.0), number, "{value}");
        }
    }
}
