//! Rows of any layout in, a picture shrunk by a whole number out.

use crate::{Colour, Pixels};

/// Averages squares of `step` by `step` pixels, row by row, so that the full picture need not be held.
pub(super) struct Shrinking {
    width: u32,
    height: u32,
    step: u32,
    colour: Colour,
    /// Bytes per pixel of the rows that come in: grey, grey and opacity, colour, colour and opacity.
    channels: usize,
    sums: Vec<u32>,
    summed: u32,
    seen: u32,
    plain: Vec<u8>,
    out: Vec<u8>,
}

/// Largest whole step that leaves the long side `at_least` pixels.
pub(super) fn step(width: u32, height: u32, at_least: u32) -> u32 {
    // A sum of 8 bit values over a square of this side fits in 32 bits many times over.
    (width.max(height) / at_least.max(1)).clamp(1, 1024)
}

impl Shrinking {
    /// Of a picture `width` by `height`, with rows of `channels` (1 to 4) bytes per pixel.
    pub(super) fn new(width: u32, height: u32, channels: usize, at_least: u32) -> Self {
        let step = step(width, height, at_least);
        let colour = if channels < 3 { Colour::Grey } else { Colour::Rgb };
        let across = width.div_ceil(step) as usize * colour.channels();
        let out = Vec::with_capacity(across * height.div_ceil(step) as usize);
        let (sums, plain) = (vec![0; across], Vec::new());
        Self { width, height, step, colour, channels, sums, summed: 0, seen: 0, plain, out }
    }

    /// Takes the next row: `width * channels` bytes.
    pub(super) fn push(&mut self, row: &[u8]) {
        let mut plain = std::mem::take(&mut self.plain);
        plain.clear();
        match self.channels {
            2 => plain.extend(row.as_chunks().0.iter().map(|&[grey, opacity]| on_white(grey, opacity))),
            4 => plain.extend(row.as_chunks().0.iter().flat_map(|&[r, g, b, opacity]| {
                [on_white(r, opacity), on_white(g, opacity), on_white(b, opacity)]
            })),
            _ => plain.extend_from_slice(row),
        }
        self.seen += 1;
        if self.step == 1 {
            self.out.extend_from_slice(&plain);
        } else {
            let channels = self.colour.channels();
            let squares = plain.chunks(self.step as usize * channels);
            for (square, sums) in squares.zip(self.sums.chunks_mut(channels)) {
                for pixel in square.chunks_exact(channels) {
                    pixel.iter().zip(sums.iter_mut()).for_each(|(&value, sum)| *sum += u32::from(value));
                }
            }
            self.summed += 1;
            if self.summed == self.step || self.seen == self.height {
                self.put();
            }
        }
        self.plain = plain;
    }

    fn put(&mut self) {
        let channels = self.colour.channels();
        for (index, sums) in self.sums.chunks(channels).enumerate() {
            let columns = (self.width - index as u32 * self.step).min(self.step);
            let count = columns * self.summed;
            self.out.extend(sums.iter().map(|sum| ((sum + count / 2) / count) as u8));
        }
        self.sums.fill(0);
        self.summed = 0;
    }

    /// The picture, once all rows are in.
    pub(super) fn finish(self) -> Pixels {
        Pixels {
            width: self.width.div_ceil(self.step),
            height: self.height.div_ceil(self.step),
            colour: self.colour,
            data: self.out,
            full_width: self.width,
            full_height: self.height,
            step: f64::from(self.step),
            upright: false,
        }
    }
}

/// A JPEG has no opacity: what shines through is white.
fn on_white(value: u8, opacity: u8) -> u8 {
    let (value, opacity) = (u32::from(value), u32::from(opacity));
    ((value * opacity + 255 * (255 - opacity) + 127) / 255) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_are_averaged_and_edges_have_fewer() {
        let mut shrinking = Shrinking::new(5, 3, 1, 2);
        shrinking.push(&[10, 20, 30, 40, 50]);
        shrinking.push(&[10, 21, 30, 40, 60]);
        shrinking.push(&[1, 2, 3, 4, 7]);
        let pixels = shrinking.finish();
        assert_eq!((pixels.width, pixels.height, pixels.step), (3, 2, 2.0));
        // (10 + 20 + 10 + 21) / 4 = 15.25; the last column and row have half a square each.
        assert_eq!(pixels.data, [15, 35, 55, 2, 4, 7]);
    }

    #[test]
    fn opacity_lets_white_through() {
        let mut shrinking = Shrinking::new(3, 1, 4, 100);
        shrinking.push(&[10, 20, 30, 255, 10, 20, 30, 0, 0, 100, 255, 51]);
        let pixels = shrinking.finish();
        assert_eq!(pixels.colour, Colour::Rgb);
        // A fifth of 0, 100 and 255 with four fifths of white.
        assert_eq!(pixels.data, [10, 20, 30, 255, 255, 255, 204, 224, 255]);
        let mut grey = Shrinking::new(2, 1, 2, 100);
        grey.push(&[7, 255, 7, 0]);
        assert_eq!(grey.finish().data, [7, 255]);
    }
}
