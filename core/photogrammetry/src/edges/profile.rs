//! Brightness along a short line across an edge.

use super::Grey;
use crate::measure::Pixel;

/// A transfer curve for the 256 grey levels.
pub(super) struct Scale([f64; 256]);

impl Scale {
    /// Identity: the encoded values of the picture.
    pub(super) fn encoded() -> Self {
        Self(std::array::from_fn(|value| value as f64))
    }

    /// Linear light, 0 to 255. Blur mixes light, so the centre of a soft edge is its centre in linear light; in encoded
    /// values it is shifted to the dark side (IEC 61966-2-1, transfer function; **M**).
    pub(super) fn light() -> Self {
        Self(std::array::from_fn(|value| {
            let v = value as f64 / 255.0;
            255.0 * if v <= 0.040_45 { v / 12.92 } else { libm::pow((v + 0.055) / 1.055, 2.4) }
        }))
    }

    /// The value at a position, interpolated between four pixels; `None` outside the picture.
    pub(super) fn at(&self, grey: &Grey, [x, y]: Pixel) -> Option<f64> {
        let (across, down) = (grey.width() as usize, grey.height() as usize);
        let (x, y) = (x - 0.5, y - 0.5);
        if !(x >= 0.0 && y >= 0.0 && x <= across as f64 - 1.0 && y <= down as f64 - 1.0) {
            return None;
        }
        let (column, row) = (x as usize, y as usize);
        let (right, below) = (x - column as f64, y - row as f64);
        let first = row * across + column;
        let next = usize::from(column + 1 < across);
        let second = if row + 1 < down { first + across } else { first };
        let data = grey.data();
        let value = |place: usize| {
            let value = data.get(place)?;
            self.0.get(usize::from(*value)).copied()
        };
        let upper = value(first)? * (1.0 - right) + value(first + next)? * right;
        let lower = value(second)? * (1.0 - right) + value(second + next)? * right;
        Some(upper * (1.0 - below) + lower * below)
    }
}

/// Brightness across an edge: samples from `-half` to `half` along a direction.
pub(super) struct Profile {
    /// Distance between samples, pixels.
    pub(super) step: f64,
    /// Half the length, pixels.
    pub(super) half: f64,
    pub(super) values: Vec<f64>,
}

/// A change of brightness on a profile.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    /// Its position, pixels from the profile's centre.
    pub(super) at: f64,
    /// Gradient, values per pixel; positive if it grows brighter along the direction.
    pub(super) slope: f64,
}

impl Profile {
    /// Samples across a position along a unit direction. Each sample is the mean of three side by side, `aside` pixels
    /// apart. `None` where the profile leaves the picture.
    pub(super) fn across(
        grey: &Grey,
        scale: &Scale,
        [x, y]: Pixel,
        [dx, dy]: [f64; 2],
        half: f64,
        step: f64,
        aside: f64,
    ) -> Option<Self> {
        let count = (half / step).ceil().min(2_000.0) as i32;
        let mut values = Vec::with_capacity(2 * count as usize + 1);
        for i in -count..=count {
            let t = f64::from(i) * step;
            let (px, py) = (x + t * dx, y + t * dy);
            let mut sum = 0.0;
            for side in [-aside, 0.0, aside] {
                sum += scale.at(grey, [px - side * dy, py + side * dx])?;
            }
            values.push(sum / 3.0);
        }
        Some(Self { step, half: f64::from(count) * step, values })
    }

    /// The gradient at each sample, smoothed by a Gaussian of `sigma` pixels; the end values are extended.
    pub(super) fn slopes(&self, sigma: f64) -> Vec<f64> {
        let reach = (3.0 * sigma / self.step).ceil() as i32;
        let weights: Vec<f64> = (1..=reach)
            .map(|k| {
                let t = f64::from(k) * self.step / sigma;
                t * libm::exp(-t * t / 2.0)
            })
            .collect();
        // Normalised so that a ramp of slope 1 gives 1.
        let ramp: f64 = weights.iter().zip(1..).map(|(w, k)| 2.0 * w * f64::from(k) * self.step).sum();
        let last = self.values.len() as i32 - 1;
        let value = |i: i32| self.values.get(i.clamp(0, last) as usize).copied().unwrap_or_default();
        (0..=last)
            .map(|i| {
                let sum: f64 = weights.iter().zip(1..).map(|(w, k)| w * (value(i + k) - value(i - k))).sum();
                sum / ramp
            })
            .collect()
    }

    /// Every local maximum of the gradient of at least `least` values per pixel, located between samples by a parabola.
    pub(super) fn changes(&self, sigma: f64, least: f64) -> Vec<Change> {
        let slopes = self.slopes(sigma);
        slopes
            .windows(3)
            .enumerate()
            .filter_map(|(i, window)| {
                let [before, slope, after] = *<&[f64; 3]>::try_from(window).ok()?;
                let (b, s, a) = (before.abs(), slope.abs(), after.abs());
                if s < least || s < b || s <= a {
                    return None;
                }
                let bend = b - 2.0 * s + a;
                let by = if bend < 0.0 { (0.5 * (b - a) / bend).clamp(-0.5, 0.5) } else { 0.0 };
                Some(Change { at: (i as f64 + 1.0 + by) * self.step - self.half, slope })
            })
            .collect()
    }

    /// The blur of the change nearest to the centre, as the standard deviation of a Gaussian, pixels: a step of height
    /// `h` blurred by `s` has the gradient `h / (s sqrt(2 pi))` at its centre. `height` is the range of the profile.
    pub(super) fn blur(&self, sigma: f64) -> Option<f64> {
        let slopes = self.slopes(sigma);
        let steepest = slopes.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        let (low, high) = self.values.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        let seen = (high - low) / (steepest.abs() * (2.0 * std::f64::consts::PI).sqrt());
        // The smoothing adds to the blur in quadrature.
        seen.is_finite().then(|| (seen * seen - sigma * sigma).max(0.0).sqrt())
    }
}
