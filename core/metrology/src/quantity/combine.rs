//! Combines several readings of one quantity.

use super::Estimate;

/// Two readings disagree if they differ by more than this many standard uncertainties of their difference.
const DISAGREE: f64 = 3.0;

/// Exact readings that differ by less than this, relative to their size, are equal but for a rounded unit conversion.
const ROUNDING: f64 = 1e-12;

/// Several readings of one quantity, combined.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    /// The weighted mean and its standard uncertainty, which is no less than the scatter of the readings implies.
    pub estimate: Estimate,
    /// `sum(((x_i - mean) / u_i)^2)`. Infinite when an exact reading differs from the mean.
    pub chi_square: f64,
    /// `sqrt(chi_square / (n - 1))`: about 1 if the uncertainties of the readings are right, more if they are too small
    /// (R. T. Birge 1932, Phys. Rev. 40:207). 0 for a single reading.
    pub birge_ratio: f64,
    /// Pairs of indices of readings that differ by more than three standard uncertainties of their difference, the
    /// smaller index first.
    pub disagreeing: Vec<(usize, usize)>,
}

/// The mean of independent readings weighted by `1/u^2`, with `u = 1/sqrt(sum(1/u^2))` times the Birge ratio
/// where that is over 1.
///
/// An exact reading (`u = 0`) outweighs all others: it is the limit of a decreasing `u`. Several exact readings that
/// differ give their arithmetic mean and its standard error. The result does not depend on the order of the readings.
/// `None` if there is no reading, if one is not sound, or if the sums overflow.
pub fn combine(readings: &[Estimate]) -> Option<Combined> {
    if readings.is_empty() || !readings.iter().all(|reading| reading.is_sound()) {
        return None;
    }
    // Floating-point sums depend on the order of their terms.
    let mut sorted = readings.to_vec();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value).then(a.u.total_cmp(&b.u)));

    let exact: Vec<f64> = sorted.iter().filter(|reading| reading.u == 0.0).map(|r| r.value).collect();
    let (value, inner_u) = if exact.is_empty() { weighted(&sorted)? } else { (mean(&exact)?, 0.0) };
    let chi_square = sorted.iter().map(|reading| square_distance(*reading, value)).sum::<f64>();
    let freedom = (readings.len() - 1) as f64;
    let birge_ratio = if readings.len() > 1 { (chi_square / freedom).sqrt() } else { 0.0 };
    let u = if exact.is_empty() { inner_u * birge_ratio.max(1.0) } else { standard_error(&exact, value) };

    let estimate = Estimate::new(value, u);
    estimate.is_sound().then(|| Combined {
        estimate,
        chi_square,
        birge_ratio,
        disagreeing: disagreeing(readings),
    })
}

/// Weighted mean and its standard uncertainty; every `u` is positive.
fn weighted(readings: &[Estimate]) -> Option<(f64, f64)> {
    let origin = readings.first()?.value;
    let least = readings.iter().map(|reading| reading.u).fold(f64::INFINITY, f64::min);
    // Weights relative to the smallest u, since 1/u^2 may overflow. Values relative to one reading, to keep digits.
    let (mut weights, mut moments) = (0.0, 0.0);
    for reading in readings {
        let weight = (least / reading.u).powi(2);
        weights += weight;
        moments += weight * (reading.value - origin);
    }
    Some((origin + moments / weights, least / weights.sqrt()))
}

fn mean(values: &[f64]) -> Option<f64> {
    let origin = *values.first()?;
    Some(origin + values.iter().map(|value| value - origin).sum::<f64>() / values.len() as f64)
}

/// Standard deviation of the mean of `values`; 0 for one value, and if the values are equal but for rounding.
fn standard_error(values: &[f64], mean: f64) -> f64 {
    if values.len() < 2 || values.iter().all(|value| same(*value, mean)) {
        return 0.0;
    }
    let n = values.len() as f64;
    (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt()
}

fn square_distance(reading: Estimate, value: f64) -> f64 {
    if same(reading.value, value) && reading.u == 0.0 {
        0.0
    } else {
        ((reading.value - value) / reading.u).powi(2)
    }
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= ROUNDING * a.abs().max(b.abs())
}

fn disagreeing(readings: &[Estimate]) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    for (i, a) in readings.iter().enumerate() {
        for (j, b) in readings.iter().enumerate().skip(i + 1) {
            let apart = (a.value - b.value).abs();
            if apart > DISAGREE * a.u.hypot(b.u) && !same(a.value, b.value) {
                pairs.push((i, j));
            }
        }
    }
    pairs
}
