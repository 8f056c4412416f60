//! The eight ways a camera's sensor may have lain (CIPA DC-008, tag 0x0112), and turning pixels upright.

use super::Colour;

/// Where the stored picture's first row and first column belong in the upright one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Orientation {
    /// 1: row 0 is the top, column 0 the left side.
    #[default]
    TopLeft,
    /// 2: top, right.
    TopRight,
    /// 3: bottom, right.
    BottomRight,
    /// 4: bottom, left.
    BottomLeft,
    /// 5: row 0 is the left side, column 0 the top.
    LeftTop,
    /// 6: right, top.
    RightTop,
    /// 7: right, bottom.
    RightBottom,
    /// 8: left, bottom.
    LeftBottom,
}

impl Orientation {
    /// Reads the tag's value; anything but 1 to 8 is `None`.
    pub(super) fn from_tag(value: u32) -> Option<Self> {
        Some(match value {
            1 => Self::TopLeft,
            2 => Self::TopRight,
            3 => Self::BottomRight,
            4 => Self::BottomLeft,
            5 => Self::LeftTop,
            6 => Self::RightTop,
            7 => Self::RightBottom,
            8 => Self::LeftBottom,
            _ => return None,
        })
    }

    /// Whether width and height change places.
    pub(super) fn swaps_sides(self) -> bool {
        matches!(self, Self::LeftTop | Self::RightTop | Self::RightBottom | Self::LeftBottom)
    }

    /// Size of the upright picture, from the stored one's.
    pub(super) fn upright_size(self, width: u32, height: u32) -> (u32, u32) {
        if self.swaps_sides() { (height, width) } else { (width, height) }
    }
}

/// A picture that is put together upright from its stored rows, a few at a time: so the stored picture need not be
/// held beside it, and columns are read while their rows are still in the processor's cache.
pub(super) struct Upright {
    orientation: Orientation,
    colour: Colour,
    /// Pixels per stored row.
    width: usize,
    /// Pixels per stored column.
    height: usize,
    /// Stored rows that are in.
    rows: usize,
    out: Vec<u8>,
}

impl Upright {
    /// For a stored picture of `width` by `height`.
    pub(super) fn new(orientation: Orientation, width: u32, height: u32, colour: Colour) -> Self {
        let (width, height) = (width as usize, height as usize);
        let out = vec![0; width * height * colour.channels()];
        Self { orientation, colour, width, height, rows: 0, out }
    }

    /// Takes the next rows: whole ones, and no more than the picture has.
    pub(super) fn push(&mut self, rows: &[u8]) {
        match self.colour {
            Colour::Grey => self.put::<1>(rows),
            Colour::Rgb => self.put::<3>(rows),
        }
    }

    /// The upright picture, once all rows are in.
    pub(super) fn finish(self) -> Vec<u8> {
        self.out
    }

    fn put<const N: usize>(&mut self, rows: &[u8]) {
        let (pixels, _) = rows.as_chunks::<N>();
        let (out, _) = self.out.as_chunks_mut::<N>();
        let (width, height) = (self.width, self.height);
        let across = if self.orientation.swaps_sides() { height } else { width };
        // Where the first stored pixel belongs, and how far apart those to its right and below it come to lie.
        let (right, bottom) = (width.saturating_sub(1), height.saturating_sub(1));
        let (one, line) = (1_isize, across as isize);
        let (first, next, below) = match self.orientation {
            Orientation::TopLeft => (0, one, line),
            Orientation::TopRight => (right, -one, line),
            Orientation::BottomRight => (bottom * across + right, -one, -line),
            Orientation::BottomLeft => (bottom * across, one, -line),
            Orientation::LeftTop => (0, line, one),
            Orientation::RightTop => (bottom, line, -one),
            Orientation::RightBottom => (right * across + bottom, -line, -one),
            Orientation::LeftBottom => (right * across, -line, one),
        };
        let count = pixels.len() / width.max(1);
        let first = first.wrapping_add_signed(below * self.rows as isize);
        if self.orientation.swaps_sides() {
            for x in 0..width {
                let at = first.wrapping_add_signed(next * x as isize);
                put_run(out, at, count, below < 0, pixels.iter().skip(x).step_by(width));
            }
        } else {
            for (y, row) in pixels.chunks_exact(width.max(1)).enumerate() {
                let at = first.wrapping_add_signed(below * y as isize);
                put_run(out, at, width, next < 0, row.iter());
            }
        }
        self.rows += count;
    }
}

/// Writes a run of the upright picture that begins at `at`, forwards or backwards: a stored row, or what some stored
/// rows have of a column.
fn put_run<'a, const N: usize>(
    out: &mut [[u8; N]],
    at: usize,
    length: usize,
    backwards: bool,
    from: impl Iterator<Item = &'a [u8; N]>,
) {
    let start = if backwards { at.wrapping_add(1).wrapping_sub(length) } else { at };
    let run = out.get_mut(start..start.wrapping_add(length)).unwrap_or_default();
    if backwards {
        run.iter_mut().rev().zip(from).for_each(|(to, from)| *to = *from);
    } else {
        run.iter_mut().zip(from).for_each(|(to, from)| *to = *from);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The upright picture, three across and two down:
    //   1 2 3
    //   4 5 6
    // and how each orientation stores it, written out from the tag's definition.
    const STORED: [(u32, usize, [u8; 6]); 8] = [
        (1, 3, [1, 2, 3, 4, 5, 6]),
        (2, 3, [3, 2, 1, 6, 5, 4]),
        (3, 3, [6, 5, 4, 3, 2, 1]),
        (4, 3, [4, 5, 6, 1, 2, 3]),
        (5, 2, [1, 4, 2, 5, 3, 6]),
        (6, 2, [3, 6, 2, 5, 1, 4]),
        (7, 2, [6, 3, 5, 2, 4, 1]),
        (8, 2, [4, 1, 5, 2, 6, 3]),
    ];

    #[test]
    fn all_eight_come_upright() {
        for (tag, width, stored) in STORED {
            let orientation = Orientation::from_tag(tag).unwrap();
            let height = 6 / width;
            assert_eq!(orientation.upright_size(width as u32, height as u32), (3, 2), "{tag}");
            let (wide, high) = (width as u32, height as u32);
            let mut grey = Upright::new(orientation, wide, high, Colour::Grey);
            grey.push(&stored);
            assert_eq!(grey.finish(), [1, 2, 3, 4, 5, 6], "{tag}");
            let mut rgb = Upright::new(orientation, wide, high, Colour::Rgb);
            for row in stored.chunks(width) {
                rgb.push(&row.iter().flat_map(|&v| [v, v + 10, v + 20]).collect::<Vec<u8>>());
            }
            let upright: Vec<u8> = (1..=6).flat_map(|v| [v, v + 10, v + 20]).collect();
            assert_eq!(rgb.finish(), upright, "{tag}");
        }
    }

    #[test]
    fn other_values_are_not_orientations() {
        assert_eq!(Orientation::from_tag(0), None);
        assert_eq!(Orientation::from_tag(9), None);
        assert_eq!(Orientation::from_tag(u32::MAX), None);
    }
}
