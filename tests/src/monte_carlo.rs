//! Monte Carlo propagation (JCGM 101:2008): the independent check of the first-order propagation in the core.

use rand_distr::{Distribution as _, Open01, StandardNormal, StudentT};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use steerwright_core::quantity::Estimate;

/// Probability of both coverage intervals.
const COVERAGE: f64 = 0.95;

/// The distribution of one input.
#[derive(Debug, Clone, Copy)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Best estimate.
        mean: f64,
        /// Standard uncertainty.
        sd: f64,
    },
    /// Uniform between two limits.
    Rectangular {
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
    },
    /// Student's t, shifted and scaled: the mean of a few readings (JCGM 101:2008, 6.4.9).
    Student {
        /// Mean of the readings.
        mean: f64,
        /// Standard deviation of the mean.
        scale: f64,
        /// Degrees of freedom, over 2.
        freedom: f64,
    },
}

impl From<Estimate> for Distribution {
    fn from(estimate: Estimate) -> Self {
        Self::Normal { mean: estimate.value, sd: estimate.u }
    }
}

impl Distribution {
    /// Mean and standard deviation.
    pub fn estimate(self) -> Estimate {
        match self {
            Self::Normal { mean, sd } => Estimate::new(mean, sd),
            Self::Rectangular { low, high } => Estimate::between(low, high),
            Self::Student { mean, scale, freedom } => {
                Estimate::new(mean, scale * (freedom / (freedom - 2.0)).sqrt())
            }
        }
    }

    pub(crate) fn draw(self, random: &mut Xoshiro256PlusPlus) -> f64 {
        match self {
            Self::Normal { mean, sd } => {
                let standard: f64 = StandardNormal.sample(random);
                mean + sd * standard
            }
            Self::Rectangular { low, high } => {
                let share: f64 = Open01.sample(random);
                low + (high - low) * share
            }
            Self::Student { mean, scale, freedom } => {
                let standard = StudentT::new(freedom).expect("degrees of freedom over 0");
                mean + scale * standard.sample(random)
            }
        }
    }
}

/// Summary of the draws of a result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonteCarlo {
    /// Mean of the draws.
    pub mean: f64,
    /// Their standard deviation: the result's standard uncertainty.
    pub u: f64,
    /// The 95 % coverage interval with equal probability below and above (JCGM 101:2008, 7.7.1).
    pub interval: [f64; 2],
    /// The shortest 95 % coverage interval (JCGM 101:2008, 5.3.4).
    pub shortest: [f64; 2],
}

impl MonteCarlo {
    /// Summarises at least 200 draws.
    ///
    /// # Panics
    /// If there are fewer, or if one is not finite.
    pub fn of(mut draws: Vec<f64>) -> Self {
        assert!(draws.len() >= 200 && draws.iter().all(|draw| draw.is_finite()));
        draws.sort_unstable_by(f64::total_cmp);
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        let u = (draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        // JCGM 101:2008, 7.7.1: the interval reaches from the r-th to the (r + q)-th draw.
        let q = (COVERAGE * n).round() as usize;
        let r = (draws.len() - q) / 2;
        let intervals = draws.iter().zip(&draws[q..]).map(|(low, high)| [*low, *high]);
        let shortest = intervals.min_by(|[a, b], [c, d]| (b - a).total_cmp(&(d - c))).expect("draws");
        Self { mean, u, interval: [draws[r], draws[r + q]], shortest }
    }
}

/// Draws `samples` times from independent inputs and summarises the results of `f` (JCGM 101:2008, 7).
///
/// The same seed gives the same draws.
pub fn monte_carlo(
    inputs: &[Distribution],
    samples: usize,
    seed: u64,
    f: impl Fn(&[f64]) -> f64,
) -> MonteCarlo {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut draw = || inputs.iter().map(|input| input.draw(&mut random)).collect::<Vec<_>>();
    MonteCarlo::of((0..samples).map(|_| f(&draw())).collect())
}
