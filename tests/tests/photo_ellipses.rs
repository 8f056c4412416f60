//! Ellipses through points and the circles they represent, compared with OpenCV, SciPy and published values
//! (`tests/oracle/photo_measure.py`).

use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;
use steerwright_core::photogrammetry::measure::{Ellipse, Pixel, circle_poses, foot};

static ORACLE: LazyLock<Value> = LazyLock::new(|| {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/oracle/photo_measure.json");
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
});

fn oracle(name: &str) -> &'static [Value] {
    ORACLE[name].as_array().unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn numbers<const N: usize>(value: &Value) -> [f64; N] {
    std::array::from_fn(|i| number(&value[i]))
}

fn places(value: &Value) -> Vec<Pixel> {
    value.as_array().unwrap().iter().map(numbers).collect()
}

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found}, expected {expected} +- {tolerance}");
}

/// Angles of axes: 179.9 and 0.1 are near each other.
fn near_axis(found: f64, expected: f64, tolerance: f64, what: &str) {
    let off = (found - expected + 90.0).rem_euclid(180.0) - 90.0;
    assert!(off.abs() <= tolerance, "{what}: {found}, expected {expected} +- {tolerance}");
}

fn same_ellipse(found: &Ellipse, expected: &Value, tolerance: f64) {
    let [x, y] = found.centre;
    let [ex, ey] = numbers(&expected["centre"]);
    near(x, ex, tolerance, "centre x");
    near(y, ey, tolerance, "centre y");
    near(found.major, number(&expected["major"]), tolerance, "major");
    near(found.minor, number(&expected["minor"]), tolerance, "minor");
    // The rounder the ellipse, the less its direction is determined.
    let sway = (tolerance / (found.major - found.minor)).to_degrees() * 2.0;
    near_axis(found.turn_deg, number(&expected["turn_deg"]), sway, "turn");
}

#[test]
fn direct_ellipses_are_those_of_opencv() {
    for case in oracle("ellipses") {
        let found = Ellipse::direct(&places(&case["points"])).unwrap();
        // OpenCV uses single precision: 6e-8 of coordinates up to 2000, amplified by the fit.
        same_ellipse(&found, &case["direct"], 2e-3);
    }
}

#[test]
fn nearest_ellipses_are_those_of_scipy() {
    for case in oracle("ellipses") {
        let points = places(&case["points"]);
        let start = Ellipse::direct(&points).unwrap();
        let found = start.nearest(&points).unwrap();
        let expected = &case["nearest"];
        near(found.distance_rms(&points), number(&expected["rms"]), 1e-6, "rms");
        // Both stop where the sum of squares changes in its last digits, a flat minimum.
        same_ellipse(&found, expected, 1e-4);
    }
}

/// W. Gander, G. Golub, R. Strebel, BIT 34 (1994) 558-578, eq. 3.6 (**V**): the direct fit of these eight points,
/// recomputed, and their geometric best fit as printed.
#[test]
fn the_published_points_give_the_published_ellipses() {
    let points =
        [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0], [6.0, 2.0], [8.0, 4.0]];
    let direct = Ellipse::direct(&points).unwrap();
    let [x, y] = direct.centre;
    near(x, 5.063_878, 5e-7, "x");
    near(y, 5.069_753, 5e-7, "y");
    near(direct.major, 3.775_664, 5e-7, "major");
    near(direct.minor, 2.642_334, 5e-7, "minor");
    near_axis(direct.turn_deg, 2.755_473f64.to_degrees(), 5e-7f64.to_degrees(), "turn");

    let start = Ellipse { centre: [2.7, 3.8], major: 6.5, minor: 3.0, turn_deg: 20.6 };
    let nearest = start.nearest(&points).unwrap();
    let [x, y] = nearest.centre;
    // Half the last printed digit.
    near(x, 2.6996, 5e-5, "x");
    near(y, 3.8160, 5e-5, "y");
    near(nearest.major, 6.5187, 5e-5, "major");
    near(nearest.minor, 3.0319, 5e-5, "minor");
    near_axis(nearest.turn_deg, 0.3596f64.to_degrees(), 5e-5f64.to_degrees(), "turn");
}

#[test]
fn circles_stand_where_opencv_finds_them() {
    for case in oracle("poses") {
        let ellipse = Ellipse::direct(&places(&case["points"])).unwrap();
        let [cx, cy] = numbers(&case["axis"]);
        let focal = number(&case["focal"]);
        let camera = Matrix3::new(focal, 0.0, cx, 0.0, focal, cy, 0.0, 0.0, 1.0);
        let both = circle_poses(&ellipse, &camera, number(&case["radius"])).unwrap();
        let centre = Vector3::from(numbers::<3>(&case["centre"]));
        let normal = Vector3::from(numbers::<3>(&case["normal"]));
        let off = both.map(|pose| ((pose.centre - centre).norm(), (pose.normal - normal).norm()));
        let best = off.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        // The points are exact to double precision; near square the normal's error is the root of rounding.
        assert!(best.0 < 1e-3 && best.1 < 1e-5, "{off:?}");
    }
}

/// Z. Zhang, A flexible new technique for camera calibration, IEEE PAMI 22 (2000), the author's published result
/// (**V**): intrinsic matrix, skew included, and the first view. A circle in that view's plane is found in the plane
/// stated by the view; the tolerance is that of six printed digits of the rotation.
#[test]
fn a_circle_in_a_published_view_is_found_in_its_plane() {
    let camera = Matrix3::new(832.5, 0.204_494, 303.959, 0.0, 832.53, 206.585, 0.0, 0.0, 1.0);
    let turn = Matrix3::new(
        0.992_759,
        -0.026_319,
        0.117_201,
        0.013_924_7,
        0.994_339,
        0.105_341,
        -0.119_31,
        -0.102_947,
        0.987_505,
    );
    let origin = Vector3::new(-3.840_19, 3.651_64, 12.791);
    // A disc about the centre of the pattern, inches.
    let (middle, radius) = (Vector3::new(3.5, -3.5, 0.0), 3.0);
    let points: Vec<Pixel> = (0..36)
        .map(|i| {
            let round = f64::from(i) * 10f64.to_radians();
            let at = middle + Vector3::new(round.cos(), round.sin(), 0.0) * radius;
            let seen = camera * (turn * at + origin);
            [seen.x / seen.z, seen.y / seen.z]
        })
        .collect();
    let ellipse = Ellipse::direct(&points).unwrap();
    let [first, second] = circle_poses(&ellipse, &camera, radius).unwrap();
    // The pattern's third axis points away from the camera.
    let normal = -turn.column(2).into_owned();
    let centre = turn * middle + origin;
    let best = if (first.normal - normal).norm() < (second.normal - normal).norm() { first } else { second };
    assert!((best.normal - normal).norm() < 2e-5, "{} {normal}", best.normal);
    assert!((best.centre - centre).norm() < 1e-4, "{} {centre}", best.centre);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    /// The foot of a position is on the normal of the edge, and no other point of the edge is nearer.
    #[test]
    fn no_point_of_an_ellipse_is_nearer_than_the_foot(
        (major, flat, turn_deg) in (1.0..1000.0f64, 0.01..1.0f64, 0.0..180.0f64),
        place in [-2000.0..2000.0f64, -2000.0..2000.0f64],
    ) {
        let ellipse = Ellipse { centre: [30.0, -20.0], major, minor: major * flat, turn_deg };
        let [fx, fy] = foot(&ellipse, place);
        let reach = (place[0] - fx).hypot(place[1] - fy);
        for i in 0..720 {
            let [x, y] = ellipse.at(f64::from(i).to_radians() / 2.0);
            prop_assert!((place[0] - x).hypot(place[1] - y) >= reach - 1e-9 * (major + reach));
        }
        let on = ellipse.matrix() * Vector3::new(fx, fy, 1.0);
        prop_assert!(on.dot(&Vector3::new(fx, fy, 1.0)).abs() < 1e-6);
    }
}
