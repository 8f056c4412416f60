//! Pairs of rings that could be the wheels of one bike.

use super::Guess;
use super::wheel::Ring;
use crate::measure::Ellipse;

/// Wheelbase over wheel radius: 2.7 (a small frame on large wheels) to 3.9 (**P**).
const WHEELBASE: [f64; 2] = [2.7, 3.9];
/// Greatest ratio of the two wheel sizes: different wheels (1.06) and one of them nearer to the camera.
const UNLIKE: f64 = 1.4;
/// Greatest slope of the line through the axles, as a tangent: camera roll, and the view from above of a bike that is
/// turned away.
const LEVEL: f64 = 0.25;
/// Size enters the score with this power: of two concentric rings, the outer one is the tyre's edge even if its
/// confidence is somewhat lower.
const POWER: i32 = 3;
/// Guesses of lower confidence are not returned.
const LEAST: f64 = 0.2;

/// Guesses, the most confident first; none that shares both wheels with a better one.
pub(super) fn pairs(rings: &[Ring]) -> Vec<Guess> {
    let mut found: Vec<(f64, Guess)> = Vec::new();
    for (i, one) in rings.iter().enumerate() {
        for other in rings.iter().skip(i + 1) {
            let [ax, bx] = [one, other].map(|ring| ring.ellipse.centre[0]);
            let (left, right) = if ax <= bx { (one, other) } else { (other, one) };
            if let Some(sure) = judged(left, right) {
                let wheels = [left.ellipse, right.ellipse];
                // Of concentric rings, the outer is the tyre's edge.
                let size = wheels.iter().map(|it| it.major).sum::<f64>();
                found.push((sure * size.powi(POWER), Guess { wheels, sure }));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<Guess> = Vec::new();
    for (_, guess) in found {
        if !kept.iter().any(|other| near(other, &guess)) {
            kept.push(guess);
        }
    }
    kept.sort_by(|a, b| b.sure.total_cmp(&a.sure));
    kept
}

/// Whether both wheels are at the same positions.
fn near(one: &Guess, other: &Guess) -> bool {
    one.wheels.iter().zip(&other.wheels).all(|(a, b)| {
        let ([ax, ay], [bx, by]) = (a.centre, b.centre);
        libm::hypot(ax - bx, ay - by) < 0.25 * a.major
    })
}

/// Confidence in this pair; `None` if it cannot be the wheels of a bike.
fn judged(left: &Ring, right: &Ring) -> Option<f64> {
    let (a, b) = (&left.ellipse, &right.ellipse);
    let unlike = a.major.max(b.major) / a.major.min(b.major);
    let ([ax, ay], [bx, by]) = (a.centre, b.centre);
    let (along, rise) = (bx - ax, by - ay);
    // An oblique view shortens the wheels' width and the wheelbase by the same factor.
    let wheelbase = libm::hypot(along, rise) / ((half_width(a) + half_width(b)) / 2.0);
    let [shortest, longest] = WHEELBASE;
    let lean = (rise / along).abs();
    let shape = ((a.minor / a.major) - (b.minor / b.major)).abs();
    let level = lean <= LEVEL;
    if unlike > UNLIKE || !(shortest..=longest).contains(&wheelbase) || !level || shape > 0.2 {
        return None;
    }
    let fit = |off: f64, room: f64| (-(off / room).powi(2)).exp();
    let likeness = fit(unlike - 1.0, 0.4) * fit(lean, 0.25) * fit(wheelbase - 3.2, 0.8) * fit(shape, 0.3);
    let covered = left.covered.min(right.covered);
    let sure = ((covered - 0.4) / 0.5).clamp(0.0, 1.0) * likeness.sqrt();
    (sure >= LEAST).then_some(sure)
}

/// Half of an ellipse's extent from left to right.
fn half_width(ellipse: &Ellipse) -> f64 {
    let (sin, cos) = libm::sincos(ellipse.turn_deg.to_radians());
    libm::hypot(ellipse.major * cos, ellipse.minor * sin)
}
