//! The bike's numbers from an adjusted scene, with their covariance.

use super::adjust::Fit;
use super::known::SceneInputs;
use super::scene::{Name, Scene};
use nalgebra::DMatrix;
use steerwright_metrology::quantity::{Estimate, Quantity, jacobian};

/// Every number that the marks determine, mm and degrees, always in the same order.
pub(super) fn numbers(scene: &Scene, known: &SceneInputs) -> Vec<(Quantity, f64)> {
    let (front, rear) = (scene.front.radius, scene.rear.radius);
    // The ground touches both wheels: the axle line rises forward by this angle.
    let rise = libm::asin(((front - rear) / scene.axles).clamp(-1.0, 1.0));
    let (sin, cos) = libm::sincos(rise);
    let on_ground = |[x, y]: [f64; 2]| [x * cos - y * sin, rear + x * sin + y * cos];
    let between = |[ax, ay]: [f64; 2], [bx, by]: [f64; 2]| libm::hypot(ax - bx, ay - by);
    let mut found = vec![(Quantity::Wheelbase, scene.axles * cos)];
    if known.has_axis() {
        found.push((Quantity::HeadAngle, (scene.head - rise).to_degrees()));
        if !known.offset_given {
            found.push((Quantity::ForkOffset, scene.offset));
        }
    }
    let [top, bottom, crown] = scene.on_axis.map(|[along, _]| along);
    let [has_top, has_bottom, has_crown] =
        [0, 1, 2].map(|i| known.on_axis.get(i).is_some_and(Option::is_some));
    if has_top && has_bottom {
        found.push((Quantity::HeadTubeLength, top - bottom));
    }
    if has_crown {
        found.push((Quantity::AxleToCrown, crown));
    }
    if has_bottom && has_crown {
        found.push((Quantity::LowerStack, bottom - crown));
    }
    if known.seat_tube.is_some() {
        found.push((Quantity::SeatAngle, (scene.seat_tube.angle - rise).to_degrees()));
    }
    if known.bottom_bracket.is_some() {
        let [x, y, _] = scene.bottom_bracket;
        let [bx, by] = on_ground([x, y]);
        found.push((Quantity::ChainstayLength, between([x, y], [0.0, 0.0])));
        found.push((Quantity::FrontCentre, between([x, y], [scene.axles, 0.0])));
        found.push((Quantity::BottomBracketHeight, by));
        found.push((Quantity::BottomBracketDrop, rear - by));
        if has_top {
            let [tx, ty] = on_ground(scene.on_axis(top));
            found.push((Quantity::Reach, tx - bx));
            found.push((Quantity::Stack, ty - by));
        }
    }
    found
}

/// Functions of the scene and their covariance, to first order; `None` where the marks leave the scene undetermined.
/// `of` always returns the same number of values.
pub(super) fn with_covariance(
    fit: &Fit,
    known: &SceneInputs,
    of: impl Fn(&Scene) -> Vec<f64>,
) -> Option<(Vec<f64>, DMatrix<f64>)> {
    let covariance = fit.solution.covariance()?;
    let slopes = slopes(fit, known, &of);
    let spread = &slopes * covariance * slopes.transpose();
    Some((of(&fit.scene), spread))
}

/// Derivatives of functions of the scene with respect to the unknowns.
fn slopes(fit: &Fit, known: &SceneInputs, of: impl Fn(&Scene) -> Vec<f64>) -> DMatrix<f64> {
    let unknowns = fit.scene.unknowns(known);
    let values: Vec<f64> = unknowns.iter().map(|unknown| unknown.start).collect();
    let steps: Vec<f64> = unknowns.iter().map(|unknown| 1e-3 * unknown.scale).collect();
    jacobian(&values, &steps, |x| of(&fit.scene.with(known, x)))
}

/// Sensitivity of the results to the error of one prior.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sensitivity {
    pub(super) name: Name,
    pub(super) prior: Estimate,
    /// The change of each result if the prior is wrong by its u.
    pub(super) moves: Vec<f64>,
}

/// Sensitivities of functions of the scene to the error of each prior, to first order. The solution responds to an
/// observation `p` of the unknown `j` with standard deviation `u` as `dx/dp = C e_j / u^2`.
pub(super) fn sensitivities(
    fit: &Fit,
    known: &SceneInputs,
    of: impl Fn(&Scene) -> Vec<f64>,
) -> Option<Vec<Sensitivity>> {
    let follows = slopes(fit, known, of) * fit.solution.covariance()?;
    let mut sensitivities = Vec::new();
    let mut columns = follows.column_iter();
    fit.scene.clone().each(known, &mut |name, _, _, prior| {
        if let (Some(column), Some(prior)) = (columns.next(), prior) {
            sensitivities.push(Sensitivity {
                name,
                prior,
                moves: column.iter().map(|by| by / prior.u).collect(),
            });
        }
    });
    Some(sensitivities)
}
