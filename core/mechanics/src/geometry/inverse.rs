//! The tilt that gives a target value of a figure.

use super::change::{Change, changed};
use super::error::within;
use super::{Bicycle, Figure, GeometryError, Offsets};

/// Number of intervals searched for a sign change, so that roots of a figure that is not monotonic are found too.
const PIECES: u16 = 32;
/// Accuracy of the tilt, degrees.
const CLOSE: f64 = 1e-10;

/// The tilt, degrees and slacker positive, with which `figure` becomes `wanted` (mm or degrees).
///
/// `change` holds the other changes; the offsets of its kit are replaced, its bearing planes kept. `tilts` is the
/// search range, within -15 to 15 degrees. If more than one tilt gives the figure, the one nearest to zero is returned.
///
/// # Errors
/// If a number is outside its domain, and [`GeometryError::OutOfReach`] with the reachable range if no tilt in the
/// range gives the figure.
pub fn tilt_for(
    bicycle: &Bicycle,
    change: &Change,
    figure: Figure,
    wanted: f64,
    tilts: [f64; 2],
) -> Result<f64, GeometryError> {
    let [low, high] = tilts;
    within("least tilt", low, -15.0, 15.0)?;
    within("greatest tilt", high, low, 15.0)?;
    let value = |tilt: f64| {
        let tilted = Change { kit: Some(offsets(bicycle, change, tilt)?), ..*change };
        Ok(changed(bicycle, &tilted)?.after.get(figure))
    };
    // Points from one end of the range to the other. The middle is included: it is zero tilt in a symmetric range.
    let points = (0..=PIECES)
        .map(|i| {
            let tilt = low + (high - low) * f64::from(i) / f64::from(PIECES);
            Ok((tilt, value(tilt)?))
        })
        .collect::<Result<Vec<(f64, f64)>, GeometryError>>()?;
    let bracket = points
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] if (a.1 - wanted) * (b.1 - wanted) <= 0.0 => Some([*a, *b]),
            _ => None,
        })
        .min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let Some([a, b]) = bracket else {
        let values = points.iter().map(|point| point.1);
        let reachable =
            [values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max)];
        return Err(GeometryError::OutOfReach { figure, wanted, tilts, reachable });
    };
    root(|tilt| Ok(value(tilt)? - wanted), (a.0, a.1 - wanted), (b.0, b.1 - wanted))
}

fn distance([a, b]: &[(f64, f64); 2]) -> f64 {
    if a.0 <= 0.0 && b.0 >= 0.0 { 0.0 } else { a.0.abs().min(b.0.abs()) }
}

fn offsets(bicycle: &Bicycle, change: &Change, tilt: f64) -> Result<Offsets, GeometryError> {
    let planes = change.kit.unwrap_or(Offsets::NONE);
    Offsets::for_tilt(tilt, bicycle.head_tube_length, planes.upper_plane, planes.lower_plane)
        .map_err(|_| GeometryError::NoStance)
}

/// A root of `f` between two points of unlike sign, to [`CLOSE`], by the interpolate-truncate-project method
/// (I. F. D. Oliveira and R. H. C. Takahashi, An enhancement of the bisection method average performance
/// preserving minmax optimality, ACM Trans. Math. Softw. 47 (2020) 5), with the authors' k1 = 0.2 / (b - a),
/// k2 = 2, n0 = 1: never more than one step over bisection.
fn root(
    f: impl Fn(f64) -> Result<f64, GeometryError>,
    first: (f64, f64),
    second: (f64, f64),
) -> Result<f64, GeometryError> {
    let ((mut a, mut fa), (mut b, mut fb)) = (first, second);
    if fa == 0.0 {
        return Ok(a);
    }
    if fb == 0.0 {
        return Ok(b);
    }
    let pull = 0.2 / (b - a);
    let most = ((b - a) / (2.0 * CLOSE)).log2().ceil().max(0.0) + 1.0;
    let mut radius = CLOSE * most.exp2();
    while b - a > 2.0 * CLOSE {
        let middle = f64::midpoint(a, b);
        let allowed = radius - (b - a) / 2.0;
        // Interpolate: the secant's root, moved slightly towards the middle, but no further than the allowed distance
        // from it.
        let secant = (fb * a - fa * b) / (fb - fa);
        let side = (middle - secant).signum();
        let shift = pull * (b - a) * (b - a);
        let truncated = if shift <= (middle - secant).abs() { secant + side * shift } else { middle };
        let x = if (truncated - middle).abs() <= allowed { truncated } else { middle - side * allowed };
        let fx = f(x)?;
        if fx == 0.0 {
            return Ok(x);
        }
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
        } else {
            (a, fa) = (x, fx);
        }
        radius /= 2.0;
    }
    Ok(f64::midpoint(a, b))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x^3 - x - 2 on [1, 2], an example of that paper; the root is 1.521 379 706 804 567 6 (cubic formula).
    #[test]
    fn a_cubic() {
        let calls = std::cell::Cell::new(0);
        let cubic = |x: f64| {
            calls.set(calls.get() + 1);
            Ok(x * x * x - x - 2.0)
        };
        let found = root(cubic, (1.0, -2.0), (2.0, 4.0)).unwrap();
        assert!((found - 1.521_379_706_804_567_6).abs() <= CLOSE, "{found}");
        // Bisection would need 33.
        assert!(calls.get() < 20, "{}", calls.get());
    }
}
