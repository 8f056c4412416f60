//! A session: the readings of one bike on one day, and their angle.

use super::lean::{drop, lean};
use super::model::{self, Prepared};
use super::{Bearing, LevelPriors, Pose, Reading};
use serde::{Deserialize, Serialize};
use steerwright_metrology::conformity::chi_square_tail;
use steerwright_metrology::least_squares::{Damping, Settings, Solution, minimise};
use steerwright_metrology::quantity::Measurement;
use steerwright_metrology::quantity::{Estimate, Instrument, Quantity, Unit};

/// The readings of one bike, taken with one phone on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// [`Quantity::HeadAngle`] or [`Quantity::SeatAngle`].
    pub what: Quantity,
    /// The readings, in any order.
    pub readings: Vec<Reading>,
}

/// The angle with residuals and doubts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Level {
    /// Head or seat angle.
    pub what: Quantity,
    /// The angle from the floor, degrees.
    pub angle: Estimate,
    /// Slope of the floor along the bike, degrees; positive if it makes the bike in heading `one_way` look steeper.
    pub slope: Estimate,
    /// Lean to the right in each of the two headings, degrees, where it was read.
    pub lean: [Option<Estimate>; 2],
    /// Every reading with the phone's edge along the bike.
    pub readings: Vec<Residual>,
    /// Sum of all squared residuals, each over its standard uncertainty.
    pub chi_square: f64,
    /// Degrees of freedom: residuals minus unknowns.
    pub freedom: usize,
    /// Doubts about the angle.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<Doubt>,
}

/// One reading and its residual.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Residual {
    /// Its number among the readings of the session, from 1.
    pub reading: usize,
    /// The heading of the bike.
    pub bearing: Bearing,
    /// Elevation of the upper end of the edge as measured, degrees.
    pub elevation: f64,
    /// Samples in it.
    pub samples: usize,
    /// Residual over its standard uncertainty; an absolute value over 3 is suspicious.
    pub normalised: f64,
}

/// A doubt about an angle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, thiserror::Error, schemars::JsonSchema)]
#[serde(tag = "doubt", rename_all = "snake_case", deny_unknown_fields)]
pub enum Doubt {
    /// The bike was read in one heading only.
    #[error(
        "The bike was read one way only, so the floor's slope is part of the angle. Turn it round on the same spot and read again."
    )]
    NotTurnedRound,
    /// The phone was read in one position only.
    #[error(
        "The phone was laid on in one position only, so its own error is part of the angle. Turn it end for end, and its screen to the other side."
    )]
    PhoneNotTurned,
    /// The readings do not agree.
    #[error(
        "The readings do not agree (chance {probability:.4}); reading {reading} fits worst. The uncertainty is widened; read that one again."
    )]
    Disagree {
        /// The reading that fits worst, from 1.
        reading: usize,
        /// Probability of so large a misfit by chance.
        probability: f64,
    },
}

/// Why a session gives no angle.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LevelError {
    /// Not an angle that a phone's edge can measure.
    #[error("a phone's edge measures head_angle or seat_angle, not {what}")]
    What {
        /// The requested quantity.
        what: Quantity,
    },
    /// No reading along the bike.
    #[error("there is no reading with the phone's edge along the bike (pose `along`)")]
    NoReading,
    /// The edge's elevation is impossible for a fork leg or tube of a bike.
    #[error(
        "in reading {reading} the phone's edge rises at {elevation:.1} degrees; expected 40 to 88. Was its long edge along the fork leg or tube?"
    )]
    NotAlong {
        /// Which reading, from 1.
        reading: usize,
        /// Its elevation, degrees.
        elevation: f64,
    },
    /// The bike leans too far to correct.
    #[error("the bike leans by {lean:.1} degrees; hold it upright, within {}", Session::MOST_LEAN)]
    Leaning {
        /// Its lean, degrees.
        lean: f64,
    },
    /// Two sessions of different angles.
    #[error("the two sessions measure different angles")]
    DifferentAngles,
    /// The adjustment does not converge, or a prior is not above zero.
    #[error("the readings do not lead to an angle")]
    NoAnswer,
}

/// Readings whose agreement is less probable are doubted.
const IMPROBABLE: f64 = 0.01;
/// A residual that keeps less than this of the reading's own variance is a rounding error, not a check.
const CHECKED: f64 = 1e-6;
/// The model is nearly linear over the prior range of each unknown, so plain Gauss-Newton steps converge.
const SEARCH: Settings =
    Settings { difference: 0.05, damping: Damping::Levenberg, max_step: f64::INFINITY, min_gain: None };

impl Session {
    /// The largest lean that is corrected, degrees.
    pub const MOST_LEAN: f64 = 15.0;
    /// Elevations of the edge that belong to a bike.
    const ALONG: std::ops::RangeInclusive<f64> = 40.0..=88.0;

    /// Adjusts the readings together with the priors `known`; see the [module](super).
    ///
    /// # Errors
    /// Readings that give no angle, as [`LevelError`] says.
    pub fn level(&self, known: &LevelPriors) -> Result<Level, LevelError> {
        let (mut levels, _) = fit(&[self], known)?;
        levels.pop().ok_or(LevelError::NoAnswer)
    }

    fn prepared(&self, known: &LevelPriors) -> Result<(Prepared<'_>, [Option<Estimate>; 2]), LevelError> {
        if !matches!(self.what, Quantity::HeadAngle | Quantity::SeatAngle) {
            return Err(LevelError::What { what: self.what });
        }
        let mut elevations = Vec::new();
        for (place, reading) in self.readings.iter().enumerate().filter(|(_, it)| it.pose == Pose::Along) {
            let elevation = reading.still.mean.elevation().abs();
            if !Self::ALONG.contains(&elevation) {
                return Err(LevelError::NotAlong { reading: place + 1, elevation });
            }
            elevations.push(elevation);
        }
        if elevations.is_empty() {
            return Err(LevelError::NoReading);
        }
        let guess = elevations.iter().sum::<f64>() / elevations.len() as f64;
        let leans = Bearing::ALL.map(|bearing| lean(&self.readings, bearing, known));
        if let Some(lean) = leans.iter().flatten().find(|lean| lean.value.abs() > Self::MOST_LEAN) {
            return Err(LevelError::Leaning { lean: lean.value.abs() });
        }
        let drops = leans.map(|read| drop(guess, read, known));
        Ok((Prepared { readings: &self.readings, guess, drops }, leans))
    }
}

impl Level {
    /// The angle as a row of a bike file, to a hundredth of a degree, `plus_minus` with coverage factor 2.
    pub fn measurement(&self) -> Measurement {
        let hundredths = |value: f64| (value * 100.0).round() / 100.0;
        Measurement {
            what: self.what,
            value: hundredths(self.angle.value),
            unit: Unit::Deg,
            with: Instrument::PhoneLevel,
            plus_minus: Some(hundredths(self.angle.expanded()).max(0.01)),
            at: None,
            note: None,
        }
    }
}

/// The angles of sessions with one phone, and their covariance, row by row.
pub(super) fn fit(
    sessions: &[&Session],
    known: &LevelPriors,
) -> Result<(Vec<Level>, Vec<Vec<f64>>), LevelError> {
    if !known.is_sound() {
        return Err(LevelError::NoAnswer);
    }
    let ready = sessions.iter().map(|session| session.prepared(known)).collect::<Result<Vec<_>, _>>()?;
    let (prepared, leans): (Vec<_>, Vec<_>) = ready.into_iter().unzip();
    let unknowns = model::unknowns(&prepared, known);
    let solution = minimise(&unknowns, &SEARCH, |at| model::residuals(&prepared, known, at));
    let solution = solution.ok_or(LevelError::NoAnswer)?;
    let covariance = solution.covariance().ok_or(LevelError::NoAnswer)?;
    let (freedom, chi_square) = (solution.degrees_of_freedom(), solution.chi_square);
    let probability = chi_square_tail(chi_square, freedom).filter(|p| *p < IMPROBABLE);
    // Readings that contradict each other by more than chance: the uncertainty grows by Birge's ratio.
    let wider = probability.map_or(1.0, |_| (chi_square / freedom as f64).sqrt().max(1.0));
    let mut row = 0;
    let mut levels = Vec::new();
    for (place, (session, lean)) in sessions.iter().zip(leans).enumerate() {
        let readings = residuals(session, &solution, &mut row);
        let angle = model::place_of_angle(place);
        let estimate = |at: usize| -> Option<Estimate> {
            let u = covariance.get((at, at))?.sqrt() * wider;
            Some(Estimate::new(*solution.values.get(at)?, u)).filter(|it| it.is_sound())
        };
        levels.push(Level {
            what: session.what,
            angle: estimate(angle).ok_or(LevelError::NoAnswer)?,
            slope: estimate(angle + 1).ok_or(LevelError::NoAnswer)?,
            lean,
            doubts: doubts(session, &readings, probability),
            readings,
            chi_square,
            freedom,
        });
    }
    let places: Vec<usize> = (0..sessions.len()).map(model::place_of_angle).collect();
    let of = |a: usize, b: usize| covariance.get((a, b)).copied().unwrap_or(f64::NAN) * wider * wider;
    let covariances = places.iter().map(|a| places.iter().map(|b| of(*a, *b)).collect()).collect();
    Ok((levels, covariances))
}

fn residuals(session: &Session, solution: &Solution, row: &mut usize) -> Vec<Residual> {
    let normalised = solution.normalised(CHECKED);
    let mut residuals = Vec::new();
    for (place, reading) in session.readings.iter().enumerate() {
        if reading.pose == Pose::Along {
            residuals.push(Residual {
                reading: place + 1,
                bearing: reading.bearing,
                elevation: reading.still.mean.elevation().abs(),
                samples: reading.still.count,
                normalised: normalised.get(*row).copied().flatten().unwrap_or(0.0),
            });
        }
        *row += model::rows_of(reading);
    }
    residuals
}

fn doubts(session: &Session, readings: &[Residual], probability: Option<f64>) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    if !Bearing::ALL.iter().all(|bearing| readings.iter().any(|it| it.bearing == *bearing)) {
        doubts.push(Doubt::NotTurnedRound);
    }
    let along = session.readings.iter().filter(|reading| reading.pose == Pose::Along);
    let top_up: Vec<bool> = along.map(|reading| reading.still.mean.y > 0.0).collect();
    if top_up.iter().all(|up| *up) || top_up.iter().all(|up| !*up) {
        doubts.push(Doubt::PhoneNotTurned);
    }
    let worst = readings.iter().max_by(|a, b| a.normalised.abs().total_cmp(&b.normalised.abs()));
    if let (Some(probability), Some(worst)) = (probability, worst) {
        doubts.push(Doubt::Disagree { reading: worst.reading, probability });
    }
    doubts
}
