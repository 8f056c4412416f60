//! Values between four pixels' middles, in whole numbers.

use crate::photo::{Colour, Pixels};

/// Steps to the pixel.
pub(super) const STEPS: f32 = 64.0;
const BITS: u32 = 6;
const ONE: u32 = 1 << BITS;
/// Half of the product of two weights that add up to one, for rounding.
const HALF: u32 = 1 << (2 * BITS - 1);

/// Fills a row of a view from places in steps; where they are negative, it is left alone.
#[inline(always)]
pub(super) fn sample(picture: &Pixels, x: &[i32], y: &[i32], out: &mut [u8]) {
    let places = x.iter().zip(y).map(|(x, y)| [*x, *y]);
    match picture.colour {
        Colour::Grey => {
            for (place, out) in places.zip(out) {
                if let Some(value) = Between::new(picture, place).and_then(|it| it.grey(&picture.data)) {
                    *out = value;
                }
            }
        }
        Colour::Rgb => {
            for (place, out) in places.zip(out.as_chunks_mut::<3>().0) {
                if let Some(value) = Between::new(picture, place).and_then(|it| it.rgb(&picture.data)) {
                    *out = value;
                }
            }
        }
    }
}

/// Four pixels and how far a place is past the first.
struct Between {
    /// The first pixel of two in each row, by its number.
    upper: usize,
    lower: usize,
    /// The pixel to the right, by how much further it is: none in a picture one pixel wide.
    next: usize,
    right: u32,
    below: u32,
}

impl Between {
    #[inline(always)]
    fn new(picture: &Pixels, [x, y]: [i32; 2]) -> Option<Self> {
        let (x, y) = (u32::try_from(x).ok()?, u32::try_from(y).ok()?);
        // The last row and column are reached as all of the second pixel.
        let column = (x >> BITS).min(picture.width.saturating_sub(2));
        let row = (y >> BITS).min(picture.height.saturating_sub(2));
        let width = picture.width as usize;
        let upper = row as usize * width + column as usize;
        Some(Self {
            upper,
            lower: if picture.height > 1 { upper + width } else { upper },
            next: usize::from(picture.width > 1),
            right: (x - (column << BITS)).min(ONE),
            below: (y - (row << BITS)).min(ONE),
        })
    }

    #[inline(always)]
    fn grey(&self, data: &[u8]) -> Option<u8> {
        let pair = |at: usize| Some((u32::from(*data.get(at)?), u32::from(*data.get(at + self.next)?)));
        let ((a, b), (c, d)) = (pair(self.upper)?, pair(self.lower)?);
        let (left, above) = (ONE - self.right, ONE - self.below);
        let (upper, lower) = (a * left + b * self.right, c * left + d * self.right);
        Some(((upper * above + lower * self.below + HALF) >> (2 * BITS)) as u8)
    }

    /// All three channels at once: a channel has 21 bits of a number of 64, and needs 8 and twice the weights' six.
    #[inline(always)]
    fn rgb(&self, data: &[u8]) -> Option<[u8; 3]> {
        let left = u64::from(ONE - self.right);
        let (right, below) = (u64::from(self.right), u64::from(self.below));
        let row = |at: usize| {
            let (first, second) = if self.next == 1 {
                let [r, g, b, r1, g1, b1] = *data.get(at * 3..)?.first_chunk::<6>()?;
                (u32::from_le_bytes([r, g, b, r1]), u32::from_le_bytes([b, r1, g1, b1]) >> 8)
            } else {
                let [r, g, b] = *data.get(at * 3..)?.first_chunk::<3>()?;
                let pixel = u32::from_le_bytes([r, g, b, 0]);
                (pixel, pixel)
            };
            Some(apart(first) * left + apart(second) * right)
        };
        let (upper, lower) = (row(self.upper)?, row(self.lower)?);
        const HALVES: u64 = HALF as u64 * (1 | (1 << 21) | (1 << 42));
        let sum = upper * (u64::from(ONE) - below) + lower * below + HALVES;
        Some([sum >> (2 * BITS), sum >> (2 * BITS + 21), sum >> (2 * BITS + 42)].map(|channel| channel as u8))
    }
}

/// Three bytes, each to its own 21 bits.
#[inline(always)]
fn apart(pixel: u32) -> u64 {
    let pixel = u64::from(pixel);
    (pixel & 0xff) | ((pixel & 0xff00) << 13) | ((pixel & 0xff_0000) << 26)
}
