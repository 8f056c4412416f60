//! The residuals linearised at one point.

use super::Damping;
use nalgebra::{DMatrix, DVector, Dyn, PermutationSequence};

/// Directions in which the observations, each scaled to a gradient of length 1, have less information than this are
/// open.
const OPEN: f64 = 1e-7;

/// QR decomposition of the derivatives of the residuals by the unknowns in units of their scales.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    /// Orthonormal basis of the directions that the observations determine, columns.
    determined: DMatrix<f64>,
    /// The observations' indices in the order of the rows of `q`.
    order: Vec<usize>,
    /// In that basis, `derivatives * permutation = q r`.
    q: DMatrix<f64>,
    r: DMatrix<f64>,
    permutation: PermutationSequence<Dyn>,
}

impl Linear {
    /// `None` if a derivative is not finite.
    pub(super) fn new(slopes: DMatrix<f64>) -> Option<Self> {
        if !slopes.iter().all(|slope| slope.is_finite()) {
            return None;
        }
        let determined = determined(&slopes);
        let design = &slopes * &determined;
        // Heavy rows first: then the decomposition keeps the digits of the light ones (A. J. Cox and N. J. Higham 1998,
        // Stability of Householder QR factorization for weighted least squares problems).
        let mut order: Vec<usize> = (0..design.nrows()).collect();
        order.sort_by(|a, b| design.row(*b).norm().total_cmp(&design.row(*a).norm()));
        let sorted = design.select_rows(&order).col_piv_qr();
        Some(Self { determined, order, q: sorted.q(), r: sorted.r(), permutation: sorted.p().clone() })
    }

    pub(super) fn rank(&self) -> usize {
        self.determined.ncols()
    }

    /// The best step for these residuals, in units of the scales: it minimises `|r + J s|^2 + damping |D s|^2`, where
    /// `D` is that of [`Damping`].
    pub(super) fn step(&self, residuals: &DVector<f64>, by: Damping, damping: f64) -> Option<DVector<f64>> {
        let rank = self.rank();
        let aim = -self.q.tr_mul(&residuals.select_rows(&self.order));
        let mut solved = if damping > 0.0 && rank > 0 {
            let mut stacked = DMatrix::zeros(2 * rank, rank);
            stacked.rows_mut(0, rank).copy_from(&self.r);
            let lengths = self.r.column_iter().map(|column| match by {
                Damping::Levenberg => damping.sqrt(),
                Damping::Marquardt { .. } => damping.sqrt() * column.norm(),
            });
            stacked.rows_mut(rank, rank).set_diagonal(&DVector::from_iterator(rank, lengths));
            let damped = stacked.qr();
            damped.r().solve_upper_triangular(&damped.q().rows(0, rank).tr_mul(&aim))?
        } else {
            self.r.solve_upper_triangular(&aim)?
        };
        self.permutation.inv_permute_rows(&mut solved);
        Some(&self.determined * solved)
    }

    /// A matrix that times its transpose is the covariance of the unknowns in units of their scales.
    pub(super) fn covariance_root(&self) -> Option<DMatrix<f64>> {
        let mut inverse = self.r.solve_upper_triangular(&DMatrix::identity(self.rank(), self.rank()))?;
        self.permutation.inv_permute_rows(&mut inverse);
        Some(&self.determined * inverse)
    }

    pub(super) fn open_part(&self, gradient: &DVector<f64>) -> f64 {
        let closed = &self.determined * self.determined.tr_mul(gradient);
        (gradient - closed).norm()
    }

    /// One minus the leverage, the squared length of each row of `q`.
    pub(super) fn redundancy(&self) -> Vec<f64> {
        let mut shares = vec![1.0; self.order.len()];
        for (observation, row) in self.order.iter().zip(self.q.row_iter()) {
            if let Some(share) = shares.get_mut(*observation) {
                *share = (1.0 - row.norm_squared()).clamp(0.0, 1.0);
            }
        }
        shares
    }
}

/// An orthonormal basis of the directions that the observations determine, whatever their uncertainties.
///
/// By QR with pivoting and not by a singular value decomposition: that of nalgebra 0.35 can be wrong in the third digit
/// where singular values repeat or vanish, as they do here.
fn determined(slopes: &DMatrix<f64>) -> DMatrix<f64> {
    let unknowns = slopes.ncols();
    let mut directions = slopes.transpose();
    for mut column in directions.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    let pivoted = directions.col_piv_qr();
    let r = pivoted.r();
    let square = r.nrows().min(r.ncols());
    let lengths = r.view((0, 0), (square, square)).diagonal();
    let rank = lengths.iter().take_while(|length| length.abs() > OPEN).count();
    if rank == unknowns { DMatrix::identity(rank, rank) } else { pivoted.q().columns(0, rank).into_owned() }
}
