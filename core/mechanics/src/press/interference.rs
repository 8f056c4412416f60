//! The distribution of the interference of a cup in its bore.

use steerwright_metrology::conformity::normal_cdf;
use steerwright_metrology::quantity::Estimate;

/// A diameter: measured, or known only by its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Diameter {
    /// Measured, possibly in several directions.
    Measured {
        /// The mean diameter, mm.
        estimate: Estimate,
        /// The smallest of the readings, mm.
        smallest: f64,
        /// The largest of the readings, mm.
        largest: f64,
    },
    /// Not measured: uniform between two limits.
    Limits {
        /// The lower limit, mm.
        low: f64,
        /// The upper limit, mm.
        high: f64,
    },
}

impl Diameter {
    /// Measured in one direction.
    pub const fn measured(estimate: Estimate) -> Self {
        Self::Measured { estimate, smallest: estimate.value, largest: estimate.value }
    }

    /// Mean and standard uncertainty.
    pub fn estimate(self) -> Estimate {
        match self {
            Self::Measured { estimate, .. } => estimate,
            Self::Limits { low, high } => Estimate::between(low, high),
        }
    }

    /// Smallest and largest.
    pub fn range(self) -> [f64; 2] {
        match self {
            Self::Measured { smallest, largest, .. } => [smallest, largest],
            Self::Limits { low, high } => [low, high],
        }
    }

    /// True if the diameter is finite, ordered and plausible for a headset: 10 to 100 mm, u no greater than that.
    pub(super) fn is_sound(self) -> bool {
        let [low, high] = self.range();
        let plausible = |mm: f64| (10.0..=100.0).contains(&mm);
        let mean = self.estimate();
        plausible(low)
            && plausible(high)
            && low <= high
            && plausible(mean.value)
            && mean.is_sound()
            && mean.u <= 100.0
    }

    /// Centre, standard deviation of the normal part and half-width of the uniform part.
    fn parts(self) -> (f64, f64, f64) {
        match self {
            Self::Measured { estimate, .. } => (estimate.value, estimate.u, 0.0),
            Self::Limits { low, high } => (f64::midpoint(low, high), 0.0, (high - low) / 2.0),
        }
    }
}

/// Cup minus bore: the convolution of a normal distribution with a uniform one for each diameter known only by its
/// limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Interference {
    mean: f64,
    sd: f64,
    half_widths: [f64; 2],
}

impl Interference {
    pub(super) fn new(cup: Diameter, bore: Diameter) -> Self {
        let (cup_mean, cup_sd, cup_half) = cup.parts();
        let (bore_mean, bore_sd, bore_half) = bore.parts();
        let half_widths = [cup_half.max(bore_half), cup_half.min(bore_half)];
        Self { mean: cup_mean - bore_mean, sd: cup_sd.hypot(bore_sd), half_widths }
    }

    pub(super) fn estimate(self) -> Estimate {
        let [wide, narrow] = self.half_widths;
        Estimate::new(self.mean, self.sd.hypot(wide.hypot(narrow) / 3f64.sqrt()))
    }

    /// P(interference > limit), the limit itself being uncertain.
    pub(super) fn above(self, limit: Estimate) -> f64 {
        Self { mean: -self.mean, ..self }.below(-limit)
    }

    /// P(interference < limit), the limit itself being uncertain.
    ///
    /// Exact convolution: the integral of the normal distribution function over one uniform part is a difference of its
    /// first repeated integral, over two uniform parts one of its second.
    pub(super) fn below(self, limit: Estimate) -> f64 {
        let mut sd = self.sd.hypot(limit.u);
        let [mut wide, mut narrow] = self.half_widths;
        let x = limit.value - self.mean;
        // Uniform parts too narrow for the differences below to keep their digits are added to the standard deviation.
        // The error is of the order (half-width / sd)^4, under 1e-12.
        for half in [&mut narrow, &mut wide] {
            if *half < 1e-3 * sd {
                sd = sd.hypot(*half / 3f64.sqrt());
                *half = 0.0;
            }
        }
        if narrow < 1e-9 * wide {
            narrow = 0.0;
        }
        if sd < 1e-9 * wide {
            sd = 0.0;
        }
        // Beyond 40 standard deviations the tail is zero, and the differences would only lose digits.
        let reach = wide + narrow + 40.0 * sd;
        if x > reach {
            return 1.0;
        }
        if x <= -reach {
            return 0.0;
        }
        let p = match (wide > 0.0, narrow > 0.0) {
            (false, _) if sd > 0.0 => normal_cdf(x / sd),
            // All values are exact and on the limit: the limit conforms, so the interference is not below it.
            (false, _) => 0.0,
            (true, false) => (once(x + wide, sd) - once(x - wide, sd)) / (2.0 * wide),
            (true, true) => {
                (twice(x + wide + narrow, sd) - twice(x + wide - narrow, sd) - twice(x - wide + narrow, sd)
                    + twice(x - wide - narrow, sd))
                    / (4.0 * wide * narrow)
            }
        };
        p.clamp(0.0, 1.0)
    }
}

/// Integral of the normal distribution function (of standard deviation `sd`, or a step) up to `x`.
fn once(x: f64, sd: f64) -> f64 {
    if sd <= 0.0 {
        return x.max(0.0);
    }
    let z = x / sd;
    sd * (z * normal_cdf(z) + density(z))
}

/// Integral of [`once`] up to `x`.
fn twice(x: f64, sd: f64) -> f64 {
    if sd <= 0.0 {
        return x.max(0.0).powi(2) / 2.0;
    }
    let z = x / sd;
    sd * sd * ((z * z + 1.0) * normal_cdf(z) + z * density(z)) / 2.0
}

fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}
