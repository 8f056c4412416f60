//! Which reading is wrong when the readings do not agree.

use super::solve::{self, Fit};
use super::{Residual, Statement, model};
use statrs::function::gamma::checked_gamma_ur;
use steerwright_metrology::conformity::normal_tail;
use steerwright_metrology::quantity::Quantity;

/// Readings agree at least this probably, all together and each by itself, or one of them is looked for.
const IMPROBABLE: f64 = 0.01;
/// A wrong reading stands out by at least this many standard deviations.
const STANDS_OUT: f64 = 3.0;
/// Two readings whose removal leaves chi-squares closer than this cannot be told apart: the other is then
/// over a seventh (exp(-2)) as likely to be the wrong one.
const CLOSE: f64 = 4.0;
/// A residual that keeps less than this of the reading's own scatter is rounding, not a check.
const CHECKED: f64 = 1e-6;

/// Chi-square's upper tail.
pub(super) fn probability(chi_square: f64, degrees_of_freedom: usize) -> Option<f64> {
    if degrees_of_freedom == 0 {
        return None;
    }
    checked_gamma_ur(degrees_of_freedom as f64 / 2.0, chi_square.max(f64::MIN_POSITIVE) / 2.0).ok()
}

pub(super) fn residuals(statements: &[Statement], fit: &Fit) -> Vec<Residual> {
    let fitted = model::readings(statements, &fit.bicycle);
    statements
        .iter()
        .zip(fitted)
        .zip(normalised(fit))
        .map(|((stated, fitted), normalised)| Residual { stated: *stated, fitted, normalised })
        .collect()
}

/// True if chi-square or the largest of the normalised residuals is too large for chance. The largest is
/// judged by itself as well since among many good readings one gross error hides in chi-square; its
/// probability is Bonferroni's bound over all checked readings.
fn disagree(statements: &[Statement], fit: &Fit) -> bool {
    let degrees = statements.len().saturating_sub(fit.rank());
    if probability(fit.chi_square, degrees).is_some_and(|p| p < IMPROBABLE) {
        return true;
    }
    let checked = normalised(fit).flatten();
    let (count, largest) =
        checked.fold((0.0, 0.0f64), |(count, largest), n| (count + 1.0, largest.max(n.abs())));
    count * 2.0 * normal_tail(largest) < IMPROBABLE && count > 0.0
}

fn normalised(fit: &Fit) -> impl Iterator<Item = Option<f64>> {
    fit.weighted_residuals
        .iter()
        .zip(&fit.redundancy)
        .map(|(residual, redundancy)| (*redundancy > CHECKED).then(|| residual / redundancy.sqrt()))
}

fn removed(statements: &[Statement], which: usize) -> Vec<Statement> {
    statements.iter().enumerate().filter(|(i, _)| *i != which).map(|(_, s)| *s).collect()
}

/// The readings whose removal alone makes the rest agree, likeliest first; empty if all agree or if more than
/// one reading is wrong.
pub(super) fn suspects(statements: &[Statement], fit: &Fit, residuals: &[Residual]) -> Vec<Quantity> {
    if !disagree(statements, fit) {
        return Vec::new();
    }
    let mut mended: Vec<(Quantity, f64)> = residuals
        .iter()
        .enumerate()
        .filter(|(_, residual)| residual.normalised.is_some_and(|n| n.abs() > STANDS_OUT))
        .filter_map(|(i, residual)| {
            // Fitted again: a gross error moves the point at which the readings were taken as linear.
            let others = removed(statements, i);
            let rest = solve::fit(&others, &fit.bicycle)?;
            (!disagree(&others, &rest)).then_some((residual.stated.what, rest.chi_square))
        })
        .collect();
    mended.sort_by(|a, b| a.1.total_cmp(&b.1));
    let best = mended.first().map_or(0.0, |(_, chi_square)| *chi_square);
    let mut names: Vec<Quantity> = Vec::new();
    for (what, chi_square) in mended {
        if chi_square <= best + CLOSE && !names.contains(&what) {
            names.push(what);
        }
    }
    names
}

/// The readings each of which keeps the others from being fitted at all.
pub(super) fn obstacles(statements: &[Statement]) -> Vec<Quantity> {
    let mut names: Vec<Quantity> = Vec::new();
    for (i, statement) in statements.iter().enumerate() {
        let rest = removed(statements, i);
        let agrees = model::STARTS
            .iter()
            .find_map(|start| solve::fit(&rest, start))
            .is_some_and(|fit| !disagree(&rest, &fit));
        if agrees && !names.contains(&statement.what) {
            names.push(statement.what);
        }
    }
    names
}
