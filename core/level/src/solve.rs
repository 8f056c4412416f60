//! Least squares by Gauss and Newton, with what was known beforehand as rows of their own.

use super::model::Unknown;
use nalgebra::{DMatrix, DVector};
use steerwright_metrology::quantity::jacobian;

/// Where the misfits are least.
pub(super) struct Solution {
    /// The unknowns.
    pub(super) values: Vec<f64>,
    /// Their covariance: the inverse of the normal matrix.
    pub(super) covariance: DMatrix<f64>,
    /// Misfits there, in units of their standard uncertainty.
    pub(super) misfits: Vec<f64>,
    /// Each misfit over its own standard uncertainty after the fit, `misfit / sqrt(1 - leverage)`.
    pub(super) normalised: Vec<f64>,
}

/// Steps at most; the model is nearly linear, three are usual.
const MOST_STEPS: usize = 30;
/// Done when no unknown moves by more than this part of its own uncertainty.
const STILL: f64 = 1e-7;
/// Step of the differences, in units of what is known of each unknown (1 degree for the angle): wide, since the model is
/// nearly linear over it and a narrow one would drown in rounding.
const DIFFERENCE: f64 = 0.05;

/// `None` if the search does not settle or the unknowns are not determined.
pub(super) fn solve(unknowns: &[Unknown], misfits: impl Fn(&[f64]) -> Vec<f64>) -> Option<Solution> {
    let units: Vec<f64> = unknowns.iter().map(|it| if it.u.is_finite() { it.u } else { 1.0 }).collect();
    let steps = vec![DIFFERENCE; units.len()];
    let there = |at: &[f64]| -> Vec<f64> {
        let values = unknowns.iter().zip(&units).zip(at).map(|((it, unit), at)| it.start + unit * at);
        values.collect()
    };
    let scaled = |at: &[f64]| misfits(&there(at));
    let mut at = vec![0.0; units.len()];
    for _ in 0..MOST_STEPS {
        let slopes = jacobian(&at, &steps, scaled);
        let rows = DVector::from_vec(scaled(&at));
        let inverse = (slopes.transpose() * &slopes).cholesky()?.inverse();
        let step = -(&inverse * slopes.transpose() * &rows);
        if !step.iter().all(|it| it.is_finite()) {
            return None;
        }
        at.iter_mut().zip(&step).for_each(|(at, step)| *at += step);
        let own = inverse.diagonal().map(f64::sqrt);
        let moved = step.iter().zip(&own).map(|(step, own)| step.abs() / own);
        if moved.fold(0.0, f64::max) <= STILL {
            let rows = scaled(&at);
            let leverage = (&slopes * &inverse).component_mul(&slopes).column_sum();
            let normalised = rows.iter().zip(&leverage).map(|(row, h)| row / (1.0 - h).max(1e-12).sqrt());
            let scales = DMatrix::from_diagonal(&DVector::from_column_slice(&units));
            return Some(Solution {
                values: there(&at),
                covariance: &scales * inverse * &scales,
                normalised: normalised.collect(),
                misfits: rows,
            });
        }
    }
    None
}
