//! The brightness of a picture.

use crate::measure::Pixel;
use steerwright_photo::{Colour, Pixels};

/// A picture's brightness, eight bits a pixel, in row order from the top. It has at least one pixel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grey {
    width: u32,
    height: u32,
    data: Vec<u8>,
}

/// Weights of red, green and blue in brightness, of 65536 (ITU-T T.871, 7: 0.299, 0.587, 0.114; **M**).
const SHARES: [u32; 3] = [19_595, 38_470, 7_471];

impl Grey {
    /// A picture of `width * height` bytes; `None` for any other number of bytes and for a picture without pixels.
    pub fn new(width: u32, height: u32, data: Vec<u8>) -> Option<Self> {
        let count = u64::from(width) * u64::from(height);
        (count > 0 && count == data.len() as u64).then_some(Self { width, height, data })
    }

    /// The brightness of decoded pixels; `None` if their fields are inconsistent.
    pub fn of(pixels: &Pixels) -> Option<Self> {
        if !pixels.is_sound() {
            return None;
        }
        let data = match pixels.colour {
            Colour::Grey => pixels.data.clone(),
            Colour::Rgb => {
                let (colours, _) = pixels.data.as_chunks::<3>();
                colours.iter().map(brightness).collect()
            }
        };
        Self::new(pixels.width, pixels.height, data)
    }

    /// Red, green and blue as one picture each, for a part of a picture with the given corner and size: two paints may
    /// have the same brightness and differ in these. `None` for a part that is not in the picture or has no pixels, for
    /// a grey picture, and for inconsistent fields.
    pub(super) fn colours(pixels: &Pixels, [left, top]: [u32; 2], size: [u32; 2]) -> Option<[Self; 3]> {
        let [width, height] = size;
        let inside = |from: u32, size: u32, whole: u32| from.checked_add(size).is_some_and(|to| to <= whole);
        if pixels.colour == Colour::Grey
            || !pixels.is_sound()
            || !inside(left, width, pixels.width)
            || !inside(top, height, pixels.height)
        {
            return None;
        }
        let (colours, _) = pixels.data.as_chunks::<3>();
        let rows = || {
            let rows = colours.chunks_exact(pixels.width as usize).skip(top as usize).take(height as usize);
            rows.flat_map(|row| row.iter().skip(left as usize).take(width as usize))
        };
        Some([
            Self::new(width, height, rows().map(|[red, _, _]| *red).collect())?,
            Self::new(width, height, rows().map(|[_, green, _]| *green).collect())?,
            Self::new(width, height, rows().map(|[_, _, blue]| *blue).collect())?,
        ])
    }

    /// Width in pixels, at least 1.
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Height in pixels, at least 1.
    pub fn height(&self) -> u32 {
        self.height
    }

    /// All pixels: `width * height` bytes.
    pub fn data(&self) -> &[u8] {
        &self.data
    }

    /// One row, from the left; `None` below the last.
    pub fn row(&self, y: u32) -> Option<&[u8]> {
        let width = self.width as usize;
        self.data.chunks_exact(width).nth(y as usize)
    }

    /// The brightness at a position, interpolated between four pixels, 0 to 255; `None` outside the picture and for a
    /// position that is not finite.
    pub fn at(&self, [x, y]: Pixel) -> Option<f64> {
        let (width, height) = (f64::from(self.width), f64::from(self.height));
        if !((0.0..=width).contains(&x) && (0.0..=height).contains(&y)) {
            return None;
        }
        let (x, y) = ((x - 0.5).clamp(0.0, width - 1.0), (y - 0.5).clamp(0.0, height - 1.0));
        let (column, row) = (x as usize, y as usize);
        let (right, below) = (x - column as f64, y - row as f64);
        let across = self.width as usize;
        let next = usize::from(column + 1 < across);
        let first = row * across + column;
        let second = if row + 1 < self.height as usize { first + across } else { first };
        let value = |place: usize| self.data.get(place).map(|value| f64::from(*value));
        let upper = value(first)? * (1.0 - right) + value(first + next)? * right;
        let lower = value(second)? * (1.0 - right) + value(second + next)? * right;
        Some(upper * (1.0 - below) + lower * below)
    }
}

fn brightness(colour: &[u8; 3]) -> u8 {
    let sum: u32 = SHARES.iter().zip(colour).map(|(share, value)| share * u32::from(*value)).sum();
    // The weights sum to 65536, so the result fits.
    ((sum + 32_768) >> 16) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brightness_between_four_pixels() {
        let grey = Grey::new(2, 2, vec![0, 100, 50, 250]).unwrap();
        for (place, value) in [
            ([0.5, 0.5], 0.0),
            ([1.0, 0.5], 50.0),
            ([1.0, 1.0], 100.0),
            ([2.0, 2.0], 250.0),
            ([0.0, 1.5], 50.0),
        ] {
            assert_eq!(grey.at(place), Some(value), "{place:?}");
        }
        for place in [[-0.1, 1.0], [1.0, 2.1], [f64::NAN, 1.0], [1.0, f64::INFINITY]] {
            assert_eq!(grey.at(place), None, "{place:?}");
        }
        let one = Grey::new(1, 1, vec![7]).unwrap();
        assert_eq!(one.at([0.9, 0.1]), Some(7.0));
        assert_eq!((one.row(0), one.row(1)), (Some([7].as_slice()), None));
    }

    #[test]
    fn only_pictures_of_their_size() {
        assert_eq!(Grey::new(2, 2, vec![0; 5]), None);
        assert_eq!(Grey::new(0, 2, Vec::new()), None);
        assert_eq!(Grey::new(u32::MAX, u32::MAX, vec![0; 4]), None);
    }

    #[test]
    fn brightness_of_colours() {
        let data = [[255, 255, 255], [255, 0, 0], [0, 255, 0], [0, 0, 255]].concat();
        let pixels = Pixels {
            width: 4,
            height: 1,
            colour: Colour::Rgb,
            data,
            full_width: 4,
            full_height: 1,
            step: 1.0,
            upright: true,
        };
        // 255 times 0.299, 0.587 and 0.114, rounded.
        assert_eq!(Grey::of(&pixels).unwrap().data(), [255, 76, 150, 29]);
        let part = |from, size| Grey::colours(&pixels, from, size);
        let [red, green, blue] = part([1, 0], [3, 1]).unwrap().map(|it| it.data().to_vec());
        assert_eq!([red, green, blue], [[255, 0, 0], [0, 255, 0], [0, 0, 255]]);
        for (from, size) in [([2, 0], [3, 1]), ([0, 1], [1, 1]), ([0, 0], [0, 1]), ([u32::MAX, 0], [2, 1])] {
            assert_eq!(part(from, size), None, "{from:?} {size:?}");
        }
        assert_eq!(Grey::of(&Pixels { width: 3, ..pixels }), None);
    }
}
