//! Edges and views of a rendered picture, against OpenCV (`tests/oracle/photo_edges.py`) and the slow way.
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
use steerwright_core::photogrammetry::edges::{Edgel, Grey, Heights, edgels};
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

/// The share of some places within a pixel, also aslant, of one of the others.
fn share_near(some: &BTreeSet<Place>, others: &BTreeSet<Place>) -> f64 {
    let near = |[x, y]: &Place| (-1..=1).any(|i| (-1..=1).any(|j| others.contains(&[x + i, y + j])));
    some.iter().filter(|place| near(place)).count() as f64 / some.len() as f64
}

fn pixels(found: &[Edgel]) -> BTreeSet<Place> {
    found.iter().map(|edgel| edgel.pixel().map(i64::from)).collect()
}

#[test]
fn edges_are_those_of_opencv() {
    let grey = Grey::of(&picture()).unwrap();
    let mut seen = 0;
    for case in oracle()["edges"].as_array().unwrap() {
        let heights = Heights { faint: number(&case["faint"]), clear: number(&case["clear"]) };
        let place = |pair: &Value| [pair[0].as_i64().unwrap(), pair[1].as_i64().unwrap()];
        let theirs: BTreeSet<Place> = case["pixels"].as_array().unwrap().iter().map(place).collect();
        // The slope's length is measured within 7 %: what is that much above the heights has to be among theirs, and
        // theirs among what is that much below.
        let at = |share: f64| Heights { faint: share * heights.faint, clear: share * heights.clear };
        let (clear, all) = (pixels(&edgels(&grey, at(1.07))), pixels(&edgels(&grey, at(1.0 / 1.07))));
        let (of_ours, of_theirs) = (share_near(&clear, &theirs), share_near(&theirs, &all));
        assert!(of_ours > 0.95 && of_theirs > 0.95, "{heights:?}: {of_ours:.4} {of_theirs:.4}");
        seen += clear.len();
    }
    assert!(seen > 500, "{seen}");
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
            // OpenCV fades the picture's outermost half pixel into what lies outside.
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

/// The value between four pixels' middles in double precision.
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

/// A picture of made-up colours, as rough as can be.
fn colours(width: u32, height: u32, colour: Colour, seed: u32) -> Pixels {
    let count = width * height * colour.channels() as u32;
    let data = (0..count).map(|i| (i.wrapping_mul(2_654_435_761).wrapping_add(seed) >> 24) as u8).collect();
    Pixels { width, height, colour, data, full_width: width, full_height: height, step: 1.0, upright: true }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Each pixel of a view, bent or not, is the picture's value at its place, in colour and in grey, for pictures down
    /// to one pixel.
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
        // About the middle, in half diagonals.
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
            // At the very edge the two precisions may differ about what is inside.
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

    /// Any bytes and any heights give edges inside the picture, each pixel once.
    #[test]
    fn edges_of_anything(
        (width, height) in (1..70u32, 1..40u32),
        seed in any::<u32>(),
        faint in prop_oneof![-1e9..1e9f64, 0.0..60.0f64, Just(f64::NAN)],
        clear in prop_oneof![-1e9..1e9f64, 0.0..60.0f64, Just(f64::INFINITY)],
    ) {
        let picture = colours(width, height, Colour::Grey, seed);
        let found = edgels(&Grey::of(&picture).unwrap(), Heights { faint, clear });
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
    // Beyond the horizon there is nothing, also where the numbers grow past all bounds.
    let horizon = Warp::plain(Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, -0.25, 0.0, 1.0));
    let view = horizon.view(&picture, [8, 2], 7).unwrap();
    assert!(view.data[4 * 3..8 * 3].iter().all(|value| *value == 7), "{:?}", view.data);
    let huge = Warp::plain(Matrix3::identity() * 1e300).view(&picture, [8, 8], 7).unwrap();
    assert!(huge.data.iter().all(|value| *value == 7) || huge.data == picture.data);
}

/// A step of 40 levels between two columns: one edgel a row, on the brink, with 48 times the height.
#[test]
fn a_step_is_placed_on_its_brink() {
    let data = (0..20 * 12).map(|i| if i % 20 < 9 { 60 } else { 100 }).collect();
    let grey = Grey::new(20, 12, data).unwrap();
    let found = edgels(&grey, Heights { faint: 10.0, clear: 20.0 });
    assert_eq!(found.len(), 12);
    for edgel in found {
        assert!((edgel.x - 9.0).abs() < 0.02, "{edgel:?}");
        assert_eq!((edgel.gx, edgel.gy), (48 * 40, 0), "{edgel:?}");
    }
    let too_high = edgels(&grey, Heights { faint: 10.0, clear: 41.0 });
    assert_eq!(too_high, []);
}
