//! Derivatives and non-maximum suppression of a picture's rows.

/// Response of the derivative to a sharp step of one grey level: 1 4 6 4 1 along the edge, 1 2 across it.
pub(super) const LEVEL: i16 = 48;

/// Gradient and position of one edge pixel.
pub(super) struct Crossing {
    pub(super) gx: i16,
    pub(super) gy: i16,
    pub(super) length: i16,
    /// Offset from the pixel's centre to the greatest gradient, at most half a pixel along each axis.
    pub(super) shift: [f32; 2],
}

/// Derivatives of one row; `length` is padded by one zero at either end.
#[derive(Clone)]
struct Slopes {
    gx: Vec<i16>,
    gy: Vec<i16>,
    length: Vec<i16>,
}

/// A window of rows that moves down a picture.
pub(super) struct Rows<'a> {
    grey: &'a [u8],
    width: usize,
    height: usize,
    /// Rows smoothed and differentiated vertically, padded by two values at either end.
    smooth: Vec<i16>,
    rise: Vec<i16>,
    /// The row above, the current one and the next.
    slopes: [Slopes; 3],
    /// Whether the current row has a thinned edge at each column.
    marks: Vec<bool>,
}

impl<'a> Rows<'a> {
    /// `grey` has at least `width * height` bytes; both dimensions are nonzero.
    pub(super) fn new(grey: &'a [u8], width: usize, height: usize) -> Self {
        let slopes = Slopes { gx: vec![0; width], gy: vec![0; width], length: vec![0; width + 2] };
        Self {
            grey,
            width,
            height,
            smooth: vec![0; width + 4],
            rise: vec![0; width + 4],
            slopes: [slopes.clone(), slopes.clone(), slopes],
            marks: vec![false; width],
        }
    }

    /// Advances to row `y`, the successor of the last one.
    pub(super) fn advance(&mut self, y: usize, faint: i16) {
        if y == 0 {
            self.differentiate(0);
        }
        self.slopes.rotate_left(1);
        self.differentiate(y + 1);
        let [above, here, below] = &self.slopes;
        thin(&mut self.marks, [&above.length, &here.length, &below.length], &here.gx, &here.gy, faint);
    }

    /// Computes the last of the slopes for row `y`; beyond the picture there is no edge.
    fn differentiate(&mut self, y: usize) {
        let [.., last] = &mut self.slopes;
        if y >= self.height {
            last.length.fill(0);
            return;
        }
        let rows = [-2, -1, 0, 1, 2].map(|by: isize| {
            let y = y.saturating_add_signed(by).min(self.height - 1);
            self.grey.get(y * self.width..(y + 1) * self.width).unwrap_or_default()
        });
        down(rows, &mut self.smooth, &mut self.rise);
        across(&self.smooth, &self.rise, last);
    }

    /// Calls `each` with the column and the crossing of each edge pixel of the current row.
    pub(super) fn found(&self, mut each: impl FnMut(usize, Crossing)) {
        for (x, _) in self.marks.iter().enumerate().filter(|(_, mark)| **mark) {
            if let Some(crossing) = self.crossing(x) {
                each(x, crossing);
            }
        }
    }

    fn crossing(&self, x: usize) -> Option<Crossing> {
        let [above, here, below] = &self.slopes;
        let (gx, gy, length) = (*here.gx.get(x)?, *here.gy.get(x)?, *here.length.get(x + 1)?);
        let lengths =
            |row: &Slopes| Some([*row.length.get(x)?, *row.length.get(x + 1)?, *row.length.get(x + 2)?]);
        let ([a0, a1, a2], [h0, _, h2], [b0, b1, b2]) = (lengths(above)?, lengths(here)?, lengths(below)?);
        let (before, after, step) = match direction(gx, gy) {
            Direction::Across => (h0, h2, [1.0, 0.0]),
            Direction::Down => (a1, b1, [0.0, 1.0]),
            Direction::Falling => (a0, b2, [1.0, 1.0]),
            Direction::Rising => (a2, b0, [-1.0, 1.0]),
        };
        // The vertex of the parabola through three gradient magnitudes.
        let (before, after) = (f32::from(before), f32::from(after));
        let bend = before - 2.0 * f32::from(length) + after;
        let by = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
        Some(Crossing { gx, gy, length, shift: step.map(|step| step * by.clamp(-0.49, 0.49)) })
    }
}

/// Vertical smoothing and derivative of five rows; the ends are repeated.
#[expect(clippy::indexing_slicing, reason = "all are cut to one length first")]
fn down(rows: [&[u8]; 5], smooth: &mut [i16], rise: &mut [i16]) {
    let width = rows.iter().map(|row| row.len()).min().unwrap_or(0);
    let [a, b, c, d, e] = rows.map(|row| &row[..width]);
    let (inner, inner_rise) = (&mut smooth[2..width + 2], &mut rise[2..width + 2]);
    for i in 0..width {
        let [a, b, c, d, e] = [a[i], b[i], c[i], d[i], e[i]].map(i16::from);
        inner[i] = a + e + 4 * (b + d) + 6 * c;
        inner_rise[i] = e - a + 2 * (d - b);
    }
    for row in [smooth, rise] {
        let (first, last) = (row[2], row[width + 1]);
        row[..2].fill(first);
        row[width + 2..].fill(last);
    }
}

/// Horizontal derivatives of a row and the gradient magnitude: the greater component plus three eighths of the lesser,
/// within 7 % of the Euclidean length in every direction.
#[expect(clippy::indexing_slicing, reason = "as above")]
fn across(smooth: &[i16], rise: &[i16], out: &mut Slopes) {
    let width = out.gx.len();
    let [s0, s1, s3, s4] = [0, 1, 3, 4].map(|by| &smooth[by..by + width]);
    let [r0, r1, r2, r3, r4] = [0, 1, 2, 3, 4].map(|by| &rise[by..by + width]);
    let (gx, gy, length) = (&mut out.gx[..width], &mut out.gy[..width], &mut out.length[1..=width]);
    for i in 0..width {
        let x = s4[i] - s0[i] + 2 * (s3[i] - s1[i]);
        let y = r0[i] + r4[i] + 4 * (r1[i] + r3[i]) + 6 * r2[i];
        let (ax, ay) = (x.abs(), y.abs());
        let (more, less) = (ax.max(ay), ax.min(ay));
        gx[i] = x;
        gy[i] = y;
        length[i] = more + (less >> 2) + (less >> 3);
    }
}

/// Direction of the neighbours across the edge.
enum Direction {
    Across,
    Down,
    /// To the right and down.
    Falling,
    Rising,
}

/// Nearly tan 22.5 degrees of a number: 0.4141.
fn share(of: i16) -> i16 {
    (of >> 1) - (of >> 4) - (of >> 5) + (of >> 7)
}

fn direction(gx: i16, gy: i16) -> Direction {
    let (ax, ay) = (gx.abs(), gy.abs());
    if ay < share(ax) {
        Direction::Across
    } else if ax < share(ay) {
        Direction::Down
    } else if (gx ^ gy) >= 0 {
        Direction::Falling
    } else {
        Direction::Rising
    }
}

/// Marks pixels whose gradient is at least `faint` and greater than their neighbours' across the edge.
#[expect(clippy::indexing_slicing, reason = "as above")]
fn thin(marks: &mut [bool], [above, here, below]: [&[i16]; 3], gx: &[i16], gy: &[i16], faint: i16) {
    let width = marks.len();
    let (gx, gy) = (&gx[..width], &gy[..width]);
    let [a0, a1, a2] = [0, 1, 2].map(|by| &above[by..by + width]);
    let [h0, h1, h2] = [0, 1, 2].map(|by| &here[by..by + width]);
    let [b0, b1, b2] = [0, 1, 2].map(|by| &below[by..by + width]);
    for i in 0..width {
        let (x, y, length) = (gx[i], gy[i], h1[i]);
        let (ax, ay) = (x.abs(), y.abs());
        // All pairs of neighbours are computed and one is selected, so that the loop has no branch.
        let slant = (x ^ y) >= 0;
        let (before, after) = (if slant { a0[i] } else { a2[i] }, if slant { b2[i] } else { b0[i] });
        let steep = ax < share(ay);
        let (before, after) = (if steep { a1[i] } else { before }, if steep { b1[i] } else { after });
        let flat = ay < share(ax);
        let (before, after) = (if flat { h0[i] } else { before }, if flat { h2[i] } else { after });
        marks[i] = (length > before) & (length >= after) & (length >= faint);
    }
}
