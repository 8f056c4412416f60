//! A picture seen from elsewhere: each pixel of a view is taken from where it came from.

mod bilinear;

use nalgebra::Matrix3;
use steerwright_photo::Pixels;

/// What a [`Warp`] may make, pixels a side.
const LONGEST: u32 = 8_192;
/// What a [`Warp`] may take from, pixels a side.
const LARGEST: u32 = 32_768;

/// From the places of a view to those of a picture: by a homography, then by a lens's radial distortion. Places
/// are pixels, a pixel's middle at half.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warp {
    /// Places of the view, `[x, y, 1]`, to ideal ones `[p w, q w, w]`.
    ideal: Matrix3<f64>,
    /// Ideal places with `w` below this are not seen.
    nearest: f64,
    /// The ideal place `[p, q]` appears at `(1 + distortion r^2) [p, q]`, `r^2` being `p^2 + q^2`.
    distortion: f64,
    /// Where that is not true any more: the slope of the bent radius below which nothing is seen.
    least_slope: f64,
    /// From there to pixels: a factor and what is added, across and down.
    across: [f64; 2],
    down: [f64; 2],
}

impl Warp {
    /// By a homography alone, from places of the view to places of the picture. The side of the horizon on which `w`
    /// is positive is seen.
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

    /// By a homography to ideal places `[p, q]`, nothing with `w` below `nearest`; then bent by `1 + distortion r^2`
    /// where the bent radius still grows by `least_slope`; then to pixels by a factor and what is added, each across
    /// and down.
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

    /// Where a place of the view is in the picture; `None` where it is not seen.
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

    /// The view, `width` by `height` pixels, interpolated bilinearly; whatever lies outside the picture is `nothing`.
    ///
    /// `None` for a view without pixels or of more than 8192 a side, a warp with numbers that are not finite, and a
    /// picture whose data are not of its size or that has more than 32 768 pixels a side.
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
