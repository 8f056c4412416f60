//! Measuring on pictures of made-up bikes, against the truth: how far off, and how honest about it.
//!
//! The scenes are made by `tests/scenes/scenes.py`, which turns, projects and bends with its own geometry: tyres as rings
//! with their true outline, fork legs beside the plane, marks with 1.5 px of noise, and everything that is told of the
//! bike wrong by its own uncertainty.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use steerwright_core::photo::measure::{Marks, Pixel, Seen, measure};
use steerwright_core::quantity::{Dimension, Quantity};

#[derive(Deserialize)]
struct Scenes {
    scenes: Vec<Scene>,
}

#[derive(Deserialize)]
struct Scene {
    number: u32,
    view: View,
    truth: BTreeMap<String, f64>,
    marks: Marks,
}

#[derive(Deserialize)]
struct View {
    yaw: f64,
}

fn scenes() -> Vec<Scene> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/scenes.json");
    serde_json::from_str::<Scenes>(&std::fs::read_to_string(path).unwrap()).unwrap().scenes
}

/// Errors of one quantity over many scenes.
#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    /// Error over u.
    ratios: Vec<f64>,
}

impl Tally {
    fn add(&mut self, error: f64, u: f64) {
        self.errors.push(error);
        self.ratios.push(error / u);
    }

    fn n(&self) -> f64 {
        self.errors.len() as f64
    }

    fn rms(&self) -> f64 {
        (self.errors.iter().map(|error| error * error).sum::<f64>() / self.n()).sqrt()
    }

    fn bias(&self) -> f64 {
        self.errors.iter().sum::<f64>() / self.n()
    }

    fn worst(&self) -> f64 {
        self.errors.iter().map(|error| error.abs()).fold(0.0, f64::max)
    }

    /// Share within 2 u.
    fn coverage(&self) -> f64 {
        self.ratios.iter().filter(|ratio| ratio.abs() <= 2.0).count() as f64 / self.n()
    }

    fn mean_square(&self) -> f64 {
        self.ratios.iter().map(|ratio| ratio * ratio).sum::<f64>() / self.n()
    }
}

/// Centre and radius of the circle through points (least squares of the algebraic kind).
fn circle(points: &[Pixel]) -> [f64; 3] {
    let n = points.len() as f64;
    let mean = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy, mut xz, mut yz, mut zz) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for point in points {
        let (x, y) = (point[0] - mean[0], point[1] - mean[1]);
        let z = x * x + y * y;
        (xx, xy, yy) = (xx + x * x, xy + x * y, yy + y * y);
        (xz, yz, zz) = (xz + x * z, yz + y * z, zz + z);
    }
    let determinant = 2.0 * (xx * yy - xy * xy);
    let (a, b) = ((xz * yy - yz * xy) / determinant, (yz * xx - xz * xy) / determinant);
    [mean[0] + a, mean[1] + b, (zz / n + a * a + b * b).sqrt()]
}

/// What a protractor on the screen tells: the steering axis as the marked stanchion, or else the head tube, runs in the
/// picture, the ground as the line below two circles, and millimetres by the mean of the tyres.
fn straight_off(marks: &Marks) -> BTreeMap<Quantity, f64> {
    let wheels = [&marks.rear, &marks.front].map(|wheel| circle(&wheel.tyre));
    let [rear, front] = wheels.map(|[x, y, radius]| [x, y + radius]);
    let along = |from: Pixel, to: Pixel| (to[1] - from[1]).atan2(to[0] - from[0]);
    let line = marks.stanchions.first().map(|line| line.points.clone()).unwrap_or_else(|| {
        [marks.head_tube_top, marks.head_tube_bottom].map(|mark| mark.unwrap().at).to_vec()
    });
    let (top, low) = (line[0], line[line.len() - 1]);
    let between = |a: f64, b: f64| {
        let degrees = (a - b).to_degrees().rem_euclid(180.0);
        degrees.min(180.0 - degrees)
    };
    let told = [&marks.rear, &marks.front].map(|wheel| wheel.diameter_mm.unwrap().value);
    let scale = (told[0] + told[1]) / (2.0 * (wheels[0][2] + wheels[1][2]));
    let axles = (wheels[1][0] - wheels[0][0]).hypot(wheels[1][1] - wheels[0][1]);
    BTreeMap::from([
        (Quantity::HeadAngle, between(along(top, low), along(rear, front))),
        (Quantity::Wheelbase, axles * scale),
    ])
}

struct Outcome {
    measured: BTreeMap<Quantity, Tally>,
    off_the_screen: BTreeMap<Quantity, Tally>,
    refused: Vec<String>,
    odd: usize,
}

fn outcome(scenes: &[Scene]) -> Outcome {
    let mut outcome =
        Outcome { measured: BTreeMap::new(), off_the_screen: BTreeMap::new(), refused: Vec::new(), odd: 0 };
    for scene in scenes {
        for (what, value) in straight_off(&scene.marks) {
            let truth = scene.truth[what.name()];
            outcome.off_the_screen.entry(what).or_default().add(value - truth, 1.0);
        }
        let seen: Seen = match measure(&scene.marks) {
            Ok(seen) => seen,
            Err(refusal) => {
                outcome.refused.push(format!("{}: {refusal}", scene.number));
                continue;
            }
        };
        let probable = seen.chi_square / seen.degrees_of_freedom as f64;
        outcome.odd += usize::from(probable > 2.0);
        for (what, estimate) in &seen.values {
            if let Some(truth) = scene.truth.get(what.name()) {
                outcome.measured.entry(*what).or_default().add(estimate.value - truth, estimate.u);
            }
        }
    }
    outcome
}

fn table(title: &str, outcome: &Outcome) -> String {
    let mut text = format!("{title}\n");
    let head = "quantity                       n      rms     bias    worst  within 2 u  (error/u)^2";
    writeln!(text, "{head}").unwrap();
    for (what, tally) in &outcome.measured {
        writeln!(
            text,
            "{:<26} {:>5} {:>8.3} {:>+8.3} {:>8.3} {:>9.1} % {:>12.2}",
            what.name(),
            tally.errors.len(),
            tally.rms(),
            tally.bias(),
            tally.worst(),
            100.0 * tally.coverage(),
            tally.mean_square()
        )
        .unwrap();
    }
    for (what, tally) in &outcome.off_the_screen {
        let name = format!("{} off the screen", what.name());
        let (n, rms, bias, worst) = (tally.errors.len(), tally.rms(), tally.bias(), tally.worst());
        writeln!(text, "{name:<26} {n:>5} {rms:>8.3} {bias:>+8.3} {worst:>8.3}").unwrap();
    }
    writeln!(text, "refused {}: {:?}", outcome.refused.len(), outcome.refused).unwrap();
    text
}

/// The aims of measuring by hand, and honesty about it.
///
/// The share within 2 u of a normal error is 95.45 %; over 360 scenes its standard deviation is 1.1 %, over the fewest
/// of any quantity 1.3 %. Two percent about 95 is asked of the quantities that a kit is chosen by, three and a half
/// of the others, which are three standard deviations. On 2400 further scenes of the same generator every quantity
/// was covered to 95.2 to 96.1 %, the seat angle of those turned by 10 to 30 degrees to 95.8 %.
#[test]
fn hand_marks_from_all_sides() {
    let scenes = scenes();
    assert!(scenes.len() >= 300);
    let all = outcome(&scenes);
    println!("{}", table("all scenes", &all));
    let (square, turned): (Vec<_>, Vec<_>) =
        scenes.into_iter().partition(|scene| scene.view.yaw.abs() <= 10.0);
    println!("{}", table("turned by at most 10 degrees", &outcome(&square)));
    println!("{}", table("turned by 10 to 30 degrees", &outcome(&turned)));

    let head = &all.measured[&Quantity::HeadAngle];
    assert!(head.rms() <= 0.25, "{}", head.rms());
    assert!(head.bias().abs() <= 3.0 * head.rms() / head.n().sqrt(), "{}", head.bias());
    assert!(head.rms() < all.off_the_screen[&Quantity::HeadAngle].rms() / 4.0);
    let base = &all.measured[&Quantity::Wheelbase];
    // Half a percent of the shortest wheelbase.
    assert!(base.rms() <= 0.005 * 1050.0, "{}", base.rms());
    for (what, tally) in &all.measured {
        let room = if matches!(what, Quantity::HeadAngle | Quantity::Wheelbase) { 0.02 } else { 0.035 };
        assert!((tally.coverage() - 0.95).abs() <= room, "{what}: {}", tally.coverage());
        assert!(tally.n() >= 250.0, "{what}: told of {} scenes only", tally.n());
        let plausible = if what.dimension() == Dimension::Angle { 3.0 } else { 60.0 };
        assert!(tally.worst() < plausible, "{what}: {}", tally.worst());
    }
    // A good picture is not sent back.
    assert!(all.refused.len() <= 360 / 50, "{:?}", all.refused);
    assert!(all.odd <= 360 / 50, "{}", all.odd);
}

#[test]
#[ignore]
fn experiment() {
    let path = std::env::var("STEERWRIGHT_SCENES").unwrap();
    let u: f64 = std::env::var("U").unwrap().parse().unwrap();
    let mut scenes = serde_json::from_str::<Scenes>(&std::fs::read_to_string(path).unwrap()).unwrap().scenes;
    for scene in &mut scenes {
        if u > 0.0 {
            scene.marks.lens.distortion = Some(steerwright_core::quantity::Estimate::new(0.0, u));
        }
    }
    let (lined, bare): (Vec<_>, Vec<_>) = scenes.into_iter().partition(|s| !s.marks.straight.is_empty());
    println!("{}", table("with straight", &outcome(&lined)));
    println!("{}", table("bare", &outcome(&bare)));
    let turned: Vec<_> = bare.into_iter().filter(|s| s.view.yaw.abs() > 10.0).collect();
    println!("{}", table("bare turned", &outcome(&turned)));
}
