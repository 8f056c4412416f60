//! The adjustment: the scene that explains the marks best.

use super::known::SceneInputs;
use super::rows::{Row, feet, residuals, rows};
use super::scene::Scene;
use steerwright_metrology::conformity::chi_square_tail;
use steerwright_metrology::least_squares::{Damping, Settings, Solution, minimise_with};

/// An adjusted scene, with its observations.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub(super) scene: Scene,
    pub(super) solution: Solution,
    pub(super) rows: Vec<Row>,
}

/// The projection is smooth over many times the unknowns' scales, so the derivatives are good to some 1e-12. Once
/// chi-square has converged to the relative change `min_gain`, the unknowns are within a ten thousandth of their
/// standard uncertainties.
const SEARCH: Settings = Settings {
    difference: 1e-3,
    damping: Damping::Marquardt { start: 1e-4 },
    max_step: f64::INFINITY,
    min_gain: Some(1e-9),
};
/// A residual that keeps less than this share of the mark's own variance is not a check.
const CHECKED: f64 = 1e-3;

/// Adjusts the scene from one start.
fn adjust(start: &Scene, known: &SceneInputs) -> Option<Fit> {
    let solution = minimise_with(
        &start.unknowns(known),
        &SEARCH,
        |x| feet(&start.with(known, x), known),
        |x, feet| residuals(&start.with(known, x), known, feet),
    )?;
    let scene = start.with(known, &solution.values);
    let rows = rows(&scene, known);
    Some(Fit { scene, solution, rows })
}

/// The best fit from several starts.
pub(super) fn best(starts: &[Scene], known: &SceneInputs) -> Option<Fit> {
    starts
        .iter()
        .filter_map(|start| adjust(start, known))
        .min_by(|a, b| a.solution.chi_square.total_cmp(&b.solution.chi_square))
}

impl Fit {
    /// Probability that correct marks have a misfit at least this large.
    pub(super) fn probability(&self) -> f64 {
        chi_square_tail(self.solution.chi_square, self.solution.degrees_of_freedom()).unwrap_or(1.0)
    }

    /// Root mean square of the residuals per degree of freedom.
    pub(super) fn misfit(&self) -> f64 {
        (self.solution.chi_square / self.solution.degrees_of_freedom().max(1) as f64).sqrt()
    }

    /// The mark with the largest normalised residual, its normalised and its plain residual in standard deviations.
    pub(super) fn worst(&self) -> Option<(Row, f64, f64)> {
        let normalised = self.solution.normalised(CHECKED);
        self.rows
            .iter()
            .zip(normalised)
            .zip(&self.solution.residuals)
            .filter_map(|((row, normalised), plain)| Some((*row, normalised?, *plain)))
            .filter(|(row, ..)| *row != Row::Prior)
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }
}
