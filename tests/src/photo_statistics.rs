//! Error statistics of photo measurements, and the baseline of a protractor on the screen.

use std::collections::BTreeMap;
use std::fmt::Write;
use steerwright_core::photogrammetry::measure::{Marks, Pixel};
use steerwright_core::quantity::Quantity;

/// Errors of one quantity over many scenes.
#[derive(Default)]
pub struct ErrorStatistics {
    /// Measured minus true.
    pub errors: Vec<f64>,
    /// Error over u.
    pub ratios: Vec<f64>,
}

impl ErrorStatistics {
    /// Adds an error and its u.
    pub fn add(&mut self, error: f64, u: f64) {
        self.errors.push(error);
        self.ratios.push(error / u);
    }

    /// Number of errors.
    pub fn n(&self) -> f64 {
        self.errors.len() as f64
    }

    /// Root mean square.
    pub fn rms(&self) -> f64 {
        (self.errors.iter().map(|error| error * error).sum::<f64>() / self.n()).sqrt()
    }

    /// Mean.
    pub fn bias(&self) -> f64 {
        self.errors.iter().sum::<f64>() / self.n()
    }

    /// The largest absolute error.
    pub fn worst(&self) -> f64 {
        self.errors.iter().map(|error| error.abs()).fold(0.0, f64::max)
    }

    /// Share within 2 u.
    pub fn coverage(&self) -> f64 {
        self.ratios.iter().filter(|ratio| ratio.abs() <= 2.0).count() as f64 / self.n()
    }

    /// Mean square of error over u: 1 if u is correct.
    pub fn mean_square(&self) -> f64 {
        self.ratios.iter().map(|ratio| ratio * ratio).sum::<f64>() / self.n()
    }
}

/// Centre and radius of the circle through points (algebraic least squares).
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

/// The baseline of a protractor on the screen: the steering axis along the marked stanchion, or else the head tube, as
/// seen in the picture, the ground as the line below two circles, and the scale from the mean of the tyres.
pub fn straight_off(marks: &Marks) -> BTreeMap<Quantity, f64> {
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

/// One line of statistics for each quantity.
pub fn rows(name: &str, tallies: &BTreeMap<Quantity, ErrorStatistics>) -> String {
    tallies.iter().map(|(what, tally)| rows_of(&format!("{}{name}", what.name()), tally)).collect()
}

/// One line of statistics.
pub fn rows_of(name: &str, tally: &ErrorStatistics) -> String {
    if tally.errors.is_empty() {
        return String::new();
    }
    let (n, rms, bias, worst) = (tally.errors.len(), tally.rms(), tally.bias(), tally.worst());
    let mut text = format!("{name:<34} {n:>5} {rms:>8.3} {bias:>+8.3} {worst:>8.3}");
    if !tally.ratios.is_empty() {
        write!(text, " {:>9.1} % {:>12.2}", 100.0 * tally.coverage(), tally.mean_square()).unwrap();
    }
    text.push('\n');
    text
}

/// The header of those lines.
pub const HEAD: &str =
    "quantity                               n      rms     bias    worst  within 2 u  (error/u)^2";
