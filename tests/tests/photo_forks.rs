//! Taps on forks whose far leg stands behind the near one, on rendered pictures, compared with the truth.
//!
//! The pictures are made by `tests/scenes/forks.py`: flat, shaded and striped legs before light and dark backgrounds, the
//! far leg merged with the near one, half hidden and apart. A few small ones are in `tests/data/photo/forks`;
//! `STEERWRIGHT_FORKS=FOLDER` reads others:
//!
//! ```text
//! python3 tests/scenes/forks.py forks --first 5000 --count 120
//! STEERWRIGHT_FORKS=$PWD/forks cargo test -p steerwright-tests --test photo_forks -- --nocapture
//! ```
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use steerwright_core::photo::{BuiltIn, Format, Limits, PixelSource, Pixels};
use steerwright_core::photogrammetry::edges::{Tapped, snap_taps_in_colour};
use steerwright_core::photogrammetry::measure::{Line, Marks, Pixel, measure};
use steerwright_core::quantity::Quantity;
use steerwright_tests::photo_statistics::{ErrorStatistics, HEAD, rows_of};

#[derive(Deserialize)]
struct Fork {
    look: String,
    dark: bool,
    far: String,
    along: String,
    lines: [[Pixel; 2]; 2],
    #[serde(flatten)]
    other: BTreeMap<String, serde_json::Value>,
}

#[derive(Deserialize)]
struct Scene {
    number: u32,
    yaw: f64,
    truth: BTreeMap<String, f64>,
    taps: Marks,
    fork: Fork,
}

/// Rotation of a snapped line, degrees, relative to a line parallel to the legs through its middle, and its stated
/// deviation. Directions of such lines change evenly across the picture from the near leg's to the far leg's.
fn turned(snapped: &Line, [near, far]: &[[Pixel; 2]; 2]) -> [f64; 2] {
    let ([ax, ay], [bx, by]) = (snapped.points[0], *snapped.points.last().unwrap());
    let ([mx, my], angle) =
        ([f64::midpoint(ax, bx), f64::midpoint(ay, by)], |[[ax, ay], [bx, by]]: &[Pixel; 2]| {
            (by - ay).atan2(bx - ax)
        });
    let off = |[[ax, ay], [bx, by]]: &[Pixel; 2]| {
        ((mx - ax) * (by - ay) - (my - ay) * (bx - ax)) / (bx - ax).hypot(by - ay)
    };
    let (from, to) = (off(near), off(far));
    let share = if (from - to).abs() < 4.0 { 0.0 } else { from / (from - to) };
    let expected = angle(near) + share.clamp(-3.0, 3.0) * (angle(far) - angle(near));
    let turn = ((by - ay).atan2(bx - ax) - expected).to_degrees();
    let u = (snapped.noise_px.unwrap() * 2f64.sqrt() / (bx - ax).hypot(by - ay)).to_degrees();
    [(turn + 90.0).rem_euclid(180.0) - 90.0, u]
}

fn scenes(folder: &Path) -> Vec<(Scene, Pixels)> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|it| it == "json"))
        .collect();
    files.sort();
    let scene = |file: PathBuf| {
        let bytes = std::fs::read(file.with_extension("jpg")).unwrap();
        let pixels = BuiltIn.pixels(&bytes, Format::Jpeg, u32::MAX, &Limits::default()).unwrap();
        (serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap(), pixels)
    };
    files.into_iter().map(scene).collect()
}

#[test]
fn a_leg_before_another_gives_its_direction() {
    let given = std::env::var_os("STEERWRIGHT_FORKS").map(PathBuf::from);
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/forks");
    let (mut count, mut refused) = (0, Vec::new());
    let mut tallies: BTreeMap<String, ErrorStatistics> = BTreeMap::new();
    for (scene, pixels) in scenes(given.as_deref().unwrap_or(&own)) {
        let Scene { number, yaw, truth, mut taps, fork } = scene;
        count += 1;
        taps.front.rough = true;
        taps.rear.rough = true;
        taps.stanchions[0].rough = true;
        let found = snap_taps_in_colour(&taps, &pixels).unwrap();
        let ground = if fork.dark { "dark" } else { "light" };
        let name = format!("{number} {} {ground} {} {yaw:.0} {}", fork.look, fork.far, fork.along);
        if let Some((what, why)) = found.refused() {
            refused.push(format!("{name}: {what}: {why} {:?}", fork.other));
            continue;
        }
        let snap = found.snaps.iter().find(|it| matches!(it.what, Tapped::Stanchion { .. })).unwrap();
        let [turn, u] = turned(&found.marks.stanchions[0], &fork.lines);
        let mut add =
            |name: &str, error: f64, u: f64| tallies.entry(name.to_owned()).or_default().add(error, u);
        add("direction", turn, u);
        add(&format!("direction {}", fork.look), turn, u);
        add(&format!("direction {}", fork.far), turn, u);
        add(&format!("direction {ground}"), turn, u);
        add(&format!("direction {}", fork.along), turn, u);
        match measure(&found.marks) {
            Ok(seen) => {
                let head = seen.get(Quantity::HeadAngle).unwrap();
                let error = head.value - truth["head_angle"];
                add("head angle", error, head.u);
                if error.abs() > 2.0 * head.u || turn.abs() > 2.0 * u || turn.abs() > 0.4 {
                    println!(
                        "{name}: {turn:+.2} u {u:.2}, head {error:+.2} u {:.2}, {:?} {:?}",
                        head.u, snap.outcome, fork.other
                    );
                }
            }
            Err(why) => refused.push(format!("{name}: {turn:+.2} u {u:.2} {why}")),
        }
    }
    println!("{HEAD}");
    for (name, tally) in &tallies {
        print!("{}", rows_of(name, tally));
    }
    println!("refused {} of {count}:\n  {}", refused.len(), refused.join("\n  "));
    assert!(count >= 6);
}
