//! Changes of a bike between two photos of it.

use super::measurement::PhotoMeasurement;
use super::numbers::Sensitivity;
use super::scene::Name;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// Whether both photos were taken with one camera at one zoom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cameras {
    /// One camera at one zoom: focal length and distortion have common errors.
    Same,
    /// Two cameras, or two zooms.
    Different,
}

/// A number that both photos determine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// The quantity.
    pub what: Quantity,
    /// After minus before, mm or degrees.
    pub change: Estimate,
    /// Correlation of the two numbers' errors: the common part cancels in the change.
    pub correlation: f64,
}

/// The change of every number that both photos of one bike determine, in the order of the first.
///
/// A tyre's size, the fork's offset and a part's distance from the plane are the same in both photos, and so are the
/// errors of their given values: where both marks state the same number with the same u, it counts as one input. Each
/// input is propagated to both results to first order, and `u(change)^2 = u1^2 + u2^2 - 2 cov(1, 2)` (JCGM 100:2008,
/// 5.2.2). Errors of the marks, of the wheel's turn and of the principal point are independent between photos; so are
/// the distances from the plane if the photos show different sides of the bike.
pub fn change(before: &PhotoMeasurement, after: &PhotoMeasurement, cameras: Cameras) -> Vec<Changed> {
    let same_side = before.plane.heads_left() == after.plane.heads_left();
    let common = |name: Name| match name {
        Name::Focal | Name::Distortion => cameras == Cameras::Same,
        Name::Radius(_) | Name::Width(_) | Name::Offset => true,
        Name::BesideAxis(_) | Name::BesideBottomBracket | Name::BesideStanchion(_) | Name::BesideSeatTube => {
            same_side
        }
        _ => false,
    };
    let shared: Vec<(&Sensitivity, &Sensitivity)> = before
        .sensitivities
        .iter()
        .filter(|one| common(one.name))
        .filter_map(|one| {
            let same = |other: &&Sensitivity| other.name == one.name && other.prior == one.prior;
            Some((one, after.sensitivities.iter().find(same)?))
        })
        .collect();
    let place =
        |seen: &PhotoMeasurement, what: Quantity| seen.values.iter().position(|(other, _)| *other == what);
    before
        .values
        .iter()
        .filter_map(|(what, first)| {
            let (i, j) = (place(before, *what)?, place(after, *what)?);
            let second = after.get(*what)?;
            let covariance: f64 =
                shared.iter().filter_map(|(one, other)| Some(one.moves.get(i)? * other.moves.get(j)?)).sum();
            let variance = first.u * first.u + second.u * second.u - 2.0 * covariance;
            let change = Estimate::new(second.value - first.value, variance.sqrt());
            let correlation = covariance / (first.u * second.u);
            (change.is_sound() && change.u > 0.0).then_some(Changed { what: *what, change, correlation })
        })
        .collect()
}
