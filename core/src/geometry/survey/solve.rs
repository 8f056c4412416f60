//! Weighted least squares by Gauss-Newton steps that stay out of what the readings leave open.

use super::Statement;
use super::model::{SPREAD, UNKNOWNS, pack, readings, start, unpack};
use crate::geometry::Bicycle;
use crate::quantity::jacobian;
use nalgebra::{DMatrix, DVector};

/// Standard uncertainties below this count as this, mm or degrees: an exact reading is good to a nanometre.
pub(super) const SUREST: f64 = 1e-6;
/// Directions in which the readings, each scaled to unit gradient, say less than this are open.
const OPEN: f64 = 1e-7;
/// Step of a derivative, in units of [`SPREAD`]: truncation (fourth order) and rounding both stay near 1e-12.
pub(super) const STEP: f64 = 1e-2;
/// A step this small, in units of [`SPREAD`], ends the iteration.
const SETTLED: f64 = 1e-10;
/// A step this small that no longer shrinks is rounding and ends it too.
const NEARLY: f64 = 1e-6;
/// More steps than any consistent set of readings needs.
const MOST_STEPS: usize = 60;

/// A bicycle that fits the readings as well as any near it, and what they say of its numbers.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub(super) bicycle: Bicycle,
    pub(super) chi_square: f64,
    /// Stated minus fitted, in standard uncertainties of the statement.
    pub(super) weighted_residuals: DVector<f64>,
    /// Orthonormal basis of what the readings determine, columns, unknowns in units of [`SPREAD`].
    pub(super) determined: DMatrix<f64>,
    /// Covariance of the unknowns in units of [`SPREAD`], zero in the open directions.
    pub(super) covariance: DMatrix<f64>,
    /// How much of each statement's own scatter its residual keeps: 0 where nothing else checks it, up to 1.
    pub(super) redundancy: Vec<f64>,
}

impl Fit {
    pub(super) fn rank(&self) -> usize {
        self.determined.ncols()
    }

    /// The part of a gradient (by unknowns in units of [`SPREAD`]) that the readings leave open.
    pub(super) fn open_part(&self, gradient: &DVector<f64>) -> f64 {
        let closed = &self.determined * self.determined.tr_mul(gradient);
        (gradient - closed).norm()
    }
}

struct Linear {
    /// Orthonormal basis of the determined directions.
    determined: DMatrix<f64>,
    /// Weighted design in that basis.
    design: DMatrix<f64>,
}

fn weights(statements: &[Statement]) -> DVector<f64> {
    DVector::from_iterator(statements.len(), statements.iter().map(|s| 1.0 / s.estimate.u.max(SUREST)))
}

fn weighted_residuals(statements: &[Statement], bicycle: &Bicycle) -> DVector<f64> {
    let fitted = readings(statements, bicycle);
    DVector::from_iterator(
        statements.len(),
        statements
            .iter()
            .zip(fitted)
            .map(|(s, fitted)| (s.estimate.value - fitted) / s.estimate.u.max(SUREST)),
    )
}

/// The readings as linear functions near `bicycle`; `None` at the edge of the domain.
fn linear(statements: &[Statement], bicycle: &Bicycle) -> Option<Linear> {
    if statements.is_empty() {
        // A matrix without rows has no decomposition; it leaves everything open.
        let nothing = DMatrix::zeros(UNKNOWNS, 0);
        return Some(Linear { determined: nothing, design: DMatrix::zeros(0, 0) });
    }
    let steps = SPREAD.map(|spread| spread * STEP);
    let mut slopes = jacobian(&pack(bicycle), &steps, |x| match <&[f64; UNKNOWNS]>::try_from(x) {
        Ok(x) => readings(statements, &unpack(x)),
        Err(_) => Vec::new(),
    });
    for (mut column, spread) in slopes.column_iter_mut().zip(SPREAD) {
        column *= spread;
    }
    if !slopes.iter().all(|slope| slope.is_finite()) {
        return None;
    }
    // What is determined does not depend on how surely: equal weight for every reading, whatever its u.
    let mut directions = slopes.clone();
    for mut row in directions.row_iter_mut() {
        let length = row.norm();
        if length > 0.0 {
            row /= length;
        }
    }
    let turned = directions.svd(false, true);
    let basis = turned.v_t?;
    let rank = turned.singular_values.iter().filter(|value| **value > OPEN).count();
    // Singular values come in descending order.
    let determined = basis.rows(0, rank).transpose();
    for (mut row, weight) in slopes.row_iter_mut().zip(weights(statements).iter()) {
        row *= *weight;
    }
    let design = slopes * &determined;
    Some(Linear { determined, design })
}

/// Fits a bicycle to the statements, starting from `nominal`. `None` if the steps do not settle or leave the domain:
/// the readings contradict each other beyond what a least squares fit can mend.
pub(super) fn fit(statements: &[Statement], nominal: &Bicycle) -> Option<Fit> {
    let mut bicycle = start(statements, nominal);
    let mut residuals = weighted_residuals(statements, &bicycle);
    let mut settled = false;
    let mut last = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let Linear { determined, design } = linear(statements, &bicycle)?;
        if determined.ncols() == 0 {
            settled = true;
            break;
        }
        let solved = design.svd(true, true).solve(&residuals, 0.0).ok()?;
        let step = determined * solved;
        let Some((candidate, left)) = downhill(statements, &bicycle, &step, residuals.norm_squared()) else {
            settled = step.amax() <= NEARLY;
            break;
        };
        bicycle = candidate;
        residuals = left;
        let size = step.amax();
        if size <= SETTLED || (size <= NEARLY && size > last / 2.0) {
            settled = true;
            break;
        }
        last = size;
    }
    if !settled {
        return None;
    }
    finish(statements, bicycle, residuals)
}

/// The longest of the step and its halves, quarters and so on that does not make the fit worse.
fn downhill(
    statements: &[Statement],
    bicycle: &Bicycle,
    step: &DVector<f64>,
    before: f64,
) -> Option<(Bicycle, DVector<f64>)> {
    let mut share = 1.0;
    while share > 1e-6 {
        let mut x = pack(bicycle);
        for ((unknown, by), spread) in x.iter_mut().zip(step.iter()).zip(SPREAD) {
            *unknown += share * by * spread;
        }
        let candidate = unpack(&x);
        let residuals = weighted_residuals(statements, &candidate);
        let after = residuals.norm_squared();
        // The allowance is rounding: near the end a step changes chi-square by less than its last digits.
        if after.is_finite() && after <= before + 1e-10 * (1.0 + before) {
            return Some((candidate, residuals));
        }
        share /= 2.0;
    }
    None
}

fn finish(statements: &[Statement], bicycle: Bicycle, weighted_residuals: DVector<f64>) -> Option<Fit> {
    let Linear { determined, design } = linear(statements, &bicycle)?;
    if determined.ncols() == 0 {
        return Some(Fit {
            bicycle,
            chi_square: weighted_residuals.norm_squared(),
            redundancy: vec![1.0; statements.len()],
            weighted_residuals,
            determined,
            covariance: DMatrix::zeros(UNKNOWNS, UNKNOWNS),
        });
    }
    let turned = design.svd(true, true);
    let (left, right) = (turned.u?, turned.v_t?);
    let mut spread = right.transpose();
    for (mut column, value) in spread.column_iter_mut().zip(turned.singular_values.iter()) {
        column /= *value;
    }
    let root = &determined * spread;
    let covariance = &root * root.transpose();
    let redundancy = left.row_iter().map(|row| (1.0 - row.norm_squared()).clamp(0.0, 1.0)).collect();
    Some(Fit {
        bicycle,
        chi_square: weighted_residuals.norm_squared(),
        weighted_residuals,
        determined,
        covariance,
        redundancy,
    })
}
