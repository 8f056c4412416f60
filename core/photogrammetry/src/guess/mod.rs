//! Suggested positions of the wheels on a side-on photo: a starting point for the user, never used as marks.
//!
//! On a reduced picture every edge pixel votes for the centres of circles it may belong to, along the grey gradient (D.
//! Ballard, Pattern Recognition 13 (1981) 111-122). A wheel seen obliquely is an ellipse, so the vote is repeated for
//! several aspect ratios. Around each candidate centre, an ellipse is fitted at the outermost radius at which edges go
//! round. Two such ellipses are a guess if they have similar size, are a wheelbase apart and on a common ground line.

mod pairs;
mod votes;
mod wheel;

use crate::edges::{Edgel, Grey, HysteresisThresholds, edgels};
use crate::measure::{Ellipse, Image, Lens, Marks, MarksSchema, Wheel};

/// The longer side of the reduced picture is at most this, pixels.
const REDUCED: u32 = 800;
/// Step heights that count as edges there, grey levels.
const HEIGHTS: HysteresisThresholds = HysteresisThresholds { faint: 7.0, clear: 14.0 };
/// Maximum number of guesses.
const MOST: usize = 3;

/// Two ellipses that may be a bike's tyres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess {
    /// The one further left, then the other: the tyres' outer edges in pixels of the whole picture.
    pub wheels: [Ellipse; 2],
    /// Confidence, 0 to 1.
    pub sure: f64,
}

impl Guess {
    /// The same guess on a picture `by` times as large.
    #[must_use]
    pub fn enlarged(&self, by: f64) -> Self {
        let wheels = self.wheels.map(|Ellipse { centre: [x, y], major, minor, turn_deg }| Ellipse {
            centre: [x * by, y * by],
            major: major * by,
            minor: minor * by,
            turn_deg,
        });
        Self { wheels, ..*self }
    }

    /// Marks with only three rough taps on each tyre: an initial marks file for a person to check and complete.
    /// `heads_left` is the bike's direction of travel; `image` is the size of the picture in whose pixels the guess is.
    pub fn rough_marks(&self, image: Image, lens: Lens, heads_left: bool) -> Marks {
        let [left, right] = self.wheels.map(|ellipse| {
            let taps = [0.25, 2.345, 4.44].map(|t| ellipse.at(t).map(|side| (10.0 * side).round() / 10.0));
            Wheel { tyre: taps.to_vec(), rough: true, noise_px: None, diameter_mm: None, width_mm: None }
        });
        let (front, rear) = if heads_left { (left, right) } else { (right, left) };
        Marks {
            schema: MarksSchema::V1,
            image,
            lens,
            noise_px: None,
            shows_drive_side: None,
            front,
            rear,
            front_wheel_turn_deg: None,
            fork_offset_mm: None,
            head_tube_top: None,
            head_tube_bottom: None,
            crown: None,
            bottom_bracket: None,
            stanchions: Vec::new(),
            seat_tube: None,
            straight: Vec::new(),
        }
    }
}

/// Up to three guesses of the two wheels of a bike seen from the side, the most confident first; none for a picture
/// without two circles that could be its wheels. Front and rear are not distinguished.
pub fn guess_wheels(picture: &Grey) -> Vec<Guess> {
    let Some((small, by)) = reduced(picture) else { return Vec::new() };
    let edges: Vec<Slope> = edgels(&small, HEIGHTS).iter().filter_map(Slope::new).collect();
    let wheels = wheel::wheels(&edges, [small.width(), small.height()].map(f64::from));
    let mut guesses = pairs::pairs(&wheels);
    guesses.truncate(MOST);
    guesses.iter().map(|guess| guess.enlarged(by)).collect()
}

/// An edge pixel with the unit direction of the grey gradient.
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

/// The picture of block means, and a block's side.
fn reduced(picture: &Grey) -> Option<(Grey, f64)> {
    let by = picture.width().max(picture.height()).div_ceil(REDUCED);
    let (across, down) = (picture.width() / by, picture.height() / by);
    let (width, side) = (picture.width() as usize, by as usize);
    let mut data = Vec::with_capacity(across as usize * down as usize);
    let mut sums = vec![0u32; across as usize];
    let pixels = by.saturating_mul(by);
    for rows in picture.data().chunks_exact(width * side).take(down as usize) {
        sums.fill(0);
        for row in rows.chunks_exact(width) {
            for (sum, block) in sums.iter_mut().zip(row.chunks_exact(side)) {
                *sum += block.iter().map(|value| u32::from(*value)).sum::<u32>();
            }
        }
        data.extend(sums.iter().map(|sum| ((sum + pixels / 2) / pixels) as u8));
    }
    Some((Grey::new(across, down, data)?, f64::from(by)))
}
