//! The pixels of a view, interpolated between the four nearest pixels of the picture.

use super::Warp;
use steerwright_photo::Pixels;

/// The rows of a view in order. Areas outside the picture become `nothing`.
pub(super) fn fill(warp: &Warp, picture: &Pixels, [width, height]: [u32; 2], nothing: u8) -> Vec<u8> {
    let channels = picture.colour.channels();
    let mut data = vec![nothing; width as usize * height as usize * channels];
    for (row, out) in data.chunks_exact_mut(width as usize * channels).enumerate() {
        for (column, out) in out.chunks_exact_mut(channels).enumerate() {
            let place = warp.place([column as f64 + 0.5, row as f64 + 0.5]);
            if let Some(value) = place.and_then(|place| Corners::around(picture, place)) {
                value.interpolate(out);
            }
        }
    }
    data
}

/// The four pixels around a position.
struct Corners<'a> {
    pixels: [[&'a [u8]; 2]; 2],
    /// The weights of the right and of the lower pixels, 0 to 1.
    right: f32,
    below: f32,
}

impl<'a> Corners<'a> {
    /// `None` outside the picture. Within half a pixel of its border only the outermost pixels count.
    fn around(picture: &'a Pixels, [x, y]: [f64; 2]) -> Option<Self> {
        let (width, height) = (f64::from(picture.width), f64::from(picture.height));
        if !((0.0..=width).contains(&x) && (0.0..=height).contains(&y)) {
            return None;
        }
        let (x, y) = ((x - 0.5).clamp(0.0, width - 1.0), (y - 0.5).clamp(0.0, height - 1.0));
        let (left, top) = (x as usize, y as usize);
        let next = |at: usize, size: u32| (at + 1).min(size as usize - 1);
        let channels = picture.colour.channels();
        let pixel = |column: usize, row: usize| {
            let at = (row * picture.width as usize + column) * channels;
            picture.data.get(at..at + channels)
        };
        let row = |row| Some([pixel(left, row)?, pixel(next(left, picture.width), row)?]);
        let pixels = [row(top)?, row(next(top, picture.height))?];
        Some(Self { pixels, right: (x - left as f64) as f32, below: (y - top as f64) as f32 })
    }

    fn interpolate(&self, out: &mut [u8]) {
        let [[a, b], [c, d]] = self.pixels;
        let between = |from: f32, to: f32, share: f32| from + share * (to - from);
        for ((((out, a), b), c), d) in out.iter_mut().zip(a).zip(b).zip(c).zip(d) {
            let [a, b, c, d] = [a, b, c, d].map(|value| f32::from(*value));
            let upper = between(a, b, self.right);
            let lower = between(c, d, self.right);
            // Rounds to the nearest integer; `as` truncates.
            *out = (between(upper, lower, self.below) + 0.5) as u8;
        }
    }
}
