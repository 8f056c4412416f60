//! Plausibility checks of a result.

use super::adjust::{Fit, best};
use super::ellipse::Ellipse;
use super::known::SceneInputs;
use super::marks::Pixel;
use super::numbers::with_covariance;
use super::refusal::{Refusal, WheelEnd};
use super::rows::Row;
use super::scene::{End, Scene};
use steerwright_metrology::quantity::Estimate;

/// A fit of lower probability is refused: one good picture in ten thousand.
const UNLIKELY: f64 = 1e-4;
/// A wheel is reported as turned from this many standard deviations on.
const SURE: f64 = 3.5;
/// Standard uncertainty of the wheel's turn in the check, radians.
const ANY_TURN: f64 = 0.6;
/// The camera's least distance from the plane, mm: from nearer, parts that protrude from the plane hide the marked
/// ones.
const NEAREST: f64 = 1_200.0;
/// The greatest angle of the camera off square, degrees.
const STEEPEST: f64 = 45.0;

/// The ellipses of the front and the rear tyre, if the marks can be those of two wheels.
pub(super) fn ellipses(known: &SceneInputs) -> Result<(Ellipse, Ellipse), Refusal> {
    let ellipse = |marks: &[Pixel], wheel: WheelEnd| {
        let direct = Ellipse::direct(marks).ok_or(Refusal::NoEllipse { wheel })?;
        // Flatter than any wheel that is visible enough: the marks are on something else.
        if direct.minor < 0.2 * direct.major {
            return Err(Refusal::NoEllipse { wheel });
        }
        let gap_deg = direct.widest_gap_deg(marks);
        if gap_deg > 180.0 {
            return Err(Refusal::HalfWheel { wheel, gap_deg });
        }
        Ok(direct.nearest(marks).unwrap_or(direct))
    };
    let front = ellipse(&known.front.marks, WheelEnd::Front)?;
    let rear = ellipse(&known.rear.marks, WheelEnd::Rear)?;
    if distance(front.centre, rear.centre) < 0.6 * (front.major + rear.major) {
        return Err(Refusal::OneWheel);
    }
    let at_head_tube = known.on_axis.iter().flatten().flat_map(|part| &part.marks);
    for place in at_head_tube {
        if distance(*place, front.centre) > distance(*place, rear.centre) {
            return Err(Refusal::Swapped);
        }
    }
    Ok((front, rear))
}

fn distance([ax, ay]: Pixel, [bx, by]: Pixel) -> f64 {
    libm::hypot(ax - bx, ay - by)
}

/// Refuses a scene that contradicts the marks or is outside the model's validity.
pub(super) fn judge(fit: &Fit, known: &SceneInputs) -> Result<(), Refusal> {
    let leaning = (fit.scene.turn - known.turn.value).abs() > 2.0 * known.turn.u;
    let unlikely = fit.probability() < UNLIKELY;
    if unlikely || leaning {
        let chi_square = fit.solution.chi_square;
        let turned = turned(fit, known).filter(|other| {
            chi_square - other.solution.chi_square > SURE * SURE && other.probability() >= UNLIKELY
        });
        let worst = fit.worst();
        let without_worst = worst.map_or(0.0, |(_, normalised, _)| chi_square - normalised * normalised);
        if let Some(other) = &turned
            && other.solution.chi_square <= without_worst.max(chi_square - 4.0 * SURE * SURE)
        {
            return Err(Refusal::Turned { degrees: other.scene.turn.to_degrees().abs() });
        }
        if unlikely {
            return Err(blame(fit, known, worst, without_worst));
        }
        if let Some(other) = &turned {
            return Err(Refusal::Turned { degrees: other.scene.turn.to_degrees().abs() });
        }
    }
    stands_well(fit, known)?;
    for end in [End::Front, End::Rear] {
        if leaves_picture(&fit.scene, known, end) {
            return Err(Refusal::CutOff { wheel: end.into() });
        }
    }
    Ok(())
}

/// Refuses a camera that was too near or too far off square. Without a focal length, a bike seen square on does not
/// determine its distance: an uncertain value is not a reason for refusal.
fn stands_well(fit: &Fit, known: &SceneInputs) -> Result<(), Refusal> {
    let stand = |scene: &Scene| vec![scene.distance(), scene.obliquity().to_degrees()];
    let (stand, covariance) = with_covariance(fit, known, stand).ok_or(Refusal::Unexplained)?;
    let reach: Vec<f64> =
        covariance.diagonal().iter().map(|variance| 2.0 * variance.max(0.0).sqrt()).collect();
    let ([distance_mm, degrees], [distance_reach, degrees_reach]) = (stand.as_slice(), reach.as_slice())
    else {
        return Err(Refusal::Unexplained);
    };
    if distance_mm + distance_reach < NEAREST {
        return Err(Refusal::TooClose { distance_mm: *distance_mm });
    }
    if degrees - degrees_reach > STEEPEST {
        return Err(Refusal::TooOblique { degrees: *degrees });
    }
    Ok(())
}

/// Names one mark if it alone explains the misfit or is on no tyre, else reports that the two circles disagree.
fn blame(fit: &Fit, known: &SceneInputs, worst: Option<(Row, f64, f64)>, without_worst: f64) -> Refusal {
    if let Some((row, normalised, plain)) = worst {
        let freedom = fit.solution.degrees_of_freedom().saturating_sub(1).max(1) as f64;
        let explains = without_worst < freedom + 4.0 * (2.0 * freedom).sqrt();
        if explains
            || (!matches!(row, Row::Tyre(..)) && normalised * normalised > fit.solution.chi_square / 2.0)
        {
            // The fit absorbed part of the error: w = plain / sqrt(share), error = plain / share.
            let off_px = (normalised * normalised / plain).abs() * row.noise(known);
            return Refusal::MarkOff { which: row.to_string(), off_px };
        }
    }
    Refusal::Disagree { misfit: fit.misfit() }
}

/// The best scene with a front wheel at an arbitrary angle.
fn turned(fit: &Fit, known: &SceneInputs) -> Option<Fit> {
    let free = SceneInputs { turn: Estimate::new(0.0, ANY_TURN), ..known.clone() };
    let starts: Vec<Scene> =
        [-0.35, -0.12, 0.12, 0.35].into_iter().map(|turn| Scene { turn, ..fit.scene.clone() }).collect();
    best(&starts, &free)
}

/// Whether a tyre's outline leaves the picture by more than the marks' noise.
fn leaves_picture(scene: &Scene, known: &SceneInputs, end: End) -> bool {
    let placed = scene.placed(end);
    let (width, height) = (f64::from(known.image.width), f64::from(known.image.height));
    let slack = 3.0 * known.noise;
    (0..72).any(|i| {
        let round = f64::from(i) * 5f64.to_radians();
        placed
            .outline(&scene.camera, round)
            .is_none_or(|[x, y]| x < -slack || y < -slack || x > width + slack || y > height + slack)
    })
}
