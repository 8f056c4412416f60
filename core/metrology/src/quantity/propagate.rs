//! Uncertainty carried through a function, first order (JCGM 100:2008, 5).

use super::Estimate;
use nalgebra::{DMatrix, DVector};

/// What an unsound question is answered with; [`Estimate::is_sound`] is false for it.
const UNKNOWN: Estimate = Estimate::new(f64::NAN, f64::NAN);

/// A difference step for a value with standard uncertainty `u`, in the value's unit.
///
/// The derivative is a fourth-order one, so its truncation error goes with the fourth power of the step and its
/// rounding error with the inverse: they balance near the fifth root of the machine epsilon times the scale
/// of the value.
fn step(value: f64, u: f64) -> f64 {
    8e-4 * value.abs().max(u)
}

/// `f` of independent inputs and its standard uncertainty, to first order: the sum of `(df/dx u)^2`
/// (JCGM 100:2008, 5.1.2).
///
/// Derivatives are central differences extrapolated to fourth order. Exact inputs cost no evaluation. Where `f`
/// is NaN on one side, as at the end of its domain, the other side's difference is taken. Both numbers are
/// NaN if an input is not sound or `f` of the inputs is not finite; `u` alone is NaN if no derivative could
/// be had.
///
/// First order is good where `f` is nearly straight over a few `u`; `monte_carlo` tells.
pub fn propagate(inputs: &[Estimate], f: impl Fn(&[f64]) -> f64) -> Estimate {
    if !inputs.iter().all(|input| input.is_sound()) {
        return UNKNOWN;
    }
    let values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let middle = f(&values);
    if !middle.is_finite() {
        return UNKNOWN;
    }
    let mut at = values;
    let mut u = 0.0f64;
    for (i, input) in inputs.iter().enumerate() {
        if input.u > 0.0 {
            u = u.hypot(slope(&mut at, i, step(input.value, input.u), middle, &f) * input.u);
        }
    }
    if u.is_finite() { Estimate::new(middle, u) } else { Estimate::new(middle, f64::NAN) }
}

/// `f` of correlated inputs and its standard uncertainty, to first order: `sqrt(g' V g)` with the gradient `g`
/// (JCGM 100:2008, 5.2.2).
///
/// `covariance` is square, symmetric, of the size of `values`, in products of their units. Both numbers are NaN
/// if it is not, or has a negative variance, or if a value is not finite; `u` is NaN if the covariance turns
/// out not to be one (`g' V g` negative beyond rounding).
pub fn propagate_with_covariance(
    values: &[f64],
    covariance: &DMatrix<f64>,
    f: impl Fn(&[f64]) -> f64,
) -> Estimate {
    let n = values.len();
    if covariance.shape() != (n, n)
        || !values.iter().chain(covariance.iter()).all(|number| number.is_finite())
    {
        return UNKNOWN;
    }
    let variances = covariance.diagonal();
    let largest = variances.amax();
    let lopsided = (covariance - covariance.transpose()).amax();
    if variances.iter().any(|variance| *variance < 0.0) || lopsided > 1e-9 * largest {
        return UNKNOWN;
    }
    let middle = f(values);
    if !middle.is_finite() {
        return UNKNOWN;
    }
    let mut at = values.to_vec();
    let gradient = DVector::from_iterator(
        n,
        values.iter().zip(variances.iter()).enumerate().map(|(i, (value, variance))| {
            if *variance > 0.0 { slope(&mut at, i, step(*value, variance.sqrt()), middle, &f) } else { 0.0 }
        }),
    );
    let square = gradient.dot(&(covariance * &gradient));
    let scale = gradient.iter().zip(variances.iter()).map(|(g, variance)| g * g * variance).sum::<f64>();
    let u = if square < 0.0 && square >= -1e-12 * scale { 0.0 } else { square.sqrt() };
    if u.is_finite() { Estimate::new(middle, u) } else { Estimate::new(middle, f64::NAN) }
}

/// The derivatives of a vector function at `values`: a row for each result, a column for each input.
///
/// Central differences over `steps` (one for each value, in its unit) and over half of each, extrapolated to
/// fourth order. An input with a step of 0 is held constant: its column is 0. Entries that could not be had are
/// NaN: a result that is not finite near `values`, a missing step, or a count of results that changes.
pub fn jacobian(values: &[f64], steps: &[f64], f: impl Fn(&[f64]) -> Vec<f64>) -> DMatrix<f64> {
    let rows = f(values).len();
    let mut at = values.to_vec();
    let mut columns = Vec::with_capacity(values.len());
    for i in 0..values.len() {
        let step = steps.get(i).copied().unwrap_or(f64::NAN);
        if step == 0.0 {
            columns.push(DVector::zeros(rows));
            continue;
        }
        let mut result = |by: f64| {
            let results = moved(&mut at, i, by, &f);
            if results.len() == rows {
                DVector::from_vec(results)
            } else {
                DVector::from_element(rows, f64::NAN)
            }
        };
        let wide = (result(step) - result(-step)) / (2.0 * step);
        let narrow = (result(step / 2.0) - result(-step / 2.0)) / step;
        columns.push(extrapolated(wide, narrow));
    }
    if columns.is_empty() { DMatrix::zeros(rows, 0) } else { DMatrix::from_columns(&columns) }
}

fn extrapolated(wide: DVector<f64>, narrow: DVector<f64>) -> DVector<f64> {
    let correction = (&narrow - wide) / 3.0;
    narrow + correction
}

/// `f` with input `i` moved by `by`; `at` is as before afterwards.
fn moved<T>(at: &mut [f64], i: usize, by: f64, f: impl Fn(&[f64]) -> T) -> T {
    let kept = at.get(i).copied();
    if let Some(value) = at.get_mut(i) {
        *value += by;
    }
    let result = f(at);
    if let (Some(value), Some(kept)) = (at.get_mut(i), kept) {
        *value = kept;
    }
    result
}

/// The derivative of `f` by input `i`, NaN if none could be had; `middle` is `f(at)`.
fn slope(at: &mut [f64], i: usize, step: f64, middle: f64, f: &impl Fn(&[f64]) -> f64) -> f64 {
    let [up, half_up, half_down, down] = [step, step / 2.0, -step / 2.0, -step].map(|by| moved(at, i, by, f));
    let wide = (up - down) / (2.0 * step);
    let narrow = (half_up - half_down) / step;
    let both = narrow + (narrow - wide) / 3.0;
    if both.is_finite() {
        return both;
    }
    // Second order on one side: the domain of f ends within a step of the value.
    let above = (4.0 * half_up - up - 3.0 * middle) / step;
    let below = (3.0 * middle - 4.0 * half_down + down) / step;
    if above.is_finite() { above } else { below }
}
