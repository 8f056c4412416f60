//! Edges and views of a rendered picture, compared with OpenCV (`tests/oracle/photo_edges.py`) and with a plain
//! implementation.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use nalgebra::Matrix3;
use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::photo::{BuiltIn, Colour, Limits, Pixels, upright};
use steerwright_core::photogrammetry::edges::{Edgel, Grey, HysteresisThresholds, edgels};
use steerwright_core::photogrammetry::warp::Warp;

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

fn oracle() -> Value {
    serde_json::from_str(&fs::read_to_string(data("oracle/photo_edges.json")).unwrap()).unwrap()
}

fn picture() -> Pixels {
    let bytes = fs::read(data("photo/edges/side-on.png")).unwrap();
    upright(&bytes, &Limits::default(), &BuiltIn).unwrap().0
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

type Place = [i64; 2];

fn pixels(found: &[Edgel]) -> BTreeSet<Place> {
    found.iter().map(|edgel| edgel.pixel().map(i64::from)).collect()
}

/// The pixels of a picture's edges by a plain implementation: derivatives over five by five pixels, the picture's
/// border repeated; of the pixels whose gradient is at least `faint` and greater than that of their two neighbours
/// across the edge, those connected to one of at least `clear`. Gradient lengths are those of `length`, zero beyond the
/// picture.
fn slow_edges(grey: &Grey, [faint, clear]: [f64; 2], length: fn([i32; 2]) -> f64) -> BTreeSet<Place> {
    let (width, height) = (i64::from(grey.width()), i64::from(grey.height()));
    let place = |[x, y]: Place| (y * width + x) as usize;
    let value =
        |x: i64, y: i64| i32::from(grey.data()[place([x.clamp(0, width - 1), y.clamp(0, height - 1)])]);
    let (smooth, rise) = ([1, 4, 6, 4, 1], [-1, -2, 0, 2, 1]);
    let slope = |[x, y]: Place| {
        let mut slope = [0, 0];
        for (i, j) in (0..5).flat_map(|i| (0..5).map(move |j| (i, j))) {
            let grey = value(x + i as i64 - 2, y + j as i64 - 2);
            slope[0] += rise[i] * smooth[j] * grey;
            slope[1] += smooth[i] * rise[j] * grey;
        }
        slope
    };
    let places: Vec<Place> = (0..height).flat_map(|y| (0..width).map(move |x| [x, y])).collect();
    let slopes: Vec<[i32; 2]> = places.iter().map(|it| slope(*it)).collect();
    let lengths: Vec<f64> = slopes.iter().map(|it| length(*it)).collect();
    let at = |[x, y]: Place| {
        let inside = (0..width).contains(&x) && (0..height).contains(&y);
        if inside { lengths[place([x, y])] } else { 0.0 }
    };
    let is_thin = |[x, y]: Place| {
        let [gx, gy] = slopes[place([x, y])].map(f64::from);
        // Four directions, separated at 22.5 and 67.5 degrees.
        let parting = 22.5f64.to_radians().tan();
        let [i, j] = if gy.abs() < parting * gx.abs() {
            [1, 0]
        } else if gx.abs() < parting * gy.abs() {
            [0, 1]
        } else {
            [if gx * gy >= 0.0 { 1 } else { -1 }, 1]
        };
        let here = at([x, y]);
        here >= faint && here > at([x - i, y - j]) && here >= at([x + i, y + j])
    };
    let thin: BTreeSet<Place> = places.into_iter().filter(|it| is_thin(*it)).collect();
    let mut open: Vec<Place> = thin.iter().filter(|it| at(**it) >= clear).copied().collect();
    let mut kept: BTreeSet<Place> = open.iter().copied().collect();
    while let Some([x, y]) = open.pop() {
        for near in (-1..=1).flat_map(|i| (-1..=1).map(move |j| [x + i, y + j])) {
            if thin.contains(&near) && kept.insert(near) {
                open.push(near);
            }
        }
    }
    kept
}

/// Euclidean length of a gradient, as in OpenCV.
fn root([gx, gy]: [i32; 2]) -> f64 {
    f64::from(gx).hypot(f64::from(gy))
}

/// Length of a gradient in integers, within 7 % of the Euclidean one.
fn octagon([gx, gy]: [i32; 2]) -> f64 {
    let (more, less) = (gx.abs().max(gy.abs()), gx.abs().min(gy.abs()));
    f64::from(more + less / 4 + less / 8)
}

/// The plain implementation finds OpenCV's edges to the pixel with the Euclidean length, and ours with the integer
/// length: they differ from OpenCV's by the length of gradients, and by nothing else.
#[test]
fn edges_are_those_of_opencv_but_for_the_length_of_slopes() {
    let grey = Grey::of(&picture()).unwrap();
    let oracle = oracle();
    let cases = oracle["edges"].as_array().unwrap();
    assert!(cases.len() >= 2);
    for case in cases {
        let heights = [number(&case["faint"]), number(&case["clear"])];
        // A sharp step of one level gives 48.
        let slopes = heights.map(|height| 48.0 * height);
        let place = |pair: &Value| [pair[0].as_i64().unwrap(), pair[1].as_i64().unwrap()];
        let theirs: BTreeSet<Place> = case["pixels"].as_array().unwrap().iter().map(place).collect();
        assert!(theirs.len() > 2_000, "{}", theirs.len());
        assert!(slow_edges(&grey, slopes, root) == theirs, "{heights:?}: the slow way is not OpenCV's");
        let ours = pixels(&edgels(&grey, HysteresisThresholds { faint: heights[0], clear: heights[1] }));
        assert!(slow_edges(&grey, slopes, octagon) == ours, "{heights:?}: the slow way is not ours");
    }
    for degrees in 0..360 {
        let (sin, cos) = f64::from(degrees).to_radians().sin_cos();
        let slope = [(10_000.0 * cos) as i32, (10_000.0 * sin) as i32];
        let ratio = octagon(slope) / root(slope);
        assert!((ratio - 1.0).abs() < 0.07, "{degrees}: {ratio}");
    }
}

#[test]
fn views_are_those_of_opencv() {
    let oracle = oracle();
    let nothing = oracle["nothing"].as_u64().unwrap() as u8;
    for case in oracle["views"].as_array().unwrap() {
        let homography: Vec<f64> = case["homography"].as_array().unwrap().iter().map(number).collect();
        let warp = Warp::plain(Matrix3::from_row_slice(&homography));
        let size = [0, 1].map(|side| case["size"][side].as_u64().unwrap() as u32);
        let view = warp.view(&picture(), size, nothing).unwrap();
        let (mut sum, mut count) = (0.0, 0);
        for (i, expected) in case["every_29th"].as_array().unwrap().iter().enumerate() {
            let at = i * 29;
            let place =
                warp.place([(at % size[0] as usize) as f64 + 0.5, (at / size[0] as usize) as f64 + 0.5]);
            // OpenCV blends the picture's outermost half pixel with the outside.
            let [x, y] = place.unwrap();
            let inner = (1.0..f64::from(picture().width) - 1.0).contains(&x)
                && (1.0..f64::from(picture().height) - 1.0).contains(&y);
            let outer = x < -1.0
                || y < -1.0
                || x > f64::from(picture().width) + 1.0
                || y > f64::from(picture().height) + 1.0;
            if inner || outer {
                let off = (f64::from(view.data[at]) - number(expected)).abs();
                assert!(off <= 1.6, "at {at}: {} {expected}", view.data[at]);
                (sum, count) = (sum + off, count + 1);
            }
        }
        // Rounding to whole levels alone gives a quarter.
        assert!(count > 500 && sum / f64::from(count) < 0.4, "{} of {count}", sum / f64::from(count));
    }
}

/// The value between four pixel centres in double precision.
fn slowly(picture: &Pixels, [x, y]: [f64; 2], channel: usize) -> f64 {
    let (width, height) = (picture.width as usize, picture.height as usize);
    let (x, y) = ((x - 0.5).clamp(0.0, width as f64 - 1.0), (y - 0.5).clamp(0.0, height as f64 - 1.0));
    let (i, j) = (x as usize, y as usize);
    let (a, b) = (x - i as f64, y - j as f64);
    let at = |i: usize, j: usize| {
        let pixel = j.min(height - 1) * width + i.min(width - 1);
        f64::from(picture.data[pixel * picture.colour.channels() + channel])
    };
    (at(i, j) * (1.0 - a) + at(i + 1, j) * a) * (1.0 - b)
        + (at(i, j + 1) * (1.0 - a) + at(i + 1, j + 1) * a) * b
}

/// A picture of random colours, as rough as possible.
fn colours(width: u32, height: u32, colour: Colour, seed: u32) -> Pixels {
    let count = width * height * colour.channels() as u32;
    let data = (0..count).map(|i| (i.wrapping_mul(2_654_435_761).wrapping_add(seed) >> 24) as u8).collect();
    Pixels { width, height, colour, data, full_width: width, full_height: height, step: 1.0, upright: true }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Each pixel of a view, distorted or not, is the picture's value at its source position, in colour and in grey,
    /// for pictures down to one pixel.
    #[test]
    fn views_are_the_picture_at_each_place(
        (width, height) in (1..40u32, 1..40u32),
        grey in any::<bool>(),
        seed in any::<u32>(),
        turn in -0.5..0.5f64,
        scale in 0.3..2.0f64,
        tilt in [-0.005..0.005f64, -0.005..0.005f64],
        distortion in -0.1..0.1f64,
        mirrored in any::<bool>(),
    ) {
        let colour = if grey { Colour::Grey } else { Colour::Rgb };
        let picture = colours(width, height, colour, seed);
        let half = f64::from(width).hypot(f64::from(height)) / 2.0;
        let (sin, cos) = turn.sin_cos();
        // About the centre, in half diagonals.
        let by = scale / half;
        let ideal = Matrix3::new(cos, -sin, 0.0, sin, cos, 0.0, tilt[0], tilt[1], 1.0)
            * Matrix3::new(by, 0.0, -by * 15.0, 0.0, by, -by * 15.0, 0.0, 0.0, 1.0);
        let way = if mirrored { -half } else { half };
        let warp = Warp::bent(
            ideal,
            0.1,
            distortion,
            0.05,
            [[way, f64::from(width) / 2.0], [half, f64::from(height) / 2.0]],
        );
        let view = warp.view(&picture, [30, 30], 0xd8).unwrap();
        for (i, found) in view.data.chunks(colour.channels()).enumerate() {
            let place = warp.place([(i % 30) as f64 + 0.5, (i / 30) as f64 + 0.5]);
            let inside = place.filter(|[x, y]| {
                (0.0..=f64::from(width)).contains(x) && (0.0..=f64::from(height)).contains(y)
            });
            // At the very edge the two precisions may differ about being inside.
            let near_edge = place.is_some_and(|[x, y]| {
                [x, x - f64::from(width), y, y - f64::from(height)].iter().any(|off| off.abs() < 1e-3)
            });
            for (channel, found) in found.iter().enumerate() {
                let expected = inside.map_or(216.0, |place| slowly(&picture, place, channel));
                // A 512th of a pixel along each side, of at most 255 levels from pixel to pixel, and a rounding.
                let off = (f64::from(*found) - expected).abs();
                prop_assert!(off <= 2.0 * 255.0 / 512.0 + 0.6 || near_edge, "{i}: {found} {expected}");
            }
        }
    }

    /// Arbitrary bytes and thresholds give edges inside the picture, each pixel once.
    #[test]
    fn edges_of_anything(
        (width, height) in (1..70u32, 1..40u32),
        seed in any::<u32>(),
        faint in prop_oneof![-1e9..1e9f64, 0.0..60.0f64, Just(f64::NAN)],
        clear in prop_oneof![-1e9..1e9f64, 0.0..60.0f64, Just(f64::INFINITY)],
    ) {
        let picture = colours(width, height, Colour::Grey, seed);
        let found = edgels(&Grey::of(&picture).unwrap(), HysteresisThresholds { faint, clear });
        let (across, down) = (0.0..=width as f32, 0.0..=height as f32);
        let inside = found.iter().all(|edgel| across.contains(&edgel.x) && down.contains(&edgel.y));
        prop_assert!(inside);
        prop_assert_eq!(pixels(&found).len(), found.len());
        prop_assert!(found.is_empty() || (faint.is_finite() && clear.is_finite() && width > 2 && height > 2));
    }
}

#[test]
fn views_that_cannot_be() {
    let picture = colours(8, 8, Colour::Rgb, 1);
    let warp = Warp::plain(Matrix3::identity());
    assert_eq!(warp.view(&picture, [8, 8], 0).unwrap().data, picture.data);
    for size in [[0, 8], [8, 0], [8_193, 1], [1, u32::MAX]] {
        assert_eq!(warp.view(&picture, size, 0), None);
    }
    for wrong in [f64::NAN, f64::INFINITY] {
        assert_eq!(Warp::plain(Matrix3::identity() * wrong).view(&picture, [8, 8], 0), None);
    }
    let short = Pixels { data: vec![0; 5], ..picture.clone() };
    assert_eq!(warp.view(&short, [8, 8], 0), None);
    // Beyond the horizon there is nothing, also where the numbers overflow.
    let horizon = Warp::plain(Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, -0.25, 0.0, 1.0));
    let view = horizon.view(&picture, [8, 2], 7).unwrap();
    assert!(view.data[4 * 3..8 * 3].iter().all(|value| *value == 7), "{:?}", view.data);
    let huge = Warp::plain(Matrix3::identity() * 1e300).view(&picture, [8, 8], 7).unwrap();
    assert!(huge.data.iter().all(|value| *value == 7) || huge.data == picture.data);
}

/// A step of 40 levels between two columns: one edgel per row, at the boundary, with 48 times the height.
#[test]
fn a_step_is_placed_on_its_brink() {
    let data = (0..20 * 12).map(|i| if i % 20 < 9 { 60 } else { 100 }).collect();
    let grey = Grey::new(20, 12, data).unwrap();
    let found = edgels(&grey, HysteresisThresholds { faint: 10.0, clear: 20.0 });
    assert_eq!(found.len(), 12);
    for edgel in found {
        assert!((edgel.x - 9.0).abs() < 0.02, "{edgel:?}");
        assert_eq!((edgel.gx, edgel.gy), (48 * 40, 0), "{edgel:?}");
    }
    let too_high = edgels(&grey, HysteresisThresholds { faint: 10.0, clear: 41.0 });
    assert_eq!(too_high, []);
}
