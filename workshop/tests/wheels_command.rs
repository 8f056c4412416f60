//! `steerwright wheels` as a process.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a check may panic: that is how it fails")]

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use steerwright_core::photo::{BuiltIn, Limits, Pixels, upright};
use steerwright_core::photogrammetry::measure::{Ellipse, Marks, Pixel, foot};
use tempfile::TempDir;

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo").join(name)
}

fn call(folder: &TempDir, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
    command.current_dir(folder.path()).args(words).env("NO_COLOR", "1").env("COLUMNS", "80");
    command.output().unwrap()
}

fn said(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// The true outlines of a synthetic picture's tyres, left one first (`tests/scenes/wheels.py`).
fn truth(number: usize) -> [Ellipse; 2] {
    let scenes: Value = serde_json::from_slice(&fs::read(data("wheels/wheels.json")).unwrap()).unwrap();
    let tyres: [Vec<Pixel>; 2] = serde_json::from_value(scenes[number]["tyres"].clone()).unwrap();
    let mut both = tyres.map(|tyre| Ellipse::direct(&tyre).unwrap());
    both.sort_by(|a, b| a.centre[0].total_cmp(&b.centre[0]));
    both
}

/// The written taps are on the tyres, the front tyre's on the side to which the bike heads.
#[test]
fn a_guess_becomes_a_file_of_marks() {
    let folder = TempDir::new().unwrap();
    let picture = data("wheels/000.jpg");
    let words = ["wheels", picture.to_str().unwrap(), "--marks", "marks.json", "--force", "--heads"];
    for side in ["right", "left"] {
        let output = call(&folder, &[&words[..], &[side]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        let marks =
            Marks::from_json(&fs::read(folder.path().join("marks.json")).unwrap(), "marks.json").unwrap();
        let [left, right] = truth(0);
        let (front, rear) = if side == "left" { (left, right) } else { (right, left) };
        for (wheel, truth) in [(&marks.front, front), (&marks.rear, rear)] {
            assert!(wheel.rough);
            assert_eq!(wheel.tyre.len(), 3);
            for &[x, y] in &wheel.tyre {
                let [fx, fy] = foot(&truth, [x, y]);
                assert!((x - fx).hypot(y - fy) < 0.05 * truth.major, "{side}: {x}, {y}");
            }
        }
    }
    // Taps on the tyres alone are not sufficient.
    let output = call(&folder, &["photo", "marks.json", picture.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
}

/// For a photo larger than the working copy, the output uses the pixels of the original, which the user's
/// marks refer to.
#[test]
fn a_large_photo_keeps_its_own_pixels() {
    const BY: u32 = 6;
    let folder = TempDir::new().unwrap();
    let (small, _) =
        upright(&fs::read(data("wheels/000.jpg")).unwrap(), &Limits::default(), &BuiltIn).unwrap();
    let channels = small.data.len() / (small.width * small.height) as usize;
    let (width, height) = (BY * small.width, BY * small.height);
    let at = &|y: u32, x: u32| {
        let from = ((y / BY * small.width + x / BY) as usize) * channels;
        small.data[from..from + channels].to_vec()
    };
    let pixels = (0..height).flat_map(|y| (0..width).flat_map(move |x| at(y, x))).collect();
    let large =
        Pixels { width, height, data: pixels, full_width: width, full_height: height, ..small.clone() };
    fs::write(folder.path().join("large.png"), large.to_png().unwrap()).unwrap();
    let output =
        call(&folder, &["wheels", "large.png", "--marks", "marks.json", "--heads", "left", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&told["picture"]["width"], &told["picture"]["height"]), (&width.into(), &height.into()));
    let marks = Marks::from_json(&fs::read(folder.path().join("marks.json")).unwrap(), "marks.json").unwrap();
    assert_eq!((marks.image.width, marks.image.height), (width, height));
    for (wheel, truth) in [&marks.front, &marks.rear].into_iter().zip(truth(0)) {
        for &[x, y] in &wheel.tyre {
            let (x, y) = (x / f64::from(BY), y / f64::from(BY));
            let [fx, fy] = foot(&truth, [x, y]);
            assert!((x - fx).hypot(y - fy) < 0.05 * truth.major, "{x}, {y}");
        }
    }
}

#[test]
fn guesses_are_told_as_a_page_and_as_json() {
    let folder = TempDir::new().unwrap();
    let picture = data("wheels/000.jpg");
    let page = said(&call(&folder, &["wheels", picture.to_str().unwrap()]));
    assert!(page.contains("Where the wheels may be") && page.contains("This is only a guess"), "{page}");
    let output = call(&folder, &["wheels", picture.to_str().unwrap(), "--json"]);
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told["picture"]["width"], 320);
    let sure = told["guesses"][0]["sure"].as_f64().unwrap();
    assert!((0.0..=1.0).contains(&sure));
    let x = told["guesses"][0]["wheels"][0]["centre"][0].as_f64().unwrap();
    assert!((x - truth(0)[0].centre[0]).abs() < 5.0, "{x}");
}

#[test]
fn what_cannot_be_done_is_told_and_nothing_is_written() {
    let folder = TempDir::new().unwrap();
    let plain = data("plain.png");
    let output = call(&folder, &["wheels", plain.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0));
    assert!(said(&output).contains("No two wheels were found"), "{}", said(&output));
    let words = ["wheels", plain.to_str().unwrap(), "--heads", "left", "--marks", "marks.json"];
    let output = call(&folder, &words);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    assert!(said(&output).contains("tap them by hand"), "{}", said(&output));
    let output =
        call(&folder, &["wheels", data("wheels/000.jpg").to_str().unwrap(), "--marks", "marks.json"]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("--heads"), "{}", said(&output));
    assert!(!folder.path().join("marks.json").exists());
    let output = call(&folder, &["wheels", "no-such.jpg"]);
    assert_ne!(output.status.code(), Some(0));
    assert!(said(&output).contains("no-such.jpg"), "{}", said(&output));
    let output = call(&folder, &["wheels", data("wheels/wheels.json").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
}
