//! From rough taps on rendered pictures to angles, against the truth.
//!
//! The pictures are made by `tests/scenes/render.py`, a ray caster of its own: tyres as rings with knobs, spokes, fork legs
//! beside the plane, walls, hedges, fences and skies behind, shadows, blur, sharpening, noise and JPEG. A few small ones
//! lie in `tests/data/photo/pictures`; `STEERWRIGHT_PICTURES=FOLDER` reads others:
//!
//! ```text
//! python3 tests/scenes/render.py pictures --count 320
//! STEERWRIGHT_PICTURES=$PWD/pictures cargo test -p steerwright-tests --test photo_pictures -- --nocapture
//! ```
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

mod photo_tally;

use photo_tally::{HEAD, Tally, rows, straight_off};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use steerwright_core::photo::edges::{Grey, Tube, snap_line, snap_tyre};
use steerwright_core::photo::measure::{Line, Marks, Wheel, measure};
use steerwright_core::photo::{BuiltIn, Format, Limits, PixelSource};
use steerwright_core::quantity::Quantity;

#[derive(Deserialize)]
struct Scene {
    number: u32,
    truth: BTreeMap<String, f64>,
    /// Pixels of this picture per pixel of one of twelve million.
    scale: f64,
    marks: Marks,
    hand: Marks,
    taps: Marks,
}

/// How wide a stanchion and a seat tube are, least and most, mm: common practice, no source.
const WIDE: [f64; 2] = [25.0, 48.0];

/// Marks from taps, or why not; and the lines that gave none.
fn snapped(taps: &Marks, grey: &Grey, scale: f64, lines: &mut Vec<String>) -> Result<Marks, String> {
    let mut marks = taps.clone();
    let mut across = 0.0;
    for (name, wheel) in [("front", &mut marks.front), ("rear", &mut marks.rear)] {
        let found = snap_tyre(grey, &wheel.tyre).map_err(|unsure| format!("{name}: {unsure}"))?;
        across += found.ellipse.major / wheel.diameter_mm.unwrap().value;
        *wheel = Wheel { tyre: found.marks, noise_px: Some(found.noise_px), ..wheel.clone() };
    }
    let mut snap = |name: &str, line: &Line| {
        let [from, to] = [line.points[0], line.points[line.points.len() - 1]];
        let tube = Tube { from, to, wide: WIDE.map(|mm| mm * across), off: 6.0 * scale };
        match snap_line(grey, &tube) {
            Ok(found) => {
                Some(Line { points: found.ends.to_vec(), noise_px: Some(found.noise_px), ..line.clone() })
            }
            Err(unsure) => {
                lines.push(format!("{name}: {unsure}"));
                None
            }
        }
    };
    marks.stanchions = marks.stanchions.iter().filter_map(|line| snap("stanchion", line)).collect();
    marks.seat_tube = marks.seat_tube.as_ref().and_then(|line| snap("seat tube", line));
    Ok(marks)
}

type Tallies = BTreeMap<Quantity, Tally>;

#[derive(Default)]
struct Outcome {
    snapped: Tallies,
    hand: Tallies,
    off_the_screen: Tallies,
    /// Distance of the snapped marks' ellipse from the true one, pixels: middle, and radius.
    pictures: usize,
    refused: Vec<String>,
    lines: Vec<String>,
}

fn add(tallies: &mut Tallies, truth: &BTreeMap<String, f64>, marks: &Marks) -> Result<(), String> {
    let seen = measure(marks).map_err(|refusal| refusal.to_string())?;
    for (what, estimate) in &seen.values {
        if let Some(truth) = truth.get(what.name()) {
            tallies.entry(*what).or_default().add(estimate.value - truth, estimate.u);
        }
    }
    Ok(())
}

fn outcome(folder: &Path) -> Outcome {
    let mut outcome = Outcome::default();
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|it| it == "json"))
        .collect();
    files.sort();
    for file in files {
        let scene: Scene = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
        let bytes = std::fs::read(file.with_extension("jpg")).unwrap();
        let pixels = BuiltIn.pixels(&bytes, Format::Jpeg, u32::MAX, &Limits::default()).unwrap();
        assert_eq!(
            (pixels.width, pixels.height),
            (scene.marks.image.width, scene.marks.image.height),
            "{}",
            file.display()
        );
        outcome.pictures += 1;
        for (what, value) in straight_off(&scene.hand) {
            let error = value - scene.truth[what.name()];
            outcome.off_the_screen.entry(what).or_default().errors.push(error);
        }
        add(&mut outcome.hand, &scene.truth, &scene.hand)
            .unwrap_or_else(|refusal| println!("hand {}: {refusal}", scene.number));
        let grey = Grey::of(&pixels).unwrap();
        let mut lines = Vec::new();
        let told = snapped(&scene.taps, &grey, scene.scale, &mut lines)
            .and_then(|marks| add(&mut outcome.snapped, &scene.truth, &marks));
        outcome.lines.extend(lines.into_iter().map(|why| format!("{} {why}", scene.number)));
        if let Err(why) = told {
            outcome.refused.push(format!("{} {why}", scene.number));
        }
    }
    outcome
}

fn table(outcome: &Outcome) -> String {
    let [taps, hand, screen] = [
        rows(" from taps", &outcome.snapped),
        rows(" by hand", &outcome.hand),
        rows(" off the screen", &outcome.off_the_screen),
    ];
    format!(
        "{} pictures\n{HEAD}\n{taps}{hand}{screen}refused {}:\n  {}\nlines refused {}:\n  {}",
        outcome.pictures,
        outcome.refused.len(),
        outcome.refused.join("\n  "),
        outcome.lines.len(),
        outcome.lines.join("\n  ")
    )
}

#[test]
fn taps_on_pictures_become_angles() {
    let given = std::env::var_os("STEERWRIGHT_PICTURES").map(PathBuf::from);
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/pictures");
    let outcome = outcome(given.as_deref().unwrap_or(&own));
    println!("{}", table(&outcome));
}
