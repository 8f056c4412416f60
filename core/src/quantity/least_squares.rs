//! Weighted linear least squares, with what it could not tell and which observation does not fit.

use nalgebra::{DMatrix, DVector};

/// A combination of parameters counts as undetermined if it moves no observation by more than this share of what
/// the parameters themselves move. It leaves room for a design matrix made of differences.
const UNDETERMINED: f64 = 1e-9;

/// An observation counts as unchecked if the fit takes up all but this share of its variance: rounding leaves about
/// 1e-30 of it, and from here on a residual has digits to show.
const UNCHECKED: f64 = 1e-18;

/// Parameters that bring `design * parameters` closest to the observations.
#[derive(Debug, Clone, PartialEq)]
pub struct LeastSquares {
    /// Best parameters; NaN for those in `undetermined`.
    pub parameters: Vec<f64>,
    /// Their covariance as it follows from the observations' own uncertainties, not scaled by the fit; rows and
    /// columns of undetermined parameters are NaN.
    pub covariance: DMatrix<f64>,
    /// Weighted sum of squared residuals. For honest uncertainties about as large as `degrees_of_freedom`.
    pub chi_square: f64,
    /// Observations less independent parameters.
    pub degrees_of_freedom: usize,
    /// What the fit gives for each observation.
    pub fitted: Vec<f64>,
    /// How far each observation lies off, in standard deviations of that distance (W. Baarda 1968, A testing procedure
    /// for use in geodetic networks): normal with standard deviation 1 if nothing is wrong, and largest in magnitude
    /// for the one observation that is. `None` where no other observation checks this one.
    pub normalised_residuals: Vec<Option<f64>>,
    /// Places of the parameters the observations do not determine.
    pub undetermined: Vec<usize>,
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LeastSquaresError {
    /// Sizes of design, observations and uncertainties do not go together.
    #[error(
        "a design of {rows} by {columns} with {observations} observations and {uncertainties} uncertainties"
    )]
    Shape {
        /// Rows of the design.
        rows: usize,
        /// Its columns.
        columns: usize,
        /// How many observations.
        observations: usize,
        /// How many uncertainties, or the rows of their covariance.
        uncertainties: usize,
    },
    /// NaN or infinite input.
    #[error("an input is not a finite number")]
    NotFinite,
    /// An uncertainty that is not positive. An exact observation is a constraint: take a parameter out instead.
    #[error("observation {0} has no positive uncertainty")]
    Uncertainty(usize),
    /// The covariance of the observations is not symmetric or not positive definite.
    #[error("the observations' covariance is not symmetric and positive definite")]
    Covariance,
    /// No observation depends on any parameter: the design is all zeros.
    #[error("no observation depends on any parameter")]
    Idle,
    /// The numbers leave the range of `f64`, or the decomposition did not converge.
    #[error("the equations could not be solved in floating point")]
    Numerics,
}

/// Fits independent observations with standard uncertainties `u`: `design` has a row for each observation and a
/// column for each parameter.
pub fn least_squares(
    design: &DMatrix<f64>,
    observed: &[f64],
    u: &[f64],
) -> Result<LeastSquares, LeastSquaresError> {
    check_shape(design, observed, u.len())?;
    if u.iter().any(|u| !u.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    if let Some(place) = u.iter().position(|u| *u <= 0.0) {
        return Err(LeastSquaresError::Uncertainty(place));
    }
    let root = DVector::from_row_slice(u);
    fit(design, observed, &DMatrix::from_diagonal(&root))
}

/// Fits correlated observations with the covariance given.
pub fn least_squares_with_covariance(
    design: &DMatrix<f64>,
    observed: &[f64],
    covariance: &DMatrix<f64>,
) -> Result<LeastSquares, LeastSquaresError> {
    check_shape(design, observed, covariance.nrows())?;
    check_shape(design, observed, covariance.ncols())?;
    if covariance.iter().any(|number| !number.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    if let Some(place) = covariance.diagonal().iter().position(|variance| *variance <= 0.0) {
        return Err(LeastSquaresError::Uncertainty(place));
    }
    if (covariance - covariance.transpose()).amax() > 1e-9 * covariance.amax() {
        return Err(LeastSquaresError::Covariance);
    }
    let root = covariance.clone().cholesky().ok_or(LeastSquaresError::Covariance)?.unpack();
    fit(design, observed, &root)
}

fn check_shape(
    design: &DMatrix<f64>,
    observed: &[f64],
    uncertainties: usize,
) -> Result<(), LeastSquaresError> {
    let ((rows, columns), observations) = (design.shape(), observed.len());
    if rows == 0 || columns == 0 || rows != observations || rows != uncertainties {
        return Err(LeastSquaresError::Shape { rows, columns, observations, uncertainties });
    }
    if design.iter().chain(observed).any(|number| !number.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    Ok(())
}

/// `root` is lower triangular and its square is the observations' covariance.
fn fit(
    design: &DMatrix<f64>,
    observed: &[f64],
    root: &DMatrix<f64>,
) -> Result<LeastSquares, LeastSquaresError> {
    let observed = DVector::from_row_slice(observed);
    // Whitened: every observation with unit variance and none correlated.
    let white = root.solve_lower_triangular(design).ok_or(LeastSquaresError::Numerics)?;
    let aim = root.solve_lower_triangular(&observed).ok_or(LeastSquaresError::Numerics)?;
    if !white.iter().chain(aim.iter()).all(|number| number.is_finite()) {
        return Err(LeastSquaresError::Numerics);
    }

    let Determined { basis, undetermined } = determined(design)?;
    let rank = basis.ncols();
    if rank == 0 {
        return Err(LeastSquaresError::Idle);
    }
    let decomposition = svd(&white * &basis)?;
    let (Some(left), Some(right)) = (&decomposition.u, &decomposition.v_t) else {
        return Err(LeastSquaresError::Numerics);
    };
    let inverse = decomposition.singular_values.map(|value| 1.0 / value);
    // parameters = spread * (left' aim), and the covariance is spread's square.
    let spread = &basis * right.transpose() * DMatrix::from_diagonal(&inverse);
    let mut parameters = &spread * left.tr_mul(&aim);
    let fitted = design * &parameters;
    let residual = &aim - &white * &parameters;
    let chi_square = residual.norm_squared();
    let mut covariance = &spread * spread.transpose();

    for place in undetermined.iter().copied() {
        parameters.row_mut(place).fill(f64::NAN);
        covariance.row_mut(place).fill(f64::NAN);
        covariance.column_mut(place).fill(f64::NAN);
    }
    let free = |entry: &f64, place: usize| entry.is_finite() || undetermined.contains(&place);
    if !parameters.iter().enumerate().all(|(place, entry)| free(entry, place)) || !chi_square.is_finite() {
        return Err(LeastSquaresError::Numerics);
    }
    Ok(LeastSquares {
        parameters: parameters.iter().copied().collect(),
        covariance,
        chi_square,
        degrees_of_freedom: observed.len() - rank,
        fitted: fitted.iter().copied().collect(),
        normalised_residuals: normalised(root, left, &residual)?,
        undetermined,
    })
}

struct Determined {
    /// Columns span the combinations of parameters that the observations determine.
    basis: DMatrix<f64>,
    undetermined: Vec<usize>,
}

/// What the observations determine depends on the design alone, not on their weights; rows and columns are scaled
/// so that it does not depend on units either.
fn determined(design: &DMatrix<f64>) -> Result<Determined, LeastSquaresError> {
    let (rows, columns) = design.shape();
    let mut scaled = design.clone();
    for mut row in scaled.row_iter_mut() {
        let norm = row.amax();
        if norm > 0.0 {
            row /= norm;
        }
    }
    let mut scales = DVector::from_element(columns, 1.0);
    for (mut column, scale) in scaled.column_iter_mut().zip(scales.iter_mut()) {
        let norm = column.norm();
        if norm > 0.0 {
            column /= norm;
            *scale = 1.0 / norm;
        }
    }
    // Rows of zeros make the decomposition return all the directions there are.
    let padded = scaled.resize_vertically(rows.max(columns), 0.0);
    let decomposition = svd(padded)?;
    let right = decomposition.v_t.as_ref().ok_or(LeastSquaresError::Numerics)?;
    let largest = decomposition.singular_values.amax();
    let mut basis = Vec::new();
    let mut undetermined = vec![false; columns];
    for (value, direction) in decomposition.singular_values.iter().zip(right.row_iter()) {
        if *value > UNDETERMINED * largest {
            basis.push(direction.transpose().component_mul(&scales));
        } else {
            for (free, share) in undetermined.iter_mut().zip(direction.iter()) {
                // A parameter is pinned down if no undetermined combination holds any of it.
                *free |= share.abs() > UNDETERMINED.sqrt();
            }
        }
    }
    let basis = if basis.is_empty() { DMatrix::zeros(columns, 0) } else { DMatrix::from_columns(&basis) };
    let undetermined =
        undetermined.iter().enumerate().filter(|(_, free)| **free).map(|(place, _)| place).collect();
    Ok(Determined { basis, undetermined })
}

fn svd(matrix: DMatrix<f64>) -> Result<nalgebra::SVD<f64, nalgebra::Dyn, nalgebra::Dyn>, LeastSquaresError> {
    let sweeps = 1000 * matrix.nrows().max(matrix.ncols());
    matrix.try_svd(true, true, f64::EPSILON, sweeps).ok_or(LeastSquaresError::Numerics)
}

/// `w_i = (P e)_i / sqrt((P Q P)_ii)` with P the inverse covariance of the observations and Q that of the
/// residuals e; for independent observations the residual over its own standard deviation.
fn normalised(
    root: &DMatrix<f64>,
    left: &DMatrix<f64>,
    residual: &DVector<f64>,
) -> Result<Vec<Option<f64>>, LeastSquaresError> {
    let n = residual.len();
    let inverse = root.solve_lower_triangular(&DMatrix::identity(n, n)).ok_or(LeastSquaresError::Numerics)?;
    let pull = inverse.tr_mul(residual);
    Ok(inverse
        .column_iter()
        .zip(pull.iter())
        .map(|(column, pull)| {
            // (I - left left') is a projection, so its square form is the norm of what it leaves.
            let left_over = column - left * left.tr_mul(&column);
            let variance = left_over.norm_squared();
            (variance > UNCHECKED * column.norm_squared()).then(|| pull / variance.sqrt())
        })
        .collect())
}
