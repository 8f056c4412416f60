//! Guesses of the wheels, on small copies of rendered pictures (`tests/scenes/wheels.py`) compared with OpenCV's
//! circles, and on pictures without a bike.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::photo::{BuiltIn, Limits, upright};
use steerwright_core::photogrammetry::edges::Grey;
use steerwright_core::photogrammetry::guess::guess_wheels;
use steerwright_core::photogrammetry::measure::{Ellipse, Pixel, foot};

#[derive(Deserialize)]
struct Scene {
    number: u32,
    yaw: f64,
    tyres: [Vec<Pixel>; 2],
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/wheels")
}

fn scenes() -> Vec<Scene> {
    serde_json::from_str(&fs::read_to_string(folder().join("wheels.json")).unwrap()).unwrap()
}

impl Scene {
    fn picture(&self) -> Grey {
        let bytes = fs::read(folder().join(format!("{:03}.jpg", self.number))).unwrap();
        Grey::of(&upright(&bytes, &Limits::default(), &BuiltIn).unwrap().0).unwrap()
    }

    /// The true outlines, the one further left first.
    fn wheels(&self) -> [Ellipse; 2] {
        let mut both = [0, 1].map(|i| Ellipse::direct(&self.tyres[i]).unwrap());
        both.sort_by(|a, b| a.centre[0].total_cmp(&b.centre[0]));
        both
    }
}

/// The greatest distance of two outlines from the true ones, in true radii.
fn off(wheels: &[Ellipse; 2], truth: &[Ellipse; 2]) -> f64 {
    let worst = |found: &Ellipse, truth: &Ellipse| {
        let away = |i: u32| {
            let [x, y] = found.at(f64::from(i).to_radians() * 10.0);
            let [fx, fy] = foot(truth, [x, y]);
            (x - fx).hypot(y - fy) / truth.major
        };
        (0..36).map(away).fold(0.0, f64::max)
    };
    wheels.iter().zip(truth).map(|(found, truth)| worst(found, truth)).fold(0.0, f64::max)
}

/// Taps this far off a tyre, in radii, still lead to its outline: the guarantee of `snap_tyre`.
const SNAPPED_FROM: f64 = 0.04;
/// Outlines further off, in radii, belong to something else: a tyre's inner edge and a wheel's rim are nearer.
const ELSEWHERE: f64 = 0.25;

#[derive(Deserialize)]
struct Peer {
    pictures: Vec<Circles>,
}

#[derive(Deserialize)]
struct Circles {
    number: u32,
    /// Centre and radius of two circles, the one further left first, or empty.
    circles: Vec<[f64; 3]>,
}

/// The wheels that OpenCV's Hough transform finds (`tests/oracle/photo_guess.py`), by the scene's number.
fn peer() -> BTreeMap<u32, [Ellipse; 2]> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/oracle/photo_guess.json");
    let peer: Peer = serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap();
    let ellipse =
        |[x, y, radius]: [f64; 3]| Ellipse { centre: [x, y], major: radius, minor: radius, turn_deg: 0.0 };
    let two = |it: &Circles| Some((it.number, [ellipse(*it.circles.first()?), ellipse(*it.circles.get(1)?)]));
    peer.pictures.iter().filter_map(two).collect()
}

/// On copies of 320 pixels, where three hundredths of a radius are one pixel. The scenes are turned up to 30 degrees,
/// with clutter, shadows, blur and noise.
///
/// A guess replaces six taps and is reviewed before use, so it has to be right more often than not: near enough to both
/// tyres to be snapped to them. It finds the wheels, if only their inner edges, on more pictures than a Hough transform
/// finds circles there. And with a confidence over one half, it is never a guess of something else.
#[test]
fn most_wheels_are_guessed() {
    let peer = peer();
    let (mut near, mut about, mut sure_and_wrong, mut count, mut of_peer) = (0, 0, Vec::new(), 0, 0);
    for scene in scenes() {
        let truth = scene.wheels();
        let guesses = guess_wheels(&scene.picture());
        assert!(guesses.len() <= 3 && guesses.is_sorted_by(|a, b| a.sure >= b.sure));
        assert!(guesses.iter().all(|guess| (0.0..=1.0).contains(&guess.sure)));
        let best = guesses.first().map(|guess| (off(&guess.wheels, &truth), guess.sure));
        println!("{:03} yaw {:5.1}: {best:.3?}", scene.number, scene.yaw);
        let within = |room: f64| best.is_some_and(|(off, _)| off < room);
        count += 1;
        near += usize::from(within(SNAPPED_FROM));
        about += usize::from(within(ELSEWHERE));
        of_peer += usize::from(peer.get(&scene.number).is_some_and(|it| off(it, &truth) < ELSEWHERE));
        if best.is_some_and(|(off, sure)| off > ELSEWHERE && sure > 0.5) {
            sure_and_wrong.push(scene.number);
        }
    }
    println!("of {count}: {near} can be snapped from, {about} are about the wheels, {of_peer} of the peer's");
    assert!(count >= 60);
    assert!(near * 2 > count, "{near} of {count}");
    assert!(of_peer * 2 > count, "a peer that finds {of_peer} of {count} is none");
    assert!(about > of_peer, "{about} and the peer's {of_peer} of {count}");
    assert!(sure_and_wrong.is_empty(), "{sure_and_wrong:?}");
}

/// A sequence of pseudorandom numbers.
fn noise(seed: u32) -> impl Iterator<Item = f64> {
    (0u32..).map(move |i| {
        let mut h = i.wrapping_mul(0x9E37_79B1) ^ seed.wrapping_mul(0x85EB_CA77);
        h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
        h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
        f64::from(h ^ (h >> 15)) / f64::from(u32::MAX)
    })
}

fn drawn(width: u32, height: u32, value: impl Fn(f64, f64) -> f64) -> Grey {
    let at = |i: u32| value(f64::from(i % width), f64::from(i / width)).clamp(0.0, 255.0) as u8;
    Grey::new(width, height, (0..width * height).map(at).collect()).unwrap()
}

#[test]
fn nothing_is_guessed_where_nothing_is() {
    for seed in 0..6 {
        let data = noise(seed).take(400 * 300).map(|share| (share * 255.0) as u8).collect();
        assert_eq!(guess_wheels(&Grey::new(400, 300, data).unwrap()), [], "noise {seed}");
    }
    for turn in 0..6 {
        let (sin, cos) = (f64::from(turn) * 0.5).sin_cos();
        let stripes = drawn(400, 300, |x, y| 128.0 + 100.0 * ((x * cos + y * sin) / 6.0).sin().signum());
        assert_eq!(guess_wheels(&stripes), [], "stripes {turn}");
    }
    let checks = drawn(400, 300, |x, y| 128.0 + 100.0 * ((x / 9.0).sin() * (y / 9.0).sin()).signum());
    assert_eq!(guess_wheels(&checks), []);
    for (width, height) in [(1, 1), (2, 900), (900, 2), (3, 3)] {
        assert_eq!(guess_wheels(&drawn(width, height, |x, y| x * 40.0 + y)), [], "{width} by {height}");
    }
}

/// Two dark rings a wheelbase apart are guessed to a fiftieth of their radius, on a large picture as well; one alone is
/// not.
#[test]
fn two_rings_are_guessed_and_one_is_not() {
    let ring =
        |x: f64, y: f64, cx: f64| (x - cx).hypot(y - 700.0) < 260.0 && (x - cx).hypot(y - 700.0) > 220.0;
    let two = drawn(1700, 1100, |x, y| if ring(x, y, 420.0) || ring(x, y, 1270.0) { 30.0 } else { 190.0 });
    let guesses = guess_wheels(&two);
    let circle = |x| Ellipse { centre: [x, 700.5], major: 260.0, minor: 260.0, turn_deg: 0.0 };
    assert!(off(&guesses[0].wheels, &[circle(420.5), circle(1270.5)]) < 0.02, "{guesses:?}");
    assert!(guesses[0].sure > 0.8, "{guesses:?}");
    let one = drawn(1700, 1100, |x, y| if ring(x, y, 420.0) { 30.0 } else { 190.0 });
    assert_eq!(guess_wheels(&one), []);
}
