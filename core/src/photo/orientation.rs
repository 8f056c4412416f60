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

    /// Turns a stored picture of `width` and `height` upright; `data` holds that many pixels.
    pub(super) fn upright(self, data: Vec<u8>, width: usize, height: usize, colour: Colour) -> Vec<u8> {
        if self == Self::TopLeft {
            return data;
        }
        match colour {
            Colour::Grey => self.turned::<1>(&data, width, height),
            Colour::Rgb => self.turned::<3>(&data, width, height),
        }
    }

    fn turned<const N: usize>(self, data: &[u8], width: usize, height: usize) -> Vec<u8> {
        let (pixels, _) = data.as_chunks::<N>();
        let (across, down) = if self.swaps_sides() { (height, width) } else { (width, height) };
        // Where an upright picture's first pixel is stored, and how far apart its neighbours to the right and below
        // are: the last stored column or row comes first where the name says right or bottom.
        let (right, bottom) = (width.saturating_sub(1), height.saturating_sub(1) * width);
        let (columns, rows) = (1_isize, width as isize);
        let (first, next, below) = match self {
            Self::TopLeft => (0, columns, rows),
            Self::TopRight => (right, -columns, rows),
            Self::BottomRight => (right + bottom, -columns, -rows),
            Self::BottomLeft => (bottom, columns, -rows),
            Self::LeftTop => (0, rows, columns),
            Self::RightTop => (bottom, -rows, columns),
            Self::RightBottom => (right + bottom, -rows, -columns),
            Self::LeftBottom => (right, rows, -columns),
        };
        let mut out = vec![[0; N]; pixels.len()];
        let mut start: usize = first;
        for row in out.chunks_mut(across.max(1)).take(down) {
            let mut at = start;
            for pixel in row {
                *pixel = pixels.get(at).copied().unwrap_or([0; N]);
                at = at.wrapping_add_signed(next);
            }
            start = start.wrapping_add_signed(below);
        }
        out.into_flattened()
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
            let grey = orientation.upright(stored.to_vec(), width, height, Colour::Grey);
            assert_eq!(grey, [1, 2, 3, 4, 5, 6], "{tag}");
            let rgb = stored.iter().flat_map(|&v| [v, v + 10, v + 20]).collect();
            let upright: Vec<u8> = (1..=6).flat_map(|v| [v, v + 10, v + 20]).collect();
            assert_eq!(orientation.upright(rgb, width, height, Colour::Rgb), upright, "{tag}");
        }
    }

    #[test]
    fn other_values_are_not_orientations() {
        assert_eq!(Orientation::from_tag(0), None);
        assert_eq!(Orientation::from_tag(9), None);
        assert_eq!(Orientation::from_tag(u32::MAX), None);
    }
}
