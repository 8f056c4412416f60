//! Weighted least squares by Gauss-Newton steps that stay out of what the readings leave open.

use super::Statement;
use super::model::{SPREAD, UNKNOWNS, pack, readings, start, unpack};
use crate::geometry::Bicycle;
use nalgebra::{DMatrix, DVector, Dyn, PermutationSequence};
use steerwright_metrology::quantity::jacobian;

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
/// No unknown moves further in one step, in units of [`SPREAD`].
const LONGEST_STEP: f64 = 1.0;
/// Powers of ten of the dampings that are tried.
const LEAST_DAMPED: i32 = -6;
const MOST_DAMPED: i32 = 14;
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
    /// Orthonormal basis of the determined directions, columns.
    determined: DMatrix<f64>,
    /// Places of the statements, surest first; the rows of `q`.
    order: Vec<usize>,
    /// The weighted design in that basis, decomposed: design * permutation = q * r.
    q: DMatrix<f64>,
    r: DMatrix<f64>,
    permutation: PermutationSequence<Dyn>,
}

impl Linear {
    /// The step that fits these weighted residuals best, kept short by `damping`: a step of one [`SPREAD`]
    /// then costs as much as a chi-square of that size.
    fn step(&self, residuals: &DVector<f64>, damping: f64) -> Option<DVector<f64>> {
        let sorted = DVector::from_iterator(
            self.order.len(),
            self.order.iter().map(|place| residuals.get(*place).copied().unwrap_or(f64::NAN)),
        );
        let aim = self.q.tr_mul(&sorted);
        let rank = self.r.ncols();
        let mut solved = if damping > 0.0 && rank > 0 {
            let mut stacked = DMatrix::zeros(2 * rank, rank);
            stacked.rows_mut(0, rank).copy_from(&self.r);
            stacked.rows_mut(rank, rank).fill_diagonal(damping.sqrt());
            let damped = stacked.qr();
            damped.r().solve_upper_triangular(&damped.q().rows(0, rank).tr_mul(&aim))?
        } else {
            self.r.solve_upper_triangular(&aim)?
        };
        self.permutation.inv_permute_rows(&mut solved);
        Some(&self.determined * solved)
    }

    /// A root of the covariance of the unknowns: times its transpose it is the covariance.
    fn covariance_root(&self) -> Option<DMatrix<f64>> {
        let rank = self.r.ncols();
        let mut inverse = self.r.solve_upper_triangular(&DMatrix::identity(rank, rank))?;
        self.permutation.inv_permute_rows(&mut inverse);
        Some(&self.determined * inverse)
    }

    /// The share of each statement's variance that the fit does not take up.
    fn redundancy(&self) -> Vec<f64> {
        let mut shares = vec![1.0; self.order.len()];
        for (place, row) in self.order.iter().zip(self.q.row_iter()) {
            if let Some(share) = shares.get_mut(*place) {
                *share = (1.0 - row.norm_squared()).clamp(0.0, 1.0);
            }
        }
        shares
    }
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
    let mut directions = slopes.transpose();
    for mut column in directions.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    // Pivoted QR and not a singular value decomposition: that of nalgebra 0.35 can be wrong in the third
    // digit where singular values repeat or vanish, as they do here.
    let pivoted = directions.col_piv_qr();
    let r = pivoted.r();
    let rank =
        (0..r.nrows()).take_while(|i| r.get((*i, *i)).is_some_and(|length| length.abs() > OPEN)).count();
    let determined = pivoted.q().columns(0, rank).into_owned();
    let mut order: Vec<usize> = (0..statements.len()).collect();
    let weights = weights(statements);
    let weight = |place: usize| weights.get(place).copied().unwrap_or(0.0);
    // Heavy rows first: then the decomposition keeps the digits of the light ones (A. J. Cox and N. J.
    // Higham, Stability of Householder QR factorization for weighted least squares problems, 1998).
    order.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)));
    let all = &slopes * &determined;
    let design = DMatrix::from_fn(order.len(), rank, |row, column| match order.get(row) {
        Some(place) => all.get((*place, column)).map_or(0.0, |slope| slope * weight(*place)),
        None => 0.0,
    });
    let solved = design.col_piv_qr();
    let (q, r, permutation) = (solved.q(), solved.r(), solved.p().clone());
    Some(Linear { determined, order, q, r, permutation })
}

/// Fits a bicycle to the statements, starting from `nominal`. `None` if the steps do not settle or leave the
/// domain: the readings contradict each other beyond what a least squares fit can mend.
pub(super) fn fit(statements: &[Statement], nominal: &Bicycle) -> Option<Fit> {
    let mut bicycle = start(statements, nominal);
    let mut residuals = weighted_residuals(statements, &bicycle);
    let mut settled = false;
    let mut last = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let linear = linear(statements, &bicycle)?;
        let size = linear.step(&residuals, 0.0)?.amax();
        if size <= SETTLED || (size <= NEARLY && size > last / 2.0) {
            settled = true;
            break;
        }
        last = size;
        let Some(next) = downhill(statements, &linear, &bicycle, &residuals) else {
            settled = size <= NEARLY;
            break;
        };
        (bicycle, residuals) = next;
    }
    if !settled {
        return None;
    }
    finish(statements, bicycle, residuals)
}

/// The least damped step that is short and does not make the fit worse, taken.
///
/// Short, since a long step may land on a mirror image such as an axle behind its steering axis; damped and
/// not merely cut, since one poorly known direction would otherwise hold up all others (J. J. Moré, The
/// Levenberg-Marquardt algorithm: implementation and theory, 1978).
fn downhill(
    statements: &[Statement],
    linear: &Linear,
    bicycle: &Bicycle,
    residuals: &DVector<f64>,
) -> Option<(Bicycle, DVector<f64>)> {
    let before = residuals.norm_squared();
    let dampings = std::iter::once(0.0).chain((LEAST_DAMPED..=MOST_DAMPED).map(|power| 10f64.powi(power)));
    for damping in dampings {
        let step = linear.step(residuals, damping)?;
        if step.amax() > LONGEST_STEP {
            continue;
        }
        let mut x = pack(bicycle);
        for ((unknown, by), spread) in x.iter_mut().zip(step.iter()).zip(SPREAD) {
            *unknown += by * spread;
        }
        let candidate = unpack(&x);
        let left = weighted_residuals(statements, &candidate);
        let after = left.norm_squared();
        // The allowance is rounding: near the end a step changes chi-square by less than its last digits.
        if after.is_finite() && after <= before + 1e-10 * (1.0 + before) {
            return Some((candidate, left));
        }
    }
    None
}

fn finish(statements: &[Statement], bicycle: Bicycle, weighted_residuals: DVector<f64>) -> Option<Fit> {
    let linear = linear(statements, &bicycle)?;
    let root = linear.covariance_root()?;
    Some(Fit {
        bicycle,
        chi_square: weighted_residuals.norm_squared(),
        weighted_residuals,
        covariance: &root * root.transpose(),
        redundancy: linear.redundancy(),
        determined: linear.determined,
    })
}
