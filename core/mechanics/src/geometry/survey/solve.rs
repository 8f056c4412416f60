//! The bicycle that fits the readings best.

use super::Statement;
use super::model::{SPREAD, UNKNOWNS, pack, readings, start, unpack};
use crate::geometry::Bicycle;
use nalgebra::{DMatrix, DVector};
use steerwright_metrology::least_squares::{Damping, Settings, Solution, Unknown, minimise};

/// Standard uncertainties below this are raised to it, mm or degrees: an exact reading is good to a
/// nanometre.
const MIN_U: f64 = 1e-6;
/// Step of a derivative, in units of [`SPREAD`]: truncation (fourth order) and rounding both stay near 1e-12.
pub(super) const STEP: f64 = 1e-2;
/// Short steps, since a long one may land on a mirror image such as an axle behind its steering axis.
const SEARCH: Settings =
    Settings { difference: STEP, damping: Damping::Levenberg, max_step: 1.0, min_gain: None };

/// A bicycle that fits the readings as well as any near it, and the solution of the least squares problem.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub(super) bicycle: Bicycle,
    /// The residuals are stated minus fitted.
    pub(super) solution: Solution,
    /// Covariance of the unknowns in units of [`SPREAD`], zero in the open directions.
    pub(super) covariance: DMatrix<f64>,
}

impl Fit {
    pub(super) fn chi_square(&self) -> f64 {
        self.solution.chi_square
    }

    /// The part of a gradient (by unknowns in units of [`SPREAD`]) that the readings leave undetermined.
    pub(super) fn open_part(&self, gradient: &DVector<f64>) -> f64 {
        self.solution.open_part(gradient)
    }
}

/// Fits a bicycle to the statements, starting from `nominal`. `None` if the iteration does not converge or
/// leaves the domain: the readings contradict each other beyond what a least squares fit can resolve.
pub(super) fn fit(statements: &[Statement], nominal: &Bicycle) -> Option<Fit> {
    let start = pack(&start(statements, nominal));
    let unknowns: Vec<Unknown> =
        start.into_iter().zip(SPREAD).map(|(start, scale)| Unknown { start, scale, prior: None }).collect();
    let solution = minimise(&unknowns, &SEARCH, |x| {
        let fitted = readings(statements, &bicycle(x)?);
        let residual = |(s, fitted): (&Statement, f64)| (s.estimate.value - fitted) / s.estimate.u.max(MIN_U);
        Some(statements.iter().zip(fitted).map(residual).collect())
    })?;
    let covariance = solution.scaled_covariance()?;
    Some(Fit { bicycle: bicycle(&solution.values)?, solution, covariance })
}

fn bicycle(x: &[f64]) -> Option<Bicycle> {
    <&[f64; UNKNOWNS]>::try_from(x).ok().map(unpack)
}
