//! Where the pixels of a view's row come from, and the view row by row.

use super::Warp;
use super::sample::sample;
use crate::photo::Pixels;
use nalgebra::Vector3;

/// Steps to the pixel.
pub(super) const STEPS: u32 = 256;

/// Four pixels and how far a place is past the first of them, in steps up to the whole.
#[derive(Clone, Copy)]
pub(super) struct Spot {
    /// The first by its number in the picture; `UNSEEN` for what is not seen.
    pub(super) at: u32,
    pub(super) right: u16,
    pub(super) below: u16,
}

const UNSEEN: u32 = u32::MAX;

impl Spot {
    #[inline(always)]
    pub(super) fn is_seen(&self) -> bool {
        self.at != UNSEEN
    }
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
        let mut data = vec![self.nothing; width * height * channels];
        let mut spots = vec![Spot { at: UNSEEN, right: 0, below: 0 }; width];
        for (row, out) in data.chunks_exact_mut(width * channels).enumerate() {
            find(self.warp, self.picture, row, &mut spots);
            sample(self.picture, &spots, out);
        }
        data
    }
}

/// In single precision from the row's middle on: within 1/1000 pixel at the picture's far side.
#[inline(always)]
fn find(warp: &Warp, picture: &Pixels, row: usize, spots: &mut [Spot]) {
    let middle = spots.len() as f64 / 2.0;
    let at = warp.ideal * Vector3::new(middle, row as f64 + 0.5, 1.0);
    let by = warp.ideal.column(0);
    let [[px, qx, wx], [p0, q0, w0]] =
        [[by.x, by.y, by.z], [at.x, at.y, at.z]].map(|row| row.map(|v| v as f32));
    let (bend, nearest, slope) = (
        warp.distortion as f32,
        warp.nearest.max(f64::from(f32::MIN_POSITIVE)) as f32,
        warp.least_slope as f32,
    );
    let [[by_x, more_x], [by_y, more_y]] = [warp.across, warp.down].map(|row| row.map(|v| v as f32));
    let (width, height) = (picture.width as f32, picture.height as f32);
    let steps = STEPS as f32;
    let (last_x, last_y) = ((width - 1.0) * steps, (height - 1.0) * steps);
    // The last row and column are reached as all of the second pixel.
    let (last_column, last_row) =
        (picture.width.saturating_sub(2) as i32, picture.height.saturating_sub(2) as i32);
    let across = picture.width as i32;
    let middle = middle as f32;
    for (column, spot) in spots.iter_mut().enumerate() {
        let along = column as i32 as f32 + 0.5 - middle;
        let w = w0 + along * wx;
        let over = 1.0 / w;
        let (p, q) = ((p0 + along * px) * over, (q0 + along * qx) * over);
        let bent = bend * (p * p + q * q);
        let (x, y) = (p * (1.0 + bent) * by_x + more_x, q * (1.0 + bent) * by_y + more_y);
        let seen = (w >= nearest)
            & (1.0 + 3.0 * bent >= slope)
            & (x >= 0.0)
            & (x <= width)
            & (y >= 0.0)
            & (y <= height);
        let (x, y) = ((x - 0.5) * steps, (y - 0.5) * steps);
        // What is not seen may be no number, which becomes zero.
        let (x, y) = (x.max(0.0).min(last_x) + 0.5, y.max(0.0).min(last_y) + 0.5);
        let (x, y) = (x as i32, y as i32);
        let (first, row) = ((x >> 8).min(last_column), (y >> 8).min(last_row));
        let at = row.wrapping_mul(across).wrapping_add(first);
        *spot = Spot {
            at: if seen { at as u32 } else { UNSEEN },
            right: (x - (first << 8)) as u16,
            below: (y - (row << 8)) as u16,
        };
    }
}
