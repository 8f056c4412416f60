//! The adjusted model: one camera, one bike. The bike's plane has `x` from the rear axle to the front one, `y` up and
//! `z` towards the camera, with the rear axle at the origin.

use super::camera::Camera;
use super::known::SceneInputs;
use super::marks::Pixel;
use nalgebra::{Matrix3, Vector3};
use steerwright_metrology::least_squares::Unknown;
use steerwright_metrology::quantity::Estimate;

/// A tyre: a ring of circular section.
#[derive(Debug, Clone, Copy)]
pub(super) struct Torus {
    /// Radius of the outer edge, mm.
    pub(super) radius: f64,
    pub(super) width: f64,
}

/// A straight part: its angle to the axle line, radians, its distance from the origin (or from the front axle for a
/// stanchion), and its distance from the plane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rod {
    pub(super) angle: f64,
    pub(super) across: f64,
    pub(super) beside: f64,
}

/// The state that is adjusted. Lengths mm, angles radians.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    pub(super) camera: Camera,
    pub(super) log_focal: f64,
    /// Rotation of the start, to which `twist` is applied.
    pub(super) base: Matrix3<f64>,
    pub(super) twist: [f64; 3],
    /// The rear axle as seen: pixels from the principal point, and the natural logarithm of its depth over the focal
    /// length. With this parametrisation a longer lens from farther away, which looks much the same, changes one
    /// unknown instead of three.
    pub(super) seen_at: [f64; 3],
    /// The rear axle in the camera's coordinates, derived from `seen_at`.
    pub(super) origin: Vector3<f64>,
    pub(super) axles: f64,
    pub(super) front: Torus,
    pub(super) rear: Torus,
    /// Turn of the front wheel about the steering axis.
    pub(super) turn: f64,
    /// Angle of the steering axis to the axle line.
    pub(super) head: f64,
    pub(super) offset: f64,
    /// Head tube's top and bottom and the crown: height along the axis above the axle's foot, and distance from the
    /// plane.
    pub(super) on_axis: [[f64; 2]; 3],
    pub(super) bottom_bracket: [f64; 3],
    pub(super) stanchions: Vec<Rod>,
    pub(super) seat_tube: Rod,
    /// Lines in the undistorted picture: angle of the normal and distance from the principal point in half diagonals.
    pub(super) straight: Vec<[f64; 2]>,
}

/// A wheel in the camera's coordinates.
pub(super) struct Placed {
    centre: Vector3<f64>,
    /// Two directions in the wheel's plane and its normal.
    axes: [Vector3<f64>; 3],
    torus: Torus,
}

/// Which wheel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    Front,
    Rear,
}

/// Names an unknown or a prior.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Name {
    Focal,
    AxisX,
    AxisY,
    Distortion,
    Twist,
    SeenAt,
    Axles,
    Radius(End),
    Width(End),
    Turn,
    Head,
    Offset,
    OnAxis(usize),
    BesideAxis(usize),
    BottomBracket,
    BesideBottomBracket,
    Across(usize),
    BesideStanchion(usize),
    SeatTube,
    BesideSeatTube,
    Straight,
}

/// Visits an unknown: its name, its value, a step over which the projection is smooth, and its prior.
pub(super) type See<'s> = dyn FnMut(Name, &mut f64, f64, Option<Estimate>) + 's;

/// An unknown whose prior has a smaller u is held fixed, in its own unit.
const EXACT: f64 = 1e-9;

impl Scene {
    /// Visits every unknown that `known` calls for, always in the same order.
    pub(super) fn each(&mut self, known: &SceneInputs, see: &mut See<'_>) {
        let mut guarded = |name: Name, value: &mut f64, scale: f64, prior: Option<Estimate>| {
            if prior.is_none_or(|prior| prior.u > EXACT) {
                see(name, value, scale, prior);
            }
        };
        let see = &mut guarded;
        see(Name::Focal, &mut self.log_focal, 0.05, Some(known.log_focal));
        let [known_x, known_y] = known.axis;
        let [x, y] = &mut self.camera.axis;
        see(Name::AxisX, x, 20.0, Some(known_x));
        see(Name::AxisY, y, 20.0, Some(known_y));
        see(Name::Distortion, &mut self.camera.distortion, 0.01, Some(known.distortion));
        for twist in &mut self.twist {
            see(Name::Twist, twist, 0.02, None);
        }
        for (place, scale) in self.seen_at.iter_mut().zip([20.0, 20.0, 0.02]) {
            see(Name::SeenAt, place, scale, None);
        }
        see(Name::Axles, &mut self.axles, 10.0, None);
        let wheels = [(End::Front, &mut self.front, &known.front), (End::Rear, &mut self.rear, &known.rear)];
        for (end, wheel, known) in wheels {
            see(Name::Radius(end), &mut wheel.radius, 5.0, Some(known.radius));
            see(Name::Width(end), &mut wheel.width, 5.0, Some(known.width));
        }
        see(Name::Turn, &mut self.turn, 0.02, Some(known.turn));
        if known.has_axis() {
            see(Name::Head, &mut self.head, 0.02, None);
            see(Name::Offset, &mut self.offset, 2.0, Some(known.offset));
        }
        for (i, ([along, beside], known)) in self.on_axis.iter_mut().zip(&known.on_axis).enumerate() {
            if let Some(known) = known {
                see(Name::OnAxis(i), along, 10.0, None);
                see(Name::BesideAxis(i), beside, 5.0, Some(known.beside));
            }
        }
        if let Some(known) = &known.bottom_bracket {
            let [x, y, beside] = &mut self.bottom_bracket;
            see(Name::BottomBracket, x, 10.0, None);
            see(Name::BottomBracket, y, 10.0, None);
            see(Name::BesideBottomBracket, beside, 5.0, Some(known.beside));
        }
        for (i, (rod, known)) in self.stanchions.iter_mut().zip(&known.stanchions).enumerate() {
            see(Name::Across(i), &mut rod.across, 10.0, None);
            see(Name::BesideStanchion(i), &mut rod.beside, 5.0, Some(known.beside));
        }
        if let Some(known) = &known.seat_tube {
            see(Name::SeatTube, &mut self.seat_tube.angle, 0.02, None);
            see(Name::SeatTube, &mut self.seat_tube.across, 10.0, None);
            see(Name::BesideSeatTube, &mut self.seat_tube.beside, 5.0, Some(known.beside));
        }
        for [angle, distance] in &mut self.straight {
            see(Name::Straight, angle, 0.02, None);
            see(Name::Straight, distance, 0.02, None);
        }
        self.camera.focal_px = libm::exp(self.log_focal);
        let [x, y, depth] = self.seen_at;
        self.origin = Vector3::new(x, y, self.camera.focal_px) * libm::exp(depth);
    }

    /// The unknowns, with their priors.
    pub(super) fn unknowns(&self, known: &SceneInputs) -> Vec<Unknown> {
        let mut unknowns = Vec::new();
        self.clone().each(known, &mut |_, value, scale, prior| {
            unknowns.push(Unknown { start: *value, scale, prior });
        });
        unknowns
    }

    /// The same scene with these unknowns.
    pub(super) fn with(&self, known: &SceneInputs, unknowns: &[f64]) -> Self {
        let mut scene = self.clone();
        let mut unknowns = unknowns.iter();
        scene.each(known, &mut |_, value, _, _| *value = unknowns.next().copied().unwrap_or(f64::NAN));
        scene
    }

    /// Rotation from the plane's coordinates to the camera's.
    pub(super) fn rotation(&self) -> Matrix3<f64> {
        rotation(self.twist) * self.base
    }

    /// Transforms a point from the plane's coordinates to the camera's.
    pub(super) fn seen_from_camera(&self, x: f64, y: f64, z: f64) -> Vector3<f64> {
        self.rotation() * Vector3::new(x, y, z) + self.origin
    }

    /// The pixel at which a point in the plane's coordinates appears.
    pub(super) fn project(&self, x: f64, y: f64, z: f64) -> Option<Pixel> {
        self.camera.project(self.seen_from_camera(x, y, z))
    }

    /// The point at distance `z` from the plane that appears at a pixel.
    pub(super) fn behind(&self, pixel: Pixel, z: f64) -> Option<[f64; 2]> {
        let turned = self.rotation().transpose();
        let (ray, eye) = (turned * self.camera.ray(pixel)?, -(turned * self.origin));
        let far = (z - eye.z) / ray.z;
        (far > 0.0).then(|| [eye.x + far * ray.x, eye.y + far * ray.y])
    }

    /// Distance of the camera from the plane, mm.
    pub(super) fn distance(&self) -> f64 {
        -(self.rotation().column(2).dot(&self.origin))
    }

    /// Angle off square of the line of sight to the middle between the axles, radians.
    pub(super) fn obliquity(&self) -> f64 {
        let middle = self.seen_from_camera(self.axles / 2.0, 0.0, 0.0);
        libm::acos((self.distance() / middle.norm()).clamp(-1.0, 1.0))
    }

    /// A point of the steering axis, `along` above the foot of the front axle.
    pub(super) fn on_axis(&self, along: f64) -> [f64; 2] {
        let (sin, cos) = libm::sincos(self.head);
        [self.axles - self.offset * sin - along * cos, -self.offset * cos + along * sin]
    }

    /// A wheel in its pose.
    pub(super) fn placed(&self, end: End) -> Placed {
        let rotation = self.rotation();
        let plane: [Vector3<f64>; 3] = [0, 1, 2].map(|i| rotation.column(i).into_owned());
        match end {
            End::Rear => Placed { centre: self.origin, axes: plane, torus: self.rear },
            End::Front => {
                let (sin, cos) = libm::sincos(self.head);
                let steered = self::rotation([-cos * self.turn, sin * self.turn, 0.0]);
                let forward = Vector3::new(sin, cos, 0.0) * self.offset;
                let centre = Vector3::new(self.axles, 0.0, 0.0) - forward + steered * forward;
                let axes = [0, 1, 2].map(|i| rotation * steered.column(i));
                Placed { centre: rotation * centre + self.origin, axes, torus: self.front }
            }
        }
    }
}

impl Placed {
    /// A point of the tyre's outline, `round` radians from the wheel's first direction: where the line of sight is
    /// tangent to the ring. The ring's circular section in that direction has its normal at `tilt` out of the wheel's
    /// plane. The line of sight is tangent where it is perpendicular to the normal; of the two such points the outer
    /// one is returned.
    pub(super) fn outline(&self, camera: &Camera, round: f64) -> Option<Pixel> {
        let (sin, cos) = libm::sincos(round);
        let [first, second, normal] = &self.axes;
        let outward = first * cos + second * sin;
        let half = self.torus.width / 2.0;
        let middle = self.centre + outward * (self.torus.radius - half);
        let (a, b) = (outward.dot(&middle), normal.dot(&middle));
        // Sum of two angles whose cosines and sines are known: avoids trigonometric calls, which run for every mark at
        // every step.
        let far = (a * a + b * b).sqrt();
        let ([cos_a, sin_a], cos_b) = ([a / far, b / far], -half / far);
        let sin_b = (1.0 - cos_b * cos_b).sqrt();
        let (sin, cos) = (sin_a * cos_b + cos_a * sin_b, cos_a * cos_b - sin_a * sin_b);
        camera.project(middle + (outward * cos + normal * sin) * half)
    }

    /// Angular position of a pixel around the wheel, radians.
    pub(super) fn round(&self, camera: &Camera, pixel: Pixel) -> Option<f64> {
        let ray = camera.ray(pixel)?;
        let [first, second, normal] = &self.axes;
        let far = normal.dot(&self.centre) / normal.dot(&ray);
        let from = ray * far - self.centre;
        (far > 0.0).then(|| libm::atan2(second.dot(&from), first.dot(&from)))
    }
}

/// The rotation by a vector's length about its direction (O. Rodrigues).
fn rotation([x, y, z]: [f64; 3]) -> Matrix3<f64> {
    let angle = libm::sqrt(x * x + y * y + z * z);
    let cross = Matrix3::new(0.0, -z, y, z, 0.0, -x, -y, x, 0.0);
    let (sine, versine) = if angle < 1e-4 {
        (1.0 - angle * angle / 6.0, 0.5 - angle * angle / 24.0)
    } else {
        let half = libm::sin(angle / 2.0) / angle;
        (libm::sin(angle) / angle, 2.0 * half * half)
    };
    Matrix3::identity() + cross * sine + cross * cross * versine
}
