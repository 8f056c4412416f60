//! Uncertainty of a change by Monte Carlo (JCGM 101:2008), the check on the first order answer.

use super::angle::sine_cosine;
use super::change::changed;
use super::lanes::{self, Column, INPUTS, LANES, RESULTS};
use super::survey::{UncertainChange, UncertainKit};
use super::{Bicycle, Change, Figure, GeometryError, Offsets};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use steerwright_metrology::quantity::Estimate;

/// What the samples of one result say, mm or degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation.
    pub u: f64,
    /// The probabilistically symmetric 95 % coverage interval (JCGM 101, 7.7).
    pub interval: [f64; 2],
}

/// Monte Carlo results of a change.
#[derive(Debug, Clone, PartialEq)]
pub struct Spreads {
    results: Vec<Spread>,
}

/// Results of each sample: before, after, difference, tilt, pitch.
const SERIES: usize = 3 * Figure::COUNT + 2;

impl Spreads {
    /// A figure before the change.
    pub fn before(&self, figure: Figure) -> Spread {
        self.nth(figure as usize)
    }

    /// A figure after the change.
    pub fn after(&self, figure: Figure) -> Spread {
        self.nth(Figure::COUNT + figure as usize)
    }

    /// After minus before.
    pub fn difference(&self, figure: Figure) -> Spread {
        self.nth(2 * Figure::COUNT + figure as usize)
    }

    /// The steering axis's turn in the frame, degrees, slacker positive.
    pub fn tilt_deg(&self) -> Spread {
        self.nth(3 * Figure::COUNT)
    }

    /// The frame's turn on its wheels, degrees, nose up positive.
    pub fn pitch_deg(&self) -> Spread {
        self.nth(3 * Figure::COUNT + 1)
    }

    fn nth(&self, which: usize) -> Spread {
        let none = Spread { mean: f64::NAN, u: f64::NAN, interval: [f64::NAN; 2] };
        self.results.get(which).copied().unwrap_or(none)
    }
}

/// What an input column is filled with.
#[derive(Debug, Clone, Copy)]
enum Fill {
    /// Independent normal numbers.
    Normal(Estimate),
    /// The same as an earlier column: a part that stays.
    Same(usize),
}

/// Draws `samples` bicycles and changes, every number normal and independent of the others, and summarises
/// the results.
///
/// `u` holds the standard uncertainty of each field of `bicycle`. `samples` is raised to 100 if it is less.
/// The same seed gives the same samples.
///
/// # Errors
/// If a number is outside its domain or an uncertainty is not one, or if any sample comes out without a
/// stance: the inputs are then too unsure for a mean to make sense.
pub fn spread(
    bicycle: &Bicycle,
    u: &Bicycle,
    change: &UncertainChange,
    samples: usize,
    seed: u64,
) -> Result<Spreads, GeometryError> {
    let (fills, tilt) = fills(bicycle, u, change)?;
    let samples = samples.max(100);
    let mut series: [Vec<f64>; SERIES] = std::array::from_fn(|_| vec![0.0; samples.next_multiple_of(LANES)]);
    let sagged = change.front_sag != Estimate::exact(0.0) || change.rear_sag != Estimate::exact(0.0);
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
    pulp::Arch::new().dispatch(Run { fills: &fills, tilt, sagged, rng: &mut rng, series: &mut series });
    let mut spare = Vec::with_capacity(samples);
    let results = series
        .iter()
        .map(|values| summarise(values.get(..samples).unwrap_or_default(), &mut spare))
        .collect::<Option<Vec<Spread>>>()
        .ok_or(GeometryError::NoStance)?;
    Ok(Spreads { results })
}

fn fills(
    bicycle: &Bicycle,
    u: &Bicycle,
    change: &UncertainChange,
) -> Result<([Fill; INPUTS], Option<Estimate>), GeometryError> {
    let tilt = match change.kit {
        Some(UncertainKit::Tilt(tilt)) => Some(tilt),
        _ => None,
    };
    let kit = match change.kit {
        Some(UncertainKit::Offsets { upper_plane, lower_plane, upper, lower }) => {
            [upper_plane, lower_plane, upper, lower]
        }
        _ => [Estimate::exact(0.0); 4],
    };
    let [upper_plane, lower_plane, upper, lower] = kit;
    let number = |value: f64, u: f64| Fill::Normal(Estimate::new(value, u));
    let part = |part: Option<Estimate>, same: usize| part.map_or(Fill::Same(same), Fill::Normal);
    let fills = [
        number(bicycle.wheelbase, u.wheelbase),
        number(bicycle.head_angle, u.head_angle),
        number(bicycle.axle_to_crown, u.axle_to_crown),
        number(bicycle.fork_offset, u.fork_offset),
        number(bicycle.lower_stack, u.lower_stack),
        number(bicycle.head_tube_length, u.head_tube_length),
        number(bicycle.front_radius, u.front_radius),
        number(bicycle.rear_radius, u.rear_radius),
        number(bicycle.chainstay, u.chainstay),
        number(bicycle.bottom_bracket_height, u.bottom_bracket_height),
        number(bicycle.seat_angle, u.seat_angle),
        Fill::Normal(upper_plane),
        Fill::Normal(lower_plane),
        Fill::Normal(upper),
        Fill::Normal(lower),
        part(change.axle_to_crown, 2),
        part(change.fork_offset, 3),
        part(change.front_radius, 6),
        part(change.rear_radius, 7),
        part(change.lower_stack, 4),
        Fill::Normal(change.front_sag),
        Fill::Normal(change.rear_sag),
    ];
    for estimate in fills.iter().filter_map(|fill| match fill {
        Fill::Normal(estimate) => Some(*estimate),
        Fill::Same(_) => None,
    }) {
        if !estimate.is_sound() {
            let (value, high) = (estimate.u, f64::INFINITY);
            return Err(GeometryError::OutOfDomain { what: "standard uncertainty", value, low: 0.0, high });
        }
    }
    // The middle must make sense before its neighbourhood can.
    let middle = Change {
        kit: match tilt {
            Some(tilt) => Some(
                Offsets::for_tilt(tilt.value, bicycle.head_tube_length, 0.0, 0.0)
                    .map_err(|_| GeometryError::NoStance)?,
            ),
            None => Some(Offsets {
                upper_plane: upper_plane.value,
                lower_plane: lower_plane.value,
                upper: upper.value,
                lower: lower.value,
            }),
        },
        axle_to_crown: change.axle_to_crown.map(|e| e.value),
        fork_offset: change.fork_offset.map(|e| e.value),
        front_radius: change.front_radius.map(|e| e.value),
        rear_radius: change.rear_radius.map(|e| e.value),
        lower_stack: change.lower_stack.map(|e| e.value),
        front_sag: change.front_sag.value,
        rear_sag: change.rear_sag.value,
    };
    changed(bicycle, &middle)?;
    Ok((fills, tilt))
}

struct Run<'a> {
    fills: &'a [Fill; INPUTS],
    tilt: Option<Estimate>,
    sagged: bool,
    rng: &'a mut Xoshiro256PlusPlus,
    series: &'a mut [Vec<f64>; SERIES],
}

impl pulp::WithSimd for Run<'_> {
    type Output = ();

    // Inlined into a function compiled for the processor found, where the compiler vectorises the loops.
    #[inline(always)]
    #[expect(clippy::indexing_slicing, reason = "columns by their fixed places")]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let Self { fills, tilt, sagged, rng, series } = self;
        let mut x: [Column; INPUTS] = [[0.0; LANES]; INPUTS];
        let mut out: [Column; RESULTS] = [[0.0; LANES]; RESULTS];
        let mut turns: Column = [0.0; LANES];
        let count = series[0].len();
        for start in (0..count).step_by(LANES) {
            for k in 0..INPUTS {
                match fills[k] {
                    Fill::Normal(estimate) => draw(estimate, rng, &mut x[k]),
                    Fill::Same(column) => x[k] = x[column],
                }
            }
            if let Some(tilt) = tilt {
                draw(tilt, rng, &mut turns);
                for i in 0..LANES {
                    let (sine, cosine) = sine_cosine(turns[i]);
                    let half = x[5][i] * (sine / cosine) / 2.0;
                    x[13][i] = -half;
                    x[14][i] = half;
                }
            }
            lanes::compare(&x, sagged, &mut out);
            for k in 0..2 * Figure::COUNT {
                put(&mut series[k], start, &out[k]);
            }
            for k in 0..Figure::COUNT {
                let mut difference: Column = [0.0; LANES];
                for i in 0..LANES {
                    difference[i] = out[Figure::COUNT + k][i] - out[k][i];
                }
                put(&mut series[2 * Figure::COUNT + k], start, &difference);
            }
            put(&mut series[3 * Figure::COUNT], start, &out[2 * Figure::COUNT]);
            put(&mut series[3 * Figure::COUNT + 1], start, &out[2 * Figure::COUNT + 1]);
        }
    }
}

#[inline(always)]
fn put(column: &mut [f64], start: usize, block: &Column) {
    if let Some(place) = column.get_mut(start..start + LANES) {
        place.copy_from_slice(block);
    }
}

/// Fills a column with normal numbers; exact ones draw nothing.
#[inline(always)]
fn draw(estimate: Estimate, rng: &mut Xoshiro256PlusPlus, column: &mut Column) {
    if estimate.u > 0.0 {
        for place in column.iter_mut() {
            let normal: f64 = StandardNormal.sample(rng);
            *place = estimate.value + estimate.u * normal;
        }
    } else {
        *column = [estimate.value; LANES];
    }
}

/// Mean, standard deviation and interval; `None` if a sample is not a number.
fn summarise(values: &[f64], spare: &mut Vec<f64>) -> Option<Spread> {
    let count = values.len() as f64;
    // From the first sample: sums of small numbers lose no digits.
    let origin = values.first().copied()?;
    let (mut sum, mut squares) = ([0.0; 8], [0.0; 8]);
    for chunk in values.chunks(8) {
        for ((value, sum), squares) in chunk.iter().zip(&mut sum).zip(&mut squares) {
            let d = value - origin;
            *sum += d;
            *squares += d * d;
        }
    }
    let (sum, squares): (f64, f64) = (sum.iter().sum(), squares.iter().sum());
    let mean = origin + sum / count;
    let u = ((squares - sum * sum / count) / (count - 1.0)).max(0.0).sqrt();
    if !(mean.is_finite() && u.is_finite()) {
        return None;
    }
    // JCGM 101, 7.7.2: of M samples, q = 0.95 M lie between the r-th and the (r + q)-th.
    let q = (0.95 * count).round() as usize;
    let r = (values.len() - q) / 2;
    let low = tail(values, spare, r, mean - 1.6 * u, 1.0);
    let high = -tail(values, spare, values.len() - q - r, -(mean + 1.6 * u), -1.0);
    Some(Spread { mean, u, interval: [low, high] })
}

/// The `rank`-th least of `sign * value`, ranks from 1. Only the values under `guess` are ordered, if they
/// are enough.
fn tail(values: &[f64], spare: &mut Vec<f64>, rank: usize, guess: f64, sign: f64) -> f64 {
    spare.clear();
    spare.extend(values.iter().map(|value| sign * value).filter(|value| *value < guess));
    if spare.len() < rank {
        spare.clear();
        spare.extend(values.iter().map(|value| sign * value));
    }
    let place = rank.saturating_sub(1).min(spare.len().saturating_sub(1));
    if spare.is_empty() {
        return f64::NAN;
    }
    *spare.select_nth_unstable_by(place, f64::total_cmp).1
}
