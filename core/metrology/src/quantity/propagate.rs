//! First-order propagation of uncertainty (JCGM 100:2008, 5), and numerical derivatives.

use super::Estimate;
use nalgebra::{DMatrix, DVector};

/// The result where none exists; [`Estimate::is_sound`] is false for it.
const UNKNOWN: Estimate = Estimate::new(f64::NAN, f64::NAN);

/// The difference step for a value with standard uncertainty `u`, in the unit of the value.
///
/// The derivative is of fourth order: its truncation error grows as `step^4`, its rounding error as `1 / step`. They
/// balance near `step = epsilon^(1/5) = 7e-4` times the scale of the value.
fn step(value: f64, u: f64) -> f64 {
    8e-4 * value.abs().max(u)
}

/// `f` of independent inputs with its first-order standard uncertainty `u^2 = sum((df/dx_i u_i)^2)` (JCGM 100:2008,
/// 5.1.2).
///
/// Derivatives are central differences extrapolated to fourth order; at the end of the domain of `f`, where it is NaN
/// on one side, a one-sided difference of second order. Value and `u` are NaN if an input is not sound or if `f` of the
/// inputs is not finite; `u` alone is NaN if a derivative does not exist.
///
/// First order holds where `f` is nearly linear over a few `u`. The tests compare it with Monte Carlo propagation (JCGM
/// 101:2008).
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

/// The Jacobian of a vector function at `values`: one row per result, one column per input.
///
/// Central differences over `steps` (one per value, in its unit) and over half of each, extrapolated to fourth order
/// (L. F. Richardson 1911, Phil. Trans. A 210:307). An input with step 0 is constant: its column is 0. Entries are NaN
/// where a result near `values` is not finite, where a step is missing, and where the number of results changes.
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

/// `f` with `by` added to input `i`. `at` is restored.
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

/// The derivative of `f` by input `i`, or NaN; `middle` is `f(at)`.
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
