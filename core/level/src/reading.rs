//! One reading: the mean of samples of a phone at rest.

use super::Sample;
use serde::{Deserialize, Serialize};

/// The heading of the bike. The other one is turned round on the same spot, each wheel where the other was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Bearing {
    /// The first heading.
    OneWay,
    /// Turned round.
    OtherWay,
}

impl Bearing {
    /// Both.
    pub const ALL: [Self; 2] = [Self::OneWay, Self::OtherWay];

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::OneWay => "one_way",
            Self::OtherWay => "other_way",
        }
    }

    pub(super) fn sign(self) -> f64 {
        match self {
            Self::OneWay => 1.0,
            Self::OtherWay => -1.0,
        }
    }
}

/// The position of the phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Pose {
    /// A long edge along what is measured: a straight fork leg for the head angle, the seat tube for the seat angle.
    Along,
    /// Its back flat on the left side of the rear wheel's rim, the screen to the left.
    LeanLeft,
    /// Its back flat on the right side of the rear wheel's rim, the screen to the right.
    LeanRight,
}

impl Pose {
    /// Every pose.
    pub const ALL: [Self; 3] = [Self::Along, Self::LeanLeft, Self::LeanRight];

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Along => "along",
            Self::LeanLeft => "lean_left",
            Self::LeanRight => "lean_right",
        }
    }
}

/// A reading with its heading and position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The heading of the bike.
    pub bearing: Bearing,
    /// The position of the phone.
    pub pose: Pose,
    /// The mean of the samples.
    pub still: Still,
}

/// The mean of the samples of one reading with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Still {
    /// Mean, m/s².
    pub mean: Sample,
    /// Standard uncertainty of each component of the mean, m/s².
    pub u: Sample,
    /// Number of samples.
    pub count: usize,
}

/// Why samples give no reading.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Unsteady {
    /// Too few samples.
    #[error(
        "there are {count} samples; expected at least {}. Hold the phone still a little longer.",
        Still::FEWEST
    )]
    TooFew {
        /// Their number.
        count: usize,
    },
    /// A sample has a component that is not a number.
    #[error("sample {number} is not a number in every axis")]
    NotFinite {
        /// Its number, from 1.
        number: usize,
    },
    /// Every sample is the same to the last bit.
    #[error("every sample is the same; the sensor does not seem to be running")]
    Frozen,
    /// The samples scatter too much.
    #[error(
        "the phone shook: the samples scatter by {scatter:.2} m/s², more than {limit}. Rest the hand on the frame and read again."
    )]
    Shaken {
        /// Root mean square distance from the mean, m/s².
        scatter: f64,
        /// The limit.
        limit: f64,
    },
    /// The mean drifts between the two halves.
    #[error(
        "the phone moved during the reading, by {degrees:.2} degrees from its first half to its second; more than {limit}. Read again."
    )]
    Moved {
        /// Angle between the means of the two halves, degrees.
        degrees: f64,
        /// The limit.
        limit: f64,
    },
    /// The length of the mean differs from gravity.
    #[error("the samples are {length:.2} m/s² long, and gravity is {gravity}; the phone was moving, or the numbers are in another unit", gravity = super::known::GRAVITY)]
    NotGravity {
        /// Length of the mean, m/s².
        length: f64,
    },
    /// The length of the mean is about one: the unit is g.
    #[error("the samples are about 1 long: they are in units of g; expected m/s² (multiply by 9.80665)")]
    InUnitsOfG,
}

impl Still {
    /// Fewest samples of a reading.
    pub const FEWEST: usize = 10;
    /// Root mean square scatter above which a phone counts as shaken, m/s². P: a sensor at rest scatters by 0.01 to
    /// 0.05, a hand resting on the frame by 0.1.
    pub const MOST_SCATTER: f64 = 0.3;
    /// A phone that rotated by more than this within a reading, degrees, was not held to the frame. P.
    pub const MOST_TURN: f64 = 0.3;
    /// Greatest difference of the length of the mean from gravity, m/s²: the worst zero offset and scale of a sensor.
    pub const MOST_OFF: f64 = 0.5;
    /// Blocks for the uncertainty of the mean. Successive samples correlate, since phones filter them.
    const BLOCKS: usize = 10;

    /// The mean of samples in chronological order.
    ///
    /// Its uncertainty is that of the mean of ten successive blocks (batch means; JCGM 100:2008, 4.2.3, on blocks that
    /// are long against the filter of the sensor), so correlated samples do not reduce it.
    ///
    /// # Errors
    /// Why the samples give no reading.
    pub fn of(samples: &[Sample]) -> Result<Self, Unsteady> {
        if samples.len() < Self::FEWEST {
            return Err(Unsteady::TooFew { count: samples.len() });
        }
        if let Some(place) = samples.iter().position(|sample| !sample.is_finite()) {
            return Err(Unsteady::NotFinite { number: place + 1 });
        }
        let mean = mean(samples);
        let length = mean.length();
        if (0.9..1.1).contains(&length) {
            return Err(Unsteady::InUnitsOfG);
        }
        // False for NaN and infinity as well.
        let near = (length - super::known::GRAVITY).abs() <= Self::MOST_OFF;
        if !near {
            return Err(Unsteady::NotGravity { length });
        }
        if samples.windows(2).all(|pair| matches!(pair, [a, b] if a == b)) {
            return Err(Unsteady::Frozen);
        }
        let square = |sample: &Sample| sample.minus(mean).length().powi(2);
        let scatter = (samples.iter().map(square).sum::<f64>() / samples.len() as f64).sqrt();
        if scatter > Self::MOST_SCATTER {
            return Err(Unsteady::Shaken { scatter, limit: Self::MOST_SCATTER });
        }
        let (first, second) = samples.split_at(samples.len() / 2);
        let degrees = (self::mean(first).minus(self::mean(second)).length() / length).to_degrees();
        if degrees > Self::MOST_TURN {
            return Err(Unsteady::Moved { degrees, limit: Self::MOST_TURN });
        }
        let bounds = |block: usize| block * samples.len() / Self::BLOCKS;
        let blocks: Vec<Sample> = (0..Self::BLOCKS)
            .filter_map(|block| samples.get(bounds(block)..bounds(block + 1)))
            .map(self::mean)
            .collect();
        let u = standard_error(&blocks);
        Ok(Self { mean, u, count: samples.len() })
    }
}

fn mean(samples: &[Sample]) -> Sample {
    let sum = samples.iter().fold(Sample::new(0.0, 0.0, 0.0), |sum, sample| sum.plus(*sample));
    sum.times(1.0 / samples.len() as f64)
}

fn standard_error(blocks: &[Sample]) -> Sample {
    let middle = mean(blocks);
    let n = blocks.len() as f64;
    let of = |axis: fn(&Sample) -> f64| {
        let squares: f64 = blocks.iter().map(|block| (axis(block) - axis(&middle)).powi(2)).sum();
        (squares / (n - 1.0) / n).sqrt()
    };
    Sample::new(of(|s| s.x), of(|s| s.y), of(|s| s.z))
}
