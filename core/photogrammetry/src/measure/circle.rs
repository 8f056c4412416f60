//! Pose of a circle of known radius from the ellipse of its image.

use super::ellipse::Ellipse;
use nalgebra::{Matrix3, Vector3};

/// A circle in the camera's coordinates, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CirclePose {
    /// Its centre.
    pub centre: Vector3<f64>,
    /// The normal of its plane, length 1, towards the camera.
    pub normal: Vector3<f64>,
}

/// The two circles of `radius` (mm) whose image is the ellipse for a camera with this matrix, free of distortion; they
/// coincide where the circle is seen square on. `None` for a degenerate cone.
///
/// The cone's eigenvectors give both planes that cut it in a circle (Q. Chen, H. Wu, T. Wada, Camera calibration with
/// two arbitrary coplanar circles, ECCV 2004).
pub fn circle_poses(ellipse: &Ellipse, camera: &Matrix3<f64>, radius: f64) -> Option<[CirclePose; 2]> {
    let cone = camera.transpose() * ellipse.matrix() * camera;
    let cone = cone / cone.norm();
    let eigen = cone.symmetric_eigen();
    let mut order: Vec<(f64, Vector3<f64>)> = eigen
        .eigenvalues
        .iter()
        .copied()
        .zip(eigen.eigenvectors.column_iter().map(|column| column.into_owned()))
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let [(l1, v1), (l2, _), (l3, v3)] = <[_; 3]>::try_from(order).ok()?;
    let is_cone = l2 > 0.0 && l3 < 0.0 && radius > 0.0;
    if !is_cone {
        return None;
    }
    let g = ((l2 - l3) / (l1 - l3)).sqrt();
    let h = ((l1 - l2) / (l1 - l3)).max(0.0).sqrt();
    let far = l2 * radius / (-l1 * l3).sqrt();
    let pose = |sign: f64| {
        let normal = v1 * (sign * h) - v3 * g;
        let centre = (v1 * (sign * h * l3 / l2) - v3 * (g * l1 / l2)) * far;
        // A cone has two nappes: the circle is in front of the camera and its normal points back to it.
        let centre = if centre.z < 0.0 { -centre } else { centre };
        let normal = if normal.dot(&centre) > 0.0 { -normal } else { normal };
        CirclePose { centre, normal }
    };
    Some([pose(1.0), pose(-1.0)])
}
