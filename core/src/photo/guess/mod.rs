//! First guesses of where the wheels are on a side-on photo: offered, never taken for marks.
//!
//! On a reduced picture every edge pixel votes for the centres of circles it may lie on, along the slope of the grey
//! (D. Ballard, Pattern Recognition 13 (1981) 111-122); a wheel that the camera sees turned is an ellipse, so the
//! vote is held for several widths of it. Round each centre that won votes, the outermost radius at which edges go
//! round is fitted by an ellipse. Two such ellipses are a guess if they are of a size, at a wheelbase's distance and
//! on one ground.

mod pairs;
mod votes;
mod wheel;

use super::edges::{Edgel, Heights, edgels};
use super::measure::Ellipse;

/// The longer side of the reduced picture is at most this, pixels.
const REDUCED: usize = 800;
/// Heights of the steps that count as edges there, grey levels.
const HEIGHTS: Heights = Heights { faint: 7.0, clear: 14.0 };
/// So many guesses at most.
const MOST: usize = 3;

/// Two ellipses that may be a bike's tyres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess {
    /// The one further left, then the other: the tyres' outer edges in pixels of the whole picture.
    pub wheels: [Ellipse; 2],
    /// How much speaks for it, 0 to 1.
    pub sure: f64,
}

/// Up to three guesses of the two wheels of a bike seen from the side, the surest first; none for a picture without
/// two circles that could be its wheels. Which of them is the front wheel is not told.
///
/// `grey` holds `width` bytes a row.
pub fn guess_wheels(grey: &[u8], width: usize) -> Vec<Guess> {
    let Some(small) = Reduced::new(grey, width) else { return Vec::new() };
    let edges: Vec<Slope> = edgels(&small.data, small.width, HEIGHTS).iter().filter_map(Slope::new).collect();
    let size = [small.width as f64, (small.data.len() / small.width) as f64];
    let wheels = wheel::wheels(&edges, size);
    let by = small.by as f64;
    let whole = |Ellipse { centre: [x, y], major, minor, turn_deg }: Ellipse| Ellipse {
        centre: [x * by, y * by],
        major: major * by,
        minor: minor * by,
        turn_deg,
    };
    let mut guesses = pairs::pairs(&wheels);
    guesses.truncate(MOST);
    guesses.into_iter().map(|guess| Guess { wheels: guess.wheels.map(whole), ..guess }).collect()
}

/// An edge pixel with the direction in which the grey grows, of length 1.
#[derive(Debug, Clone, Copy)]
struct Slope {
    x: f64,
    y: f64,
    dx: f64,
    dy: f64,
}

impl Slope {
    fn new(edge: &Edgel) -> Option<Self> {
        let (gx, gy) = (f64::from(edge.gx), f64::from(edge.gy));
        let length = libm::hypot(gx, gy);
        (length > 0.0).then(|| Self { x: edge.x.into(), y: edge.y.into(), dx: gx / length, dy: gy / length })
    }
}

/// A picture of whole blocks' means.
struct Reduced {
    data: Vec<u8>,
    width: usize,
    by: usize,
}

impl Reduced {
    fn new(grey: &[u8], width: usize) -> Option<Self> {
        let height = grey.len().checked_div(width)?;
        let by = width.max(height).div_ceil(REDUCED).max(1);
        let (across, down) = (width / by, height / by);
        if across < 3 || down < 3 {
            return None;
        }
        let mut data = Vec::with_capacity(across * down);
        let mut sums = vec![0u32; across];
        let pixels = (by * by) as u32;
        for rows in grey.chunks_exact(width * by).take(down) {
            sums.fill(0);
            for row in rows.chunks_exact(width) {
                for (sum, block) in sums.iter_mut().zip(row.chunks_exact(by)) {
                    *sum += block.iter().map(|value| u32::from(*value)).sum::<u32>();
                }
            }
            data.extend(sums.iter().map(|sum| ((sum + pixels / 2) / pixels) as u8));
        }
        Some(Self { data, width: across, by })
    }
}
