//! The adjustment: the scene that explains the marks best.

use super::known::Known;
use super::least_squares::{Minimum, minimise};
use super::rows::{Row, feet, residuals, rows};
use super::scene::Scene;

/// A scene that fits, with what was observed.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub(super) scene: Scene,
    pub(super) minimum: Minimum,
    pub(super) rows: Vec<Row>,
}

/// Chi-square to this share: the unknowns are then within a ten thousandth of their standard uncertainties.
const ENOUGH: f64 = 1e-9;

/// Adjusts the scene from one start.
pub(super) fn adjust(start: &Scene, known: &Known) -> Option<Fit> {
    let (unknowns, scales) = start.unknowns(known);
    let minimum = minimise(
        &unknowns,
        &scales,
        ENOUGH,
        |x| feet(&start.with(known, x), known),
        |x, feet| residuals(&start.with(known, x), known, feet),
    )?;
    let scene = start.with(known, &minimum.x);
    let rows = rows(&scene, known);
    Some(Fit { scene, minimum, rows })
}

/// The best fit from several starts.
pub(super) fn best(starts: &[Scene], known: &Known) -> Option<Fit> {
    starts
        .iter()
        .filter_map(|start| adjust(start, known))
        .min_by(|a, b| a.minimum.chi_square.total_cmp(&b.minimum.chi_square))
}

impl Fit {
    /// How probable it is that good marks misfit this badly or worse.
    pub(super) fn probability(&self) -> f64 {
        let freedom = self.minimum.degrees_of_freedom();
        if freedom == 0 {
            return 1.0;
        }
        statrs::function::gamma::checked_gamma_ur(freedom as f64 / 2.0, self.minimum.chi_square / 2.0)
            .unwrap_or(0.0)
    }

    /// Root mean square of the residuals per degree of freedom.
    pub(super) fn misfit(&self) -> f64 {
        (self.minimum.chi_square / self.minimum.degrees_of_freedom().max(1) as f64).sqrt()
    }

    /// The mark with the largest normalised residual, its normalised and its plain residual in standard deviations.
    pub(super) fn worst(&self) -> Option<(Row, f64, f64)> {
        let normalised = self.minimum.normalised();
        self.rows
            .iter()
            .zip(normalised)
            .zip(&self.minimum.residuals)
            .filter_map(|((row, normalised), plain)| Some((*row, normalised?, *plain)))
            .filter(|(row, ..)| *row != Row::Prior)
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }
}
