//! Where the pixels of a view's row come from, and the view row by row.

use super::Warp;
use super::sample::{STEPS, sample};
use crate::photo::Pixels;
use nalgebra::Vector3;

/// The places of one row, in steps of a pixel from the first pixel's middle; negative for what is not seen.
struct Places {
    x: Vec<i32>,
    y: Vec<i32>,
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
        let mut places = Places { x: vec![0; width], y: vec![0; width] };
        for (row, out) in data.chunks_exact_mut(width * channels).enumerate() {
            find(self.warp, self.picture, row, &mut places);
            sample(self.picture, &places.x, &places.y, out);
        }
        data
    }
}

/// In single precision from the row's middle on: within 1/1000 pixel at the picture's far side.
#[inline(always)]
fn find(warp: &Warp, picture: &Pixels, row: usize, places: &mut Places) {
    let middle = places.x.len() as f64 / 2.0;
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
    let (last_x, last_y) = ((width - 1.0) * STEPS, (height - 1.0) * STEPS);
    let middle = middle as f32;
    for (column, (out_x, out_y)) in places.x.iter_mut().zip(&mut places.y).enumerate() {
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
        let (x, y) = ((x - 0.5) * STEPS, (y - 0.5) * STEPS);
        // What is not seen may be no number, which becomes zero; it is overwritten.
        let (x, y) = (x.max(0.0).min(last_x) + 0.5, y.max(0.0).min(last_y) + 0.5);
        *out_x = if seen { x as i32 } else { -1 };
        *out_y = if seen { y as i32 } else { -1 };
    }
}
