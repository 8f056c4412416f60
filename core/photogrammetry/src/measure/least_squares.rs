//! Nonlinear least squares with a dense Jacobian: damped Gauss-Newton steps (K. Levenberg 1944, D. W. Marquardt
//! 1963) solved by orthogonal decomposition, and what the solution's surroundings say.

use nalgebra::{DMatrix, DVector};

/// More steps than a start in the right valley needs.
const MOST_STEPS: usize = 100;
/// A step this small, in units of each unknown's scale, ends the iteration.
const SETTLED: f64 = 1e-7;
/// Difference step of the derivatives, in units of each unknown's scale. Differences are central: with scales of
/// which the functions are smooth over many, truncation is some 1e-8 and rounding some 1e-12.
const STEP: f64 = 1e-4;
/// Above this damping no step is left worth taking.
const MOST_DAMPED: f64 = 1e12;
/// Diagonal elements of the triangular factor below this share of the largest count as zero.
const OPEN: f64 = 1e-11;

/// A minimum of the sum of squares.
#[derive(Debug, Clone)]
pub(super) struct Minimum {
    /// The unknowns.
    pub(super) x: Vec<f64>,
    /// The residuals there, each over its standard deviation.
    pub(super) residuals: Vec<f64>,
    /// Their sum of squares.
    pub(super) chi_square: f64,
    /// Derivatives of the residuals by the unknowns in units of their scales.
    jacobian: DMatrix<f64>,
    scales: Vec<f64>,
}

/// Minimises the sum of squares of `residuals(x)` from `start`. `scales` gives for each unknown a change over which
/// the residuals are smooth, above zero. `None` where the residuals cannot be had at the start or the steps do not
/// settle. The functions may return `None` outside their domain; such a step is not taken.
///
/// Distances from curves need the curves' nearest points. `feet(x)` finds them, and `residuals(x, feet)` takes them
/// as they are: a distance changes to first order as if its foot stayed, so derivatives need no new ones.
///
/// A step that gains no more than the share `enough` of the sum of squares ends the iteration.
pub(super) fn minimise<F>(
    start: &[f64],
    scales: &[f64],
    enough: f64,
    feet: impl Fn(&[f64]) -> Option<F>,
    residuals: impl Fn(&[f64], &F) -> Option<Vec<f64>>,
) -> Option<Minimum> {
    let sound = |x: &[f64]| {
        let feet = feet(x)?;
        residuals(x, &feet).filter(|r| r.iter().all(|value| value.is_finite())).map(|r| (r, feet))
    };
    let mut x = start.to_vec();
    let (mut at, mut standing) = sound(&x)?;
    let mut chi_square = square(&at);
    let mut jacobian = jacobian(&x, scales, at.len(), |x| residuals(x, &standing))?;
    let mut damping = 1e-4;
    for _ in 0..MOST_STEPS {
        let step = step(&jacobian, &at, damping)?;
        let next: Vec<f64> =
            x.iter().zip(scales).zip(step.iter()).map(|((x, scale), step)| x + step * scale).collect();
        let small = step.amax() < SETTLED;
        match sound(&next).map(|(r, feet)| (square(&r), r, feet)) {
            Some((after, r, feet)) if after <= chi_square * (1.0 + 1e-12) + 1e-20 => {
                let gained = chi_square - after;
                (x, at, standing, chi_square) = (next, r, feet, after);
                jacobian = self::jacobian(&x, scales, at.len(), |x| residuals(x, &standing))?;
                damping = (damping * 0.1).max(1e-12);
                if small || gained <= enough * (1.0 + chi_square) {
                    return Some(Minimum { x, residuals: at, chi_square, jacobian, scales: scales.to_vec() });
                }
            }
            _ if small || damping > MOST_DAMPED => {
                return small.then(|| Minimum {
                    x,
                    residuals: at,
                    chi_square,
                    jacobian,
                    scales: scales.to_vec(),
                });
            }
            _ => damping *= 10.0,
        }
    }
    None
}

fn square(residuals: &[f64]) -> f64 {
    residuals.iter().map(|r| r * r).sum()
}

fn jacobian(
    x: &[f64],
    scales: &[f64],
    rows: usize,
    residuals: impl Fn(&[f64]) -> Option<Vec<f64>>,
) -> Option<DMatrix<f64>> {
    let mut slopes = Vec::with_capacity(rows * x.len());
    let mut at = x.to_vec();
    for (i, scale) in scales.iter().enumerate() {
        let middle = at.get(i).copied()?;
        let mut side = |by: f64| {
            *at.get_mut(i)? = middle + by * STEP * scale;
            let found = residuals(&at);
            *at.get_mut(i)? = middle;
            found.filter(|r| r.len() == rows)
        };
        let (above, below) = (side(1.0)?, side(-1.0)?);
        slopes.extend(above.iter().zip(&below).map(|(above, below)| (above - below) / (2.0 * STEP)));
    }
    Some(DMatrix::from_vec(rows, x.len(), slopes))
}

/// The step, in units of the scales, that fits the residuals best; damped like one more observation of each unknown.
fn step(jacobian: &DMatrix<f64>, residuals: &[f64], damping: f64) -> Option<DVector<f64>> {
    let (rows, columns) = jacobian.shape();
    let mut stacked = DMatrix::zeros(rows + columns, columns);
    stacked.rows_mut(0, rows).copy_from(jacobian);
    let damped = jacobian.column_iter().map(|column| (damping * (column.norm_squared() + 1e-12)).sqrt());
    stacked.rows_mut(rows, columns).set_diagonal(&DVector::from_iterator(columns, damped));
    let aim = DVector::from_iterator(
        rows + columns,
        residuals.iter().map(|r| -r).chain(std::iter::repeat_n(0.0, columns)),
    );
    let decomposed = stacked.qr();
    let step = decomposed.r().solve_upper_triangular(&decomposed.q().tr_mul(&aim))?;
    step.iter().all(|value| value.is_finite()).then_some(step)
}

impl Minimum {
    /// Covariance of the unknowns, first order, if every residual has standard deviation 1. `None` where the
    /// residuals leave a direction open.
    pub(super) fn covariance(&self) -> Option<DMatrix<f64>> {
        let r = self.jacobian.clone().qr().r();
        let largest = r.diagonal().amax();
        if r.nrows() < r.ncols() || r.diagonal().iter().any(|value| value.abs() <= OPEN * largest) {
            return None;
        }
        let inverse = r.solve_upper_triangular(&DMatrix::identity(r.ncols(), r.ncols()))?;
        let mut covariance = &inverse * inverse.transpose();
        for (mut column, a) in covariance.column_iter_mut().zip(&self.scales) {
            for (value, b) in column.iter_mut().zip(&self.scales) {
                *value *= a * b;
            }
        }
        Some(covariance)
    }

    /// Each residual over its own standard deviation, which the fit has made smaller; `None` where nothing else
    /// checks the observation (W. Baarda, A testing procedure for use in geodetic networks, 1968).
    pub(super) fn normalised(&self) -> Vec<Option<f64>> {
        let q = self.jacobian.clone().qr().q();
        let left = |row: usize| 1.0 - q.row(row).norm_squared();
        self.residuals
            .iter()
            .enumerate()
            .map(|(row, r)| (left(row) > 1e-3).then(|| r / left(row).sqrt()))
            .collect()
    }

    /// How many observations are more than needed.
    pub(super) fn degrees_of_freedom(&self) -> usize {
        self.residuals.len().saturating_sub(self.x.len())
    }
}
