//! Several readings of one quantity made into one.

use super::Estimate;

/// Readings further apart than this many standard uncertainties of their difference are named.
const DISAGREE: f64 = 3.0;

/// Exact readings closer than this, relative to their size, differ by a conversion's rounding only.
const ROUNDING: f64 = 1e-12;

/// What several readings of one quantity say together.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    /// The weighted mean, and a standard uncertainty that is never less than the readings' scatter says.
    pub estimate: Estimate,
    /// Sum of the squared distances from the mean, each over its own `u` squared. Infinite when exact readings
    /// contradict the mean.
    pub chi_square: f64,
    /// Square root of chi-square over its degrees of freedom: about 1 if the readings' uncertainties are honest,
    /// more if they are too small (R. T. Birge 1932, Phys. Rev. 40:207). 0 for a single reading.
    pub birge_ratio: f64,
    /// Places of the readings, two by two with the smaller place first, that differ by more than three standard
    /// uncertainties of their difference.
    pub disagreeing: Vec<(usize, usize)>,
}

/// The mean of independent readings weighted by `1/u^2`, with `u = 1/sqrt(sum(1/u^2))` times the Birge ratio
/// where that is over 1.
///
/// An exact reading (`u = 0`) outweighs all others, as it is the limit of ever smaller `u`; several exact
/// readings that differ give their plain mean with the standard error of their scatter. The order of the readings
/// does not matter, to the last bit. `None` when there is no reading, when one is not sound, or when the sums
/// leave the range of `f64`.
pub fn combine(readings: &[Estimate]) -> Option<Combined> {
    if readings.is_empty() || !readings.iter().all(|reading| reading.is_sound()) {
        return None;
    }
    // One order for the sums, whatever the order of the readings.
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
    // Relative to the smallest u, as 1/u^2 itself may overflow; relative to one reading, as they lie close.
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

/// Standard deviation of the mean of `values`; 0 for one value or where they differ by rounding only.
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
