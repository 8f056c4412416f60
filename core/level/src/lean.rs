//! The effect of the lean of the bike on the elevation.

use super::known::GRAVITY;
use super::{Bearing, LevelPriors, Pose, Reading};
use steerwright_metrology::quantity::Estimate;

/// The lean of the bike, degrees to its right, from the readings with the back of the phone on the rim. `None` without
/// a reading. Readings on both sides of the wheel cancel zero offset and misalignment of the sensor.
pub(super) fn lean(readings: &[Reading], bearing: Bearing, known: &LevelPriors) -> Option<Estimate> {
    let side = |pose: Pose, sign: f64| {
        let angles: Vec<f64> = readings
            .iter()
            .filter(|reading| reading.bearing == bearing && reading.pose == pose)
            .map(|reading| sign * reading.still.mean.face_elevation())
            .collect();
        let n = angles.len() as f64;
        (!angles.is_empty()).then(|| Estimate::new(angles.iter().sum::<f64>() / n, known.rim / n.sqrt()))
    };
    let sensor = (known.zero / GRAVITY).to_degrees().hypot(known.edge);
    let one_sided = |read: Estimate| Estimate::new(read.value, read.u.hypot(sensor));
    match (side(Pose::LeanLeft, 1.0), side(Pose::LeanRight, -1.0)) {
        (Some(left), Some(right)) => Some((left + right) * 0.5),
        (left, right) => left.or(right).map(one_sided),
    }
}

/// `angle - asin(sin(angle) cos(lean))`, degrees: mean and standard deviation for a normal lean, to second order. The
/// lean is the weighted mean of the reading and the prior of a bike held upright by eye.
pub(super) fn drop(angle: f64, read: Option<Estimate>, known: &LevelPriors) -> Estimate {
    let by_eye = Estimate::new(0.0, known.lean);
    let lean = read.map_or(by_eye, |read| {
        let (a, b) = (read.u.powi(-2), by_eye.u.powi(-2));
        Estimate::new(read.value * a / (a + b), (a + b).sqrt().recip())
    });
    let at = |lean: f64| angle - (angle.to_radians().sin() * lean.to_radians().cos()).asin().to_degrees();
    // The drop is tan(angle) lean^2 / 2 near zero: with a normal lean its mean grows by tan(angle) u^2 / 2.
    let tangent = angle.to_radians().tan();
    let (k, u) = (lean.value.to_radians(), lean.u.to_radians());
    let bent = (tangent * u * u / 2.0).to_degrees();
    let slope = (tangent * k * u).to_degrees();
    Estimate::new(at(lean.value) + bent, slope.hypot(bent * std::f64::consts::SQRT_2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: sin(66) cos(3) = 0.912293, asin 65.825; the drop of an exact lean is 0.1758 degrees.
    #[test]
    fn a_known_lean_takes_off_what_the_cosine_says() {
        let known = LevelPriors { lean: 1e3, ..LevelPriors::default() };
        let drop = drop(66.0, Some(Estimate::new(3.0, 1e-6)), &known);
        assert!((drop.value - 0.175_6).abs() < 5e-4 && drop.u < 1e-5, "{drop:?}");
    }

    /// The mean and standard deviation of tan(H) k^2 / 2 for k normal with sd 2: 0.0784 times 1 and sqrt 2.
    #[test]
    fn held_by_eye() {
        let drop = drop(66.0, None, &LevelPriors::default());
        assert!((drop.value - 0.0784).abs() < 1e-4 && (drop.u - 0.1109).abs() < 1e-4, "{drop:?}");
    }
}
