//! A simulated phone on a simulated bike: rigid rotations of three axes, a sensor with zeros, scales and noise.
//!
//! It shares no code with the fit: it rotates the phone's axes in the world and computes the angle of each to the
//! vertical.

use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use steerwright_core::level::{Bearing, LevelPriors, Pose, Reading, Sample, Session, Still};
use steerwright_core::quantity::Quantity;

pub type Vector = [f64; 3];

pub struct Draw(Xoshiro256PlusPlus);

impl Draw {
    pub fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    pub fn normal(&mut self, sd: f64) -> f64 {
        let standard: f64 = StandardNormal.sample(&mut self.0);
        sd * standard
    }

    pub fn three(&mut self, sd: f64) -> Vector {
        [self.normal(sd), self.normal(sd), self.normal(sd)]
    }
}

fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn dot(a: Vector, b: Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Rotated about a unit axis by this many degrees (Rodrigues).
fn turned(v: Vector, axis: Vector, degrees: f64) -> Vector {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (across, along) = (cross(axis, v), dot(axis, v) * (1.0 - cos));
    [0, 1, 2].map(|i| v[i] * cos + across[i] * sin + axis[i] * along)
}

/// A sensor's errors.
#[derive(Clone)]
pub struct Sensor {
    pub zero: Vector,
    pub scale: Vector,
    pub gravity: f64,
    /// Misalignment to the phone's edge, degrees about the phone's z and x axis.
    pub sits: [f64; 2],
    /// Standard deviation of a sample, m/s².
    pub noise: f64,
    /// Error of each reading's length beyond zero and scale, standard deviation in m/s².
    pub length: f64,
}

impl Sensor {
    pub fn perfect() -> Self {
        Self { zero: [0.0; 3], scale: [0.0; 3], gravity: 9.806, sits: [0.0; 2], noise: 0.0, length: 0.0 }
    }

    pub fn drawn(draw: &mut Draw, known: &LevelPriors) -> Self {
        Self {
            zero: draw.three(known.zero),
            scale: draw.three(known.scale),
            gravity: 9.806 + draw.normal(known.gravity),
            sits: [draw.normal(known.edge), draw.normal(known.edge)],
            noise: 0.03,
            length: known.length,
        }
    }

    /// Samples of the sensor with the phone's axes in the world given; the world's third axis is up.
    pub fn samples(&self, axes: [Vector; 3], count: usize, draw: &mut Draw) -> Vec<Sample> {
        let [x, y, z] = axes;
        let [about_z, about_x] = self.sits;
        let axes = [x, y, z].map(|axis| turned(turned(axis, z, about_z), x, about_x));
        let gravity = self.gravity + draw.normal(self.length);
        let force = axes.map(|axis| axis[2] * gravity);
        (0..count)
            .map(|_| {
                let told: Vec<f64> = (0..3)
                    .map(|i| force[i] * (1.0 + self.scale[i]) + self.zero[i] + draw.normal(self.noise))
                    .collect();
                Sample::new(told[0], told[1], told[2])
            })
            .collect()
    }
}

/// The bike's attitude; degrees.
#[derive(Clone, Copy)]
pub struct Stand {
    pub angle: f64,
    /// The floor's slope, positive if the bike in the first heading looks steeper.
    pub slope: f64,
    /// To the right.
    pub lean: f64,
}

/// The phone's axes in the world: the bike's are forward, left, up.
pub fn axes(
    stand: Stand,
    bearing: Bearing,
    pose: Pose,
    top_up: bool,
    screen_left: bool,
    roll: f64,
) -> [Vector; 3] {
    let (sin, cos) = stand.angle.to_radians().sin_cos();
    let left = |yes: bool| if yes { [0.0, 1.0, 0.0] } else { [0.0, -1.0, 0.0] };
    let (y, z) = match pose {
        Pose::Along => (if top_up { [-cos, 0.0, sin] } else { [cos, 0.0, -sin] }, left(screen_left)),
        Pose::LeanLeft => ([0.0, 0.0, 1.0], left(true)),
        Pose::LeanRight => ([0.0, 0.0, 1.0], left(false)),
    };
    let z = turned(z, y, roll);
    let sign = if bearing == Bearing::OneWay { 1.0 } else { -1.0 };
    [cross(y, z), y, z].map(|axis| {
        // Lean to the right about the bike's own forward axis, then the floor about its left.
        let leant = turned(axis, [1.0, 0.0, 0.0], stand.lean);
        turned(leant, [0.0, 1.0, 0.0], sign * stand.slope)
    })
}

/// A whole session: four positions of the phone and the left rim, in both headings.
pub fn session(draw: &mut Draw, sensor: &Sensor, known: &LevelPriors, angle: f64, slope: f64) -> Session {
    let mut readings = Vec::new();
    for bearing in Bearing::ALL {
        let lean = draw.normal(known.lean);
        let standing = draw.normal(known.standing);
        let poses = [(true, true), (false, true), (false, false), (true, false)].map(|it| (Pose::Along, it));
        for (pose, (top_up, screen_left)) in poses.into_iter().chain([(Pose::LeanLeft, (true, true))]) {
            let laid = if pose == Pose::Along { draw.normal(known.laying) } else { 0.0 };
            let flat = if pose == Pose::Along { 0.0 } else { draw.normal(known.rim) };
            let stand = Stand { angle: angle + standing + laid, slope, lean: lean + flat };
            let roll = if pose == Pose::Along { draw.normal(8.0) } else { 0.0 };
            let axes = axes(stand, bearing, pose, top_up, screen_left, roll);
            let still = Still::of(&sensor.samples(axes, 40, draw)).unwrap();
            readings.push(Reading { bearing, pose, still });
        }
    }
    Session { what: Quantity::HeadAngle, readings }
}
