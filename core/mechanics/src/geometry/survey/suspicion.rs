//! Finds the wrong reading when the readings do not agree.

use super::solve::{self, Fit};
use super::{Residual, Statement, model};
use steerwright_metrology::conformity::{chi_square_tail, normal_tail};
use steerwright_metrology::quantity::Quantity;

/// Below this probability, of chi-square or of the largest residual, a wrong reading is searched for.
const IMPROBABLE: f64 = 0.01;
/// The normalised residual of a wrong reading is at least this.
const STANDS_OUT: f64 = 3.0;
/// Two readings whose removal leaves chi-squares closer than this cannot be distinguished: the likelihood ratio is over
/// `exp(-4/2) = 1/7`.
const CLOSE: f64 = 4.0;
/// A residual with less redundancy than this is a rounding error, not a check.
const CHECKED: f64 = 1e-6;

pub(super) fn residuals(statements: &[Statement], fit: &Fit) -> Vec<Residual> {
    let fitted = model::readings(statements, &fit.bicycle);
    statements
        .iter()
        .zip(fitted)
        .zip(fit.solution.normalised(CHECKED))
        .map(|((stated, fitted), normalised)| Residual { stated: *stated, fitted, normalised })
        .collect()
}

/// True if chi-square or the largest normalised residual is improbable. One gross error among many good readings hardly
/// shows in chi-square; the probability of the largest residual is bounded by Bonferroni's inequality over all checked
/// readings.
fn disagree(fit: &Fit) -> bool {
    let probability = chi_square_tail(fit.chi_square(), fit.solution.degrees_of_freedom());
    if probability.is_some_and(|p| p < IMPROBABLE) {
        return true;
    }
    let checked = fit.solution.normalised(CHECKED).into_iter().flatten();
    let (count, largest) =
        checked.fold((0.0, 0.0f64), |(count, largest), n| (count + 1.0, largest.max(n.abs())));
    count * 2.0 * normal_tail(largest) < IMPROBABLE && count > 0.0
}

fn removed(statements: &[Statement], which: usize) -> Vec<Statement> {
    statements.iter().enumerate().filter(|(i, _)| *i != which).map(|(_, s)| *s).collect()
}

/// The readings whose removal makes the rest agree, the likeliest first. Empty if all agree, or if more than one
/// reading is wrong.
pub(super) fn suspects(statements: &[Statement], fit: &Fit, residuals: &[Residual]) -> Vec<Quantity> {
    if !disagree(fit) {
        return Vec::new();
    }
    let mut mended: Vec<(Quantity, f64)> = residuals
        .iter()
        .enumerate()
        .filter(|(_, residual)| residual.normalised.is_some_and(|n| n.abs() > STANDS_OUT))
        .filter_map(|(i, residual)| {
            // Refitted: a gross error shifts the point at which the readings were linearised.
            let others = removed(statements, i);
            let rest = solve::fit(&others, &fit.bicycle)?;
            (!disagree(&rest)).then_some((residual.stated.what, rest.chi_square()))
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

/// The readings without which the fit converges and the rest agree.
pub(super) fn obstacles(statements: &[Statement]) -> Vec<Quantity> {
    let mut names: Vec<Quantity> = Vec::new();
    for (i, statement) in statements.iter().enumerate() {
        let rest = removed(statements, i);
        let agrees = model::STARTS
            .iter()
            .find_map(|start| solve::fit(&rest, start))
            .is_some_and(|fit| !disagree(&fit));
        if agrees && !names.contains(&statement.what) {
            names.push(statement.what);
        }
    }
    names
}
