//! Weighted nonlinear least squares.
//!
//! Finds the unknowns `x` that minimise `chi^2 = sum r_i(x)^2`. Each residual `r_i` is an observation minus its model,
//! over its standard uncertainty. A prior on an unknown counts as one more observation. The steps are those of Gauss
//! and Newton, damped where they do not lead downhill (K. Levenberg 1944, Quart. Appl. Math. 2:164; D. W. Marquardt
//! 1963, J. SIAM 11:431; J. J. Moré 1978, The Levenberg-Marquardt algorithm), and are computed by QR decomposition.
//!
//! The observations may leave directions of the unknowns undetermined (open). The steps have no component along these,
//! and [`Solution`] reports them.

mod linear;

use crate::quantity::{Estimate, jacobian};
use linear::Linear;
use nalgebra::{DMatrix, DVector};

/// One unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unknown {
    /// Start value, in the unknown's unit.
    pub start: f64,
    /// A step size that makes the unknowns comparable, above zero, in the same unit.
    pub scale: f64,
    /// Prior, which becomes the residual `(x - value) / u`.
    pub prior: Option<Estimate>,
}

/// The term that a damped step minimises in addition to `chi^2`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Damping {
    /// The squared step in scales (Levenberg). Every step is tried undamped first, so that steps are as long as the
    /// limits allow.
    Levenberg,
    /// The squared step, each unknown weighted by the norm of its column of the derivatives (Marquardt). The damping is
    /// carried from step to step.
    Marquardt {
        /// The damping of the first step, above 0.
        start: f64,
    },
}

/// Parameters of the search and its termination.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Difference step of the derivatives, in scales. The residuals have to be smooth over a few such steps.
    pub difference: f64,
    /// Damping method.
    pub damping: Damping,
    /// No unknown moves by more than this in one step, in scales.
    pub max_step: f64,
    /// The search ends after a step that lowers `chi^2` by no more than this share of `1 + chi^2`; `None`: it continues
    /// until the steps vanish.
    pub min_gain: Option<f64>,
}

/// The search ends at a step this small, in scales.
const SETTLED: f64 = 1e-10;
/// A step this small that does not decrease any more is due to rounding, and ends the search too.
const ROUNDING: f64 = 1e-6;
/// More steps than any consistent set of observations needs.
const MAX_STEPS: usize = 100;
/// The damping grows and shrinks by this factor.
const FACTOR: f64 = 10.0;
/// The smallest damping above zero.
const MIN_DAMPING: f64 = 1e-10;
const MAX_DAMPING: f64 = 1e14;
/// A step may raise `chi^2` by this share of `1 + chi^2`, to allow for rounding.
const ALLOWANCE: f64 = 1e-10;

/// The unknowns with the least `chi^2` near the start, and the information in the observations.
#[derive(Debug, Clone)]
pub struct Solution {
    /// The unknowns.
    pub values: Vec<f64>,
    /// The residuals at the solution: those of the observations, then those of the priors in the order of the unknowns.
    pub residuals: Vec<f64>,
    /// Their sum of squares.
    pub chi_square: f64,
    linear: Linear,
    scales: Vec<f64>,
}

/// Minimises `chi^2`. `residuals` is `None` or not finite outside the domain of the model; such steps are rejected.
///
/// `None` if the start is outside the domain, or if the search does not converge.
pub fn minimise(
    unknowns: &[Unknown],
    settings: &Settings,
    residuals: impl Fn(&[f64]) -> Option<Vec<f64>>,
) -> Option<Solution> {
    minimise_with(unknowns, settings, |_| Some(()), |x, ()| residuals(x))
}

/// As [`minimise`], for residuals that are distances from curves.
///
/// `feet` finds the points of the curves nearest to the observations, and `residuals` measures the distances from the
/// tangents there. To first order a distance changes as if its foot were fixed, so derivatives are taken with the same
/// feet.
pub fn minimise_with<F>(
    unknowns: &[Unknown],
    settings: &Settings,
    feet: impl Fn(&[f64]) -> Option<F>,
    residuals: impl Fn(&[f64], &F) -> Option<Vec<f64>>,
) -> Option<Solution> {
    let scales: Vec<f64> = unknowns.iter().map(|unknown| unknown.scale).collect();
    let steps: Vec<f64> = scales.iter().map(|scale| scale * settings.difference).collect();
    let all_residuals = |x: &[f64], feet: &F| {
        let mut all = residuals(x, feet).unwrap_or_else(|| vec![f64::NAN]);
        let priors = unknowns.iter().zip(x).filter_map(|(unknown, x)| Some((unknown.prior?, x)));
        all.extend(priors.map(|(prior, x)| (x - prior.value) / prior.u));
        all
    };
    let at = |values: Vec<f64>| {
        let feet = feet(&values)?;
        let residuals = DVector::from_vec(all_residuals(&values, &feet));
        let chi_square = residuals.norm_squared();
        chi_square.is_finite().then_some(Place { values, feet, residuals, chi_square })
    };
    let linear_at = |place: &Place<F>| {
        let mut slopes = jacobian(&place.values, &steps, |x| all_residuals(x, &place.feet));
        for (mut column, scale) in slopes.column_iter_mut().zip(&scales) {
            column *= *scale;
        }
        Linear::new(slopes)
    };

    let mut place = at(unknowns.iter().map(|unknown| unknown.start).collect())?;
    let mut linear = linear_at(&place)?;
    let mut damping = match settings.damping {
        Damping::Levenberg => 0.0,
        Damping::Marquardt { start } => start,
    };
    let mut last = f64::INFINITY;
    for _ in 0..MAX_STEPS {
        // The undamped step measures the distance to the minimum: a damped one is short anywhere.
        let size = linear.step(&place.residuals, settings.damping, 0.0)?.amax();
        if size <= SETTLED || (size <= ROUNDING && size > last / 2.0) {
            return Some(solution(place, linear, scales));
        }
        last = size;
        let Some((next, used)) =
            downhill(&place, &linear, damping, settings, &|step| at(moved(&place.values, step, &scales)))
        else {
            return (size <= ROUNDING).then(|| solution(place, linear, scales));
        };
        let gain = place.chi_square - next.chi_square;
        let enough = settings.min_gain.is_some_and(|least| gain <= least * (1.0 + place.chi_square));
        place = next;
        linear = linear_at(&place)?;
        if enough {
            return Some(solution(place, linear, scales));
        }
        damping = match settings.damping {
            Damping::Levenberg => 0.0,
            Damping::Marquardt { .. } => (used / FACTOR).max(MIN_DAMPING),
        };
    }
    None
}

/// Takes the least damped step that is short enough and does not raise `chi^2`; returns its damping too.
fn downhill<F>(
    place: &Place<F>,
    linear: &Linear,
    mut damping: f64,
    settings: &Settings,
    at: &impl Fn(&DVector<f64>) -> Option<Place<F>>,
) -> Option<(Place<F>, f64)> {
    let allowed = place.chi_square + ALLOWANCE * (1.0 + place.chi_square);
    while damping <= MAX_DAMPING {
        let step = linear.step(&place.residuals, settings.damping, damping)?;
        if step.amax() <= settings.max_step
            && let Some(next) = at(&step).filter(|next| next.chi_square <= allowed)
        {
            return Some((next, damping));
        }
        damping = (damping * FACTOR).max(MIN_DAMPING);
    }
    None
}

/// A point of the search with its residuals.
struct Place<F> {
    values: Vec<f64>,
    feet: F,
    residuals: DVector<f64>,
    chi_square: f64,
}

fn moved(values: &[f64], step: &DVector<f64>, scales: &[f64]) -> Vec<f64> {
    values.iter().zip(step.iter()).zip(scales).map(|((value, step), scale)| value + step * scale).collect()
}

fn solution<F>(place: Place<F>, linear: Linear, scales: Vec<f64>) -> Solution {
    let Place { values, residuals, chi_square, .. } = place;
    Solution { values, residuals: residuals.iter().copied().collect(), chi_square, linear, scales }
}

impl Solution {
    /// How many independent directions of the unknowns the observations determine.
    pub fn rank(&self) -> usize {
        self.linear.rank()
    }

    /// Number of redundant observations, priors included.
    pub fn degrees_of_freedom(&self) -> usize {
        self.residuals.len().saturating_sub(self.rank())
    }

    /// The length of the part of a gradient that the observations leave undetermined; the gradient is by the unknowns
    /// in units of their scales.
    pub fn open_part(&self, gradient: &DVector<f64>) -> f64 {
        self.linear.open_part(gradient)
    }

    /// Covariance of the unknowns, to first order, in products of their units: `(J' J)^-1` with the derivatives `J` of
    /// the residuals. `None` where the observations leave a direction undetermined.
    pub fn covariance(&self) -> Option<DMatrix<f64>> {
        if self.rank() < self.values.len() {
            return None;
        }
        let scales = DMatrix::from_diagonal(&DVector::from_column_slice(&self.scales));
        Some(&scales * self.scaled_covariance()? * &scales)
    }

    /// Covariance of the unknowns in units of their scales, zero in the undetermined directions.
    pub fn scaled_covariance(&self) -> Option<DMatrix<f64>> {
        let root = self.linear.covariance_root()?;
        Some(&root * root.transpose())
    }

    /// The redundancy of each observation, the share of its variance that its residual keeps: 0 where nothing else
    /// checks the observation, up to 1 (W. Baarda 1968, A testing procedure for use in geodetic networks).
    pub fn redundancy(&self) -> Vec<f64> {
        self.linear.redundancy()
    }

    /// Each residual over its own standard uncertainty, `r / sqrt(redundancy)`; `None` where the redundancy is not
    /// above `least`.
    pub fn normalised(&self, least: f64) -> Vec<Option<f64>> {
        let residuals = self.residuals.iter().zip(self.redundancy());
        residuals.map(|(r, share)| (share > least).then(|| r / share.sqrt())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETTINGS: Settings =
        Settings { difference: 1e-3, damping: Damping::Levenberg, max_step: f64::INFINITY, min_gain: None };

    fn unknown(start: f64, prior: Option<Estimate>) -> Unknown {
        Unknown { start, scale: 1.0, prior }
    }

    /// A straight line through four points, y = 1, 3, 2, 4 at x = 0 to 3 with u = 0.5, by hand: slope 0.8, intercept
    /// 1.3, residual sum 1.8; (J' J)^-1 = 0.25 [[0.7, -0.3], [-0.3, 0.2]].
    #[test]
    fn straight_line() {
        let points = [(0.0, 1.0), (1.0, 3.0), (2.0, 2.0), (3.0, 4.0)];
        let residuals = |x: &[f64]| {
            let [intercept, slope] = *x else { return None };
            Some(points.iter().map(|(at, y)| (y - intercept - slope * at) / 0.5).collect())
        };
        let found = minimise(&[unknown(0.0, None); 2], &SETTINGS, residuals).unwrap();
        for (value, want) in found.values.iter().zip([1.3, 0.8]) {
            assert!((value - want).abs() < 1e-12, "{value} {want}");
        }
        assert!((found.chi_square - 1.8 / 0.25).abs() < 1e-12);
        assert_eq!((found.rank(), found.degrees_of_freedom()), (2, 2));
        let covariance = found.covariance().unwrap();
        for (at, want) in [((0, 0), 0.175), ((0, 1), -0.075), ((1, 1), 0.05)] {
            assert!((covariance[at] - want).abs() < 1e-12, "{at:?}");
        }
        // Leverages of a line at x = 0 and 1 of 4: 1/4 + (x - 1.5)^2 / 5.
        for (share, want) in found.redundancy().iter().zip([0.3, 0.7, 0.7, 0.3]) {
            assert!((share - want).abs() < 1e-12, "{share} {want}");
        }
    }

    /// A prior is one more reading: the weighted mean of 1.0 with u 0.1 and 1.3 with u 0.2 is 1.06 with u 0.0894.
    #[test]
    fn a_prior_is_an_observation() {
        let prior = Some(Estimate::new(1.0, 0.1));
        let found = minimise(&[unknown(0.0, prior)], &SETTINGS, |x| {
            Some(x.iter().map(|x| (1.3 - x) / 0.2).collect())
        });
        let found = found.unwrap();
        assert!((found.values[0] - 1.06).abs() < 1e-12);
        assert!((found.covariance().unwrap()[(0, 0)] - 0.008).abs() < 1e-12);
        assert_eq!(found.residuals.len(), 2);
    }

    /// H. H. Rosenbrock's valley (1960, Computer J. 3:175), from its usual start.
    #[test]
    fn a_curved_valley() {
        let residuals = |x: &[f64]| {
            let [x, y] = *x else { return None };
            Some(vec![10.0 * (y - x * x), 1.0 - x])
        };
        for damping in [Damping::Levenberg, Damping::Marquardt { start: 1e-4 }] {
            let settings = Settings { damping, ..SETTINGS };
            let found = minimise(&[unknown(-1.2, None), unknown(1.0, None)], &settings, residuals).unwrap();
            assert!(found.values.iter().all(|value| (value - 1.0).abs() < 1e-9), "{:?}", found.values);
        }
    }

    /// Only the sum is observed: the difference stays at its start, and is reported as open. Derivatives by differences
    /// are off by some 1e-12, and so is the direction of the step.
    #[test]
    fn what_is_open_stays() {
        let start = [unknown(1.0, None), unknown(4.0, None)];
        let found = minimise(&start, &SETTINGS, |x| Some(vec![x.iter().sum::<f64>() - 9.0])).unwrap();
        let off = [found.values[0] - 3.0, found.values[1] - 6.0];
        assert!(off.iter().all(|off| off.abs() < 1e-11), "{off:?}");
        assert_eq!((found.rank(), found.degrees_of_freedom()), (1, 0));
        assert!(found.covariance().is_none());
        let open = |a, b| found.open_part(&DVector::from_vec(vec![a, b]));
        assert!(open(1.0, 1.0) < 1e-11 && (open(1.0, -1.0) - 2f64.sqrt()).abs() < 1e-11);
        assert_eq!(found.normalised(1e-3), [None]);
    }

    #[test]
    fn outside_the_domain_there_is_no_answer() {
        assert!(minimise(&[unknown(0.0, None)], &SETTINGS, |_| None).is_none());
        assert!(minimise(&[unknown(-1.0, None)], &SETTINGS, |x| Some(vec![x[0].sqrt()])).is_none());
    }
}
