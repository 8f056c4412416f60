//! Coordinates along and across a rough line.

use crate::measure::Pixel;

/// The line's coordinate axes: along it from its first end, and across it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axes {
    pub(super) from: Pixel,
    pub(super) along: [f64; 2],
    pub(super) length: f64,
}

impl Axes {
    pub(super) fn place(&self, s: f64, t: f64) -> Pixel {
        let ([x, y], [dx, dy]) = (self.from, self.along);
        [x + s * dx - t * dy, y + s * dy + t * dx]
    }

    pub(super) fn across(&self) -> [f64; 2] {
        let [dx, dy] = self.along;
        [-dy, dx]
    }
}
