//! The bike's plane: the mapping between millimetres on it and pixels.

use super::camera::{Camera, LEAST_SLOPE, NEAREST};
use super::known::SceneInputs;
use super::marks::Pixel;
use super::scene::Scene;
use crate::warp::Warp;
use nalgebra::{Matrix3, Vector3};

/// The plane of the wheels. Its coordinates are mm: `x` forward of the rear wheel's contact with the ground, `y` up
/// from the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Maps `[x, y, 1]` in the plane to pixels of an ideal lens, up to a factor: the matrix of the rectified view. In
    /// the original picture, mirrored or not.
    pub homography: Matrix3<f64>,
    /// From the camera to the plane, mm.
    pub distance_mm: f64,
    /// Between the line of sight to the bike's middle and the plane's normal, degrees.
    pub oblique_deg: f64,
    /// Position of the rear axle.
    pub rear_axle: [f64; 2],
    /// Position of the front axle.
    pub front_axle: [f64; 2],
    /// Outer radius of the rear tyre, mm.
    pub rear_radius: f64,
    /// Outer radius of the front tyre, mm.
    pub front_radius: f64,
    camera: Camera,
    place_to_camera: Matrix3<f64>,
    mirrored_width: Option<f64>,
}

impl Plane {
    pub(super) fn new(scene: &Scene, known: &SceneInputs) -> Self {
        let (front, rear) = (scene.front.radius, scene.rear.radius);
        let rise = libm::asin(((front - rear) / scene.axles).clamp(-1.0, 1.0));
        let (sin, cos) = libm::sincos(rise);
        // From the ground's coordinates to the axle line's: up by the radius, then rotated back by the rise.
        let to_axles = Matrix3::new(cos, sin, -rear * sin, -sin, cos, -rear * cos, 0.0, 0.0, 1.0);
        let rotation = scene.rotation();
        let place_to_camera =
            Matrix3::from_columns(&[rotation.column(0).into(), rotation.column(1).into(), scene.origin])
                * to_axles;
        let width = f64::from(known.image.width);
        let mirror = if known.mirrored {
            Matrix3::new(-1.0, 0.0, width, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
        } else {
            Matrix3::identity()
        };
        Self {
            homography: mirror * scene.camera.matrix() * place_to_camera,
            distance_mm: scene.distance(),
            oblique_deg: scene.obliquity().to_degrees(),
            rear_axle: [0.0, rear],
            front_axle: [scene.axles * cos, rear + scene.axles * sin],
            rear_radius: rear,
            front_radius: front,
            camera: scene.camera,
            place_to_camera,
            mirrored_width: known.mirrored.then_some(width),
        }
    }

    /// Whether the bike heads left in the original picture.
    pub fn heads_left(&self) -> bool {
        self.mirrored_width.is_some()
    }

    /// The pixel at which a point of the plane appears in the original picture, including the lens's distortion; `None`
    /// for a point that the camera cannot see.
    pub fn pixel(&self, [x, y]: [f64; 2]) -> Option<Pixel> {
        let [px, py] = self.camera.project(self.place_to_camera * Vector3::new(x, y, 1.0))?;
        Some([self.mirrored_width.map_or(px, |width| width - px), py])
    }

    /// The point of the plane that appears at a pixel of the original picture; `None` beyond the horizon.
    pub fn place(&self, [px, py]: Pixel) -> Option<[f64; 2]> {
        let ray = self.camera.ray([self.mirrored_width.map_or(px, |width| width - px), py])?;
        let found = self.place_to_camera.lu().solve(&ray)?;
        (found.z > 0.0).then(|| [found.x / found.z, found.y / found.z])
    }

    /// The warp from a view to the original picture scaled by `across` and `down`: `to_places` maps the view's pixels
    /// to the plane, up to a positive factor.
    pub(super) fn warp(&self, to_places: Matrix3<f64>, [across, down]: [f64; 2]) -> Warp {
        let Camera { focal_px, axis: [x, y], distortion, half_diagonal } = self.camera;
        let lens =
            Matrix3::from_diagonal(&Vector3::new(focal_px / half_diagonal, focal_px / half_diagonal, 1.0));
        let ideal = lens * self.place_to_camera * to_places;
        let (x, way) = self.mirrored_width.map_or((x, 1.0), |width| (width - x, -1.0));
        let pixels = [[way * half_diagonal * across, x * across], [half_diagonal * down, y * down]];
        Warp::bent(ideal, NEAREST, distortion, LEAST_SLOPE, pixels)
    }
}
