//! Uncertainty carried through a function by drawing from its inputs (JCGM 101:2008).

use super::Estimate;
use rand_distr::{Distribution as _, Open01, StandardNormal, StudentT};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// What is known of one input. A width of 0 makes it exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// A measured value whose error is a sum of many.
    Normal {
        /// Best estimate.
        mean: f64,
        /// Standard uncertainty.
        sd: f64,
    },
    /// Somewhere between two limits.
    Rectangular {
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
    },
    /// Between two limits, most likely at `mode`.
    Triangular {
        /// Least value.
        low: f64,
        /// Likeliest value.
        mode: f64,
        /// Greatest value.
        high: f64,
    },
    /// The mean of a few readings whose spread is known from these readings alone (JCGM 101:2008, 6.4.9).
    Student {
        /// Mean of the readings.
        mean: f64,
        /// Standard deviation of the mean.
        scale: f64,
        /// Degrees of freedom: one less than the number of readings.
        freedom: f64,
    },
}

impl From<Estimate> for Distribution {
    fn from(estimate: Estimate) -> Self {
        Self::Normal { mean: estimate.value, sd: estimate.u }
    }
}

impl Distribution {
    /// Mean and standard deviation; `None` for parameters that make no distribution, and where one of the two does
    /// not exist (Student's with two degrees of freedom or fewer).
    pub fn estimate(self) -> Option<Estimate> {
        self.check().ok()?;
        match self {
            Self::Normal { mean, sd } => Some(Estimate::new(mean, sd)),
            Self::Rectangular { low, high } => Some(Estimate::between(low, high)),
            Self::Triangular { low, mode, high } => {
                let (below, above, width) = (mode - low, high - mode, high - low);
                let variance = (below * width + above * above) / 18.0;
                Some(Estimate::new((low + mode + high) / 3.0, variance.sqrt()))
            }
            Self::Student { mean, scale, freedom } => {
                (freedom > 2.0).then(|| Estimate::new(mean, scale * (freedom / (freedom - 2.0)).sqrt()))
            }
        }
    }

    fn check(self) -> Result<(), &'static str> {
        let (numbers, fault) = match self {
            Self::Normal { mean, sd } => ([mean, sd, 0.0], (sd < 0.0).then_some("sd is negative")),
            Self::Rectangular { low, high } => {
                ([low, high, 0.0], (low > high).then_some("low is above high"))
            }
            Self::Triangular { low, mode, high } => (
                [low, mode, high],
                (low > mode || mode > high).then_some("low, mode and high are out of order"),
            ),
            Self::Student { mean, scale, freedom } => (
                [mean, scale, freedom],
                if scale < 0.0 {
                    Some("scale is negative")
                } else {
                    (freedom <= 0.0).then_some("there is no degree of freedom")
                },
            ),
        };
        if numbers.iter().any(|number| !number.is_finite()) {
            return Err("a parameter is not a finite number");
        }
        fault.map_or(Ok(()), Err)
    }

    fn sampler(self) -> Result<Sampler, &'static str> {
        self.check()?;
        Ok(match self {
            Self::Normal { mean, sd } => Sampler::Normal(mean, sd),
            Self::Rectangular { low, high } => Sampler::Rectangular(low, high - low),
            Self::Triangular { low, mode, high } => Sampler::Triangular { low, mode, high },
            Self::Student { mean, scale, freedom } => {
                let standard = StudentT::new(freedom).map_err(|_| "there is no degree of freedom")?;
                Sampler::Student(mean, scale, standard)
            }
        })
    }
}

enum Sampler {
    Normal(f64, f64),
    Rectangular(f64, f64),
    Triangular { low: f64, mode: f64, high: f64 },
    Student(f64, f64, StudentT<f64>),
}

impl Sampler {
    fn draw(&self, random: &mut Xoshiro256PlusPlus) -> f64 {
        match self {
            Self::Normal(mean, sd) => {
                let standard: f64 = StandardNormal.sample(random);
                mean + sd * standard
            }
            Self::Rectangular(low, width) => {
                let share: f64 = Open01.sample(random);
                low + width * share
            }
            // By the inverse of its distribution function.
            Self::Triangular { low, mode, high } => {
                let share: f64 = Open01.sample(random);
                let rising = share * (high - low);
                if rising <= mode - low {
                    low + (rising * (mode - low)).sqrt()
                } else {
                    high - ((high - low - rising) * (high - mode)).sqrt()
                }
            }
            Self::Student(mean, scale, standard) => mean + scale * standard.sample(random),
        }
    }
}

/// What the draws say of the result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonteCarlo {
    /// Mean of the draws.
    pub mean: f64,
    /// Their standard deviation, the result's standard uncertainty.
    pub u: f64,
    /// 95 % coverage interval with as much probability below as above (JCGM 101:2008, 7.7.1).
    pub interval: [f64; 2],
    /// The shortest 95 % coverage interval (JCGM 101:2008, 7.7.2, 5.3.4).
    pub shortest: [f64; 2],
    /// How many draws there were.
    pub samples: usize,
}

/// Why there is no Monte Carlo result.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MonteCarloError {
    /// Too few draws say nothing of a 95 % interval; too many would not fit in memory.
    #[error("{asked} draws asked for; {least} to {most} can be made")]
    Samples {
        /// What was asked for.
        asked: usize,
        /// The fewest.
        least: usize,
        /// The most.
        most: usize,
    },
    /// An input's parameters make no distribution.
    #[error("input {input}: {reason}")]
    Distribution {
        /// Place of the input, from 0.
        input: usize,
        /// What is wrong.
        reason: &'static str,
    },
    /// The function gave no finite number for some of the draws, so its distribution is not known.
    #[error("no finite result for {count} of {samples} draws")]
    NotFinite {
        /// How many draws.
        count: usize,
        /// Of how many.
        samples: usize,
    },
}

/// Probability of both coverage intervals.
const COVERAGE: f64 = 0.95;

/// Limits on the number of draws: a tail of 2.5 % needs a handful of them, and the most take 160 MB.
const LEAST: usize = 200;
const MOST: usize = 20_000_000;

/// Draws `samples` times from independent inputs and looks at what `f` makes of them (JCGM 101:2008, 7).
///
/// The same seed gives the same draws (xoshiro256++, D. Blackman and S. Vigna 2021, ACM Trans. Math. Softw.
/// 47:36). The standard error of `u` is about `u / sqrt(2 samples)` for a result near normal; JCGM 101 suggests a
/// million draws. Refused: a number of draws under 200 or over 20 million, inputs that make no distribution, and a
/// function that is not finite on every draw.
pub fn monte_carlo(
    inputs: &[Distribution],
    samples: usize,
    seed: u64,
    f: impl Fn(&[f64]) -> f64,
) -> Result<MonteCarlo, MonteCarloError> {
    if !(LEAST..=MOST).contains(&samples) {
        return Err(MonteCarloError::Samples { asked: samples, least: LEAST, most: MOST });
    }
    let samplers = inputs
        .iter()
        .enumerate()
        .map(|(input, distribution)| {
            distribution.sampler().map_err(|reason| MonteCarloError::Distribution { input, reason })
        })
        .collect::<Result<Vec<_>, _>>()?;

    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut at = vec![0.0; inputs.len()];
    let mut results: Vec<f64> = (0..samples)
        .map(|_| {
            for (value, sampler) in at.iter_mut().zip(&samplers) {
                *value = sampler.draw(&mut random);
            }
            f(&at)
        })
        .collect();
    let count = results.iter().filter(|result| !result.is_finite()).count();
    if count > 0 {
        return Err(MonteCarloError::NotFinite { count, samples });
    }
    results.sort_unstable_by(f64::total_cmp);
    summary(&results).ok_or(MonteCarloError::NotFinite { count: samples, samples })
}

/// Of sorted, finite results, at least [`LEAST`] of them; `None` if their sums leave the range of `f64`.
fn summary(sorted: &[f64]) -> Option<MonteCarlo> {
    let samples = sorted.len();
    let n = samples as f64;
    let origin = *sorted.get(samples / 2)?;
    let mean = origin + sorted.iter().map(|result| result - origin).sum::<f64>() / n;
    let u = (sorted.iter().map(|result| (result - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    if !mean.is_finite() || !u.is_finite() {
        return None;
    }
    let inside = (COVERAGE * n).round() as usize;
    let below = (samples - inside).div_ceil(2);
    let interval = [*sorted.get(below.checked_sub(1)?)?, *sorted.get(below - 1 + inside)?];
    let shortest = sorted
        .iter()
        .zip(sorted.iter().skip(inside))
        .min_by(|(a_low, a_high), (b_low, b_high)| (*a_high - *a_low).total_cmp(&(*b_high - *b_low)))
        .map(|(low, high)| [*low, *high])?;
    Some(MonteCarlo { mean, u, interval, shortest, samples })
}
