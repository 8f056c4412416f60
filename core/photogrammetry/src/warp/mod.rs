//! Resampling of a picture: each pixel of a view is taken from its source position.

mod bilinear;

use nalgebra::Matrix3;
use steerwright_photo::Pixels;

/// Largest output of a [`Warp`], pixels a side.
const LONGEST: u32 = 8_192;
/// Largest input of a [`Warp`], pixels a side.
const LARGEST: u32 = 32_768;

/// Maps positions in a view to positions in a picture: by a homography, then by a lens's radial distortion. Positions
/// are in pixels; pixel centres are at 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warp {
    /// Positions in the view, `[x, y, 1]`, to ideal positions `[p w, q w, w]`.
    ideal: Matrix3<f64>,
    /// Ideal positions with `w` below this are not visible.
    nearest: f64,
    /// The ideal position `[p, q]` appears at `(1 + distortion r^2) [p, q]`, `r^2` being `p^2 + q^2`.
    distortion: f64,
    /// Limit of the distortion formula: positions where the derivative of the distorted radius is below this are not
    /// visible.
    least_slope: f64,
    /// From distorted positions to pixels: a factor and an offset, across and down.
    across: [f64; 2],
    down: [f64; 2],
}

impl Warp {
    /// By a homography alone, from positions in the view to positions in the picture. The side of the horizon on which
    /// `w` is positive is visible.
    pub fn plain(homography: Matrix3<f64>) -> Self {
        Self {
            ideal: homography,
            nearest: f64::MIN_POSITIVE,
            distortion: 0.0,
            least_slope: 0.0,
            across: [1.0, 0.0],
            down: [1.0, 0.0],
        }
    }

    /// By a homography to ideal positions `[p, q]`, those with `w` below `nearest` excluded; then distorted by
    /// `1 + distortion r^2` where the derivative of the distorted radius is at least `least_slope`; then to pixels by a
    /// factor and an offset, each across and down.
    pub fn bent(
        ideal: Matrix3<f64>,
        nearest: f64,
        distortion: f64,
        least_slope: f64,
        pixels: [[f64; 2]; 2],
    ) -> Self {
        let [across, down] = pixels;
        Self { ideal, nearest, distortion, least_slope, across, down }
    }

    /// The position in the picture of a position in the view; `None` where it is not visible.
    pub fn place(&self, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
        let at = self.ideal * nalgebra::Vector3::new(x, y, 1.0);
        if !(self.nearest..).contains(&at.z) {
            return None;
        }
        let (p, q) = (at.x / at.z, at.y / at.z);
        let bend = self.distortion * (p * p + q * q);
        if !(self.least_slope..).contains(&(1.0 + 3.0 * bend)) {
            return None;
        }
        let [[by_x, more_x], [by_y, more_y]] = [self.across, self.down];
        Some([p * (1.0 + bend) * by_x + more_x, q * (1.0 + bend) * by_y + more_y])
    }

    /// The view, `width` by `height` pixels, interpolated bilinearly; areas outside the picture are `nothing`.
    ///
    /// `None` for a view without pixels or of more than 8192 a side, a warp with numbers that are not finite, and a
    /// picture whose data do not match its size or that has more than 32 768 pixels a side.
    pub fn view(&self, picture: &Pixels, [width, height]: [u32; 2], nothing: u8) -> Option<Pixels> {
        let sides = 1..=LONGEST;
        let too_large = picture.width.max(picture.height) > LARGEST;
        if !picture.is_sound()
            || too_large
            || !sides.contains(&width)
            || !sides.contains(&height)
            || !self.is_finite()
        {
            return None;
        }
        Some(Pixels {
            width,
            height,
            colour: picture.colour,
            data: bilinear::fill(self, picture, [width, height], nothing),
            full_width: width,
            full_height: height,
            step: 1.0,
            upright: true,
        })
    }

    fn is_finite(&self) -> bool {
        let more = [self.nearest, self.distortion, self.least_slope];
        self.ideal.iter().chain(&more).chain(&self.across).chain(&self.down).all(|value| value.is_finite())
    }
}
