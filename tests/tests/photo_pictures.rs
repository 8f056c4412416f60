//! From rough taps on rendered pictures to angles, compared with the truth.
//!
//! The pictures are made by `tests/scenes/render.py`, an independent ray caster: tyres as rings with knobs, spokes,
//! fork legs off the plane, walls, hedges, fences and skies behind, shadows, blur, sharpening, noise and JPEG. A few
//! small ones are in `tests/data/photo/pictures`; `STEERWRIGHT_PICTURES=FOLDER` reads others:
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

use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use steerwright_core::photo::{BuiltIn, Format, Limits, PixelSource, Pixels};
use steerwright_core::photogrammetry::edges::{SnapFailure, Tapped, snap_taps_in_colour};
use steerwright_core::photogrammetry::measure::{Doubt, Ellipse, Line, Marks, Pixel, Wheel, measure};
use steerwright_core::quantity::Quantity;
use steerwright_tests::photo_statistics::{ErrorStatistics, HEAD, rows, rows_of, straight_off};

#[derive(Deserialize)]
struct Scene {
    number: u32,
    truth: BTreeMap<String, f64>,
    marks: Marks,
    hand: Marks,
    taps: Marks,
}

/// Marks from taps, or the refusal; and the lines that failed.
fn snapped(taps: &Marks, pixels: &Pixels, lines: &mut Vec<String>) -> Result<Marks, String> {
    let mut taps = taps.clone();
    taps.front.rough = true;
    taps.rear.rough = true;
    for line in taps.stanchions.iter_mut().chain(&mut taps.seat_tube) {
        line.rough = true;
    }
    let found = snap_taps_in_colour(&taps, pixels).unwrap();
    for snap in &found.snaps {
        match (snap.what, snap.outcome) {
            (Tapped::Tyre { .. }, Err(unsure)) => return Err(format!("{}: {unsure}", snap.what)),
            (what, Err(unsure)) => lines.push(format!("{what}: {unsure}")),
            _ => {}
        }
    }
    // A user omits a line for which no edges are found.
    let mut marks = found.marks;
    marks.stanchions.retain(|line| !line.rough);
    marks.seat_tube = marks.seat_tube.filter(|line| !line.rough);
    Ok(marks)
}

/// Rotation of a snapped line relative to the true one in the picture, degrees, and its stated deviation. The true one
/// is the exact marks' first line, or the middle between both edges of a stanchion.
fn turned(snapped: &Line, exact: &[&Line]) -> Option<[f64; 2]> {
    let way = |points: &[Pixel]| {
        let ([ax, ay], [bx, by]) = (*points.first()?, *points.last()?);
        Some([bx - ax, by - ay])
    };
    let ways: Vec<[f64; 2]> = exact.iter().filter_map(|line| way(&line.points)).collect();
    let [ex, ey] = ways.iter().fold([0.0, 0.0], |[x, y], [dx, dy]| [x + dx, y + dy]);
    let [sx, sy] = way(&snapped.points)?;
    let turn = (ex * sy - ey * sx).atan2(ex * sx + ey * sy).to_degrees();
    // The errors of both ends are independent.
    let u = (snapped.noise_px? * 2f64.sqrt() / sx.hypot(sy)).to_degrees();
    Some([(turn + 90.0).rem_euclid(180.0) - 90.0, u])
}

type Tallies = BTreeMap<Quantity, ErrorStatistics>;

#[derive(Default)]
struct Outcome {
    snapped: Tallies,
    /// Head angles of the pictures in which a snapped line determines the fork's direction.
    with_stanchion: ErrorStatistics,
    /// Directions of snapped lines in the picture, degrees.
    directions: BTreeMap<&'static str, ErrorStatistics>,
    hand: Tallies,
    off_the_screen: Tallies,
    pictures: usize,
    /// Width of the widest picture, pixels.
    width: u32,
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

fn directions(tallies: &mut BTreeMap<&'static str, ErrorStatistics>, marks: &Marks, exact: &Marks) {
    let stanchions: Vec<&Line> = exact.stanchions.iter().collect();
    let seat_tubes: Vec<&Line> = exact.seat_tube.iter().collect();
    let found = [
        ("stanchion", marks.stanchions.first(), stanchions),
        ("seat tube", marks.seat_tube.as_ref(), seat_tubes),
    ];
    for (name, snapped, exact) in found {
        if let Some([turn, u]) = snapped.and_then(|line| turned(line, &exact)) {
            tallies.entry(name).or_default().add(turn, u);
        }
    }
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
        outcome.width = outcome.width.max(pixels.width);
        for (what, value) in straight_off(&scene.hand) {
            let error = value - scene.truth[what.name()];
            outcome.off_the_screen.entry(what).or_default().errors.push(error);
        }
        add(&mut outcome.hand, &scene.truth, &scene.hand)
            .unwrap_or_else(|refusal| println!("hand {}: {refusal}", scene.number));
        let mut lines = Vec::new();
        let told = snapped(&scene.taps, &pixels, &mut lines).and_then(|marks| {
            directions(&mut outcome.directions, &marks, &scene.marks);
            let mut own = Tallies::new();
            add(&mut own, &scene.truth, &marks)?;
            for (what, tally) in own {
                let (error, ratio) = (tally.errors[0], tally.ratios[0]);
                outcome.snapped.entry(what).or_default().add(error, error / ratio);
                if what == Quantity::HeadAngle && !marks.stanchions.is_empty() {
                    outcome.with_stanchion.add(error, error / ratio);
                }
            }
            Ok(())
        });
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
    let with_stanchion = rows_of("head_angle with a stanchion", &outcome.with_stanchion);
    let directions: String = outcome
        .directions
        .iter()
        .map(|(name, tally)| rows_of(&format!("direction of the {name}"), tally))
        .collect();
    format!(
        "{} pictures\n{HEAD}\n{taps}{with_stanchion}{directions}{hand}{screen}refused {}:\n  {}\nlines refused {}:\n  {}",
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
    // Whatever is refused, most pictures are not.
    assert!(outcome.pictures >= 6, "{}", outcome.pictures);
    assert!(outcome.refused.len() * 5 <= outcome.pictures, "{:?}", outcome.refused);
    let head = |tallies: &Tallies| tallies[&Quantity::HeadAngle].rms();
    let [taps, screen] = [&outcome.snapped, &outcome.off_the_screen].map(head);
    assert!(taps <= 0.25, "{taps}");
    assert!(taps < screen / 4.0, "{taps} from taps, {screen} off the screen");
    // The target is half a percent; of the shortest wheelbase here.
    let base = outcome.snapped[&Quantity::Wheelbase].rms();
    assert!(base <= 0.005 * 1050.0, "{base}");
    if outcome.pictures >= 40 {
        many(&outcome);
    }
}

/// The targets: a head angle to 0.1 degrees rms from snapped lines, and 95 % of the results within 2 u.
///
/// On 320 pictures of half size the head angle had 0.095 degrees rms on the 237 where a stanchion's line was found, and
/// 0.104 including the pictures where none is tapped or found: there it depends on the stated fork offset and on points
/// set by hand, which no edge improves. The seat angle had 0.092. An rms over n pictures has a relative standard
/// deviation of one over the root of 2 n; three of them are the margin for other pictures. On 40 of a quarter of the
/// size (1008 pixels) 0.122, 0.112 and 0.151: a seat tube is some pixels wide there, and occasionally its shade is
/// mistaken for its side.
fn many(outcome: &Outcome) {
    let room = |tally: &ErrorStatistics| 1.0 + 3.0 / (2.0 * tally.n()).sqrt();
    let [head, seat] = [Quantity::HeadAngle, Quantity::SeatAngle].map(|what| &outcome.snapped[&what]);
    let [stanchion_deg, head_deg, seat_deg] =
        if outcome.width > 1_500 { [0.095, 0.104, 0.092] } else { [0.122, 0.112, 0.151] };
    for (name, tally, reached) in [
        ("head angle with a stanchion", &outcome.with_stanchion, stanchion_deg),
        ("head angle", head, head_deg),
        ("seat angle", seat, seat_deg),
    ] {
        assert!(tally.rms() <= reached * room(tally), "{name}: {}", tally.rms());
        // The share within 2 u of normal errors is 95.45 %.
        let slack = 3.0 * (0.9545 * 0.0455 / tally.n()).sqrt();
        assert!(tally.coverage() >= 0.9545 - slack, "{name}: {}", tally.coverage());
    }
}

/// The committed pictures with their marks.
fn own_pictures() -> Vec<(Scene, Pixels)> {
    [3, 4, 5, 6, 7, 8]
        .into_iter()
        .map(|number| {
            let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo/pictures");
            let file = own.join(format!("scene-{number:03}.json"));
            let bytes = std::fs::read(file.with_extension("jpg")).unwrap();
            let pixels = BuiltIn.pixels(&bytes, Format::Jpeg, u32::MAX, &Limits::default()).unwrap();
            (serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap(), pixels)
        })
        .collect()
}

/// Every row of a picture's pixels from right to left.
fn mirrored(pixels: &Pixels) -> Pixels {
    let width = 3 * pixels.width as usize;
    assert_eq!(pixels.data.len(), width * pixels.height as usize);
    let data = pixels
        .data
        .chunks_exact(width)
        .flat_map(|row| row.chunks_exact(3).rev().flatten().copied())
        .collect();
    Pixels { data, ..pixels.clone() }
}

/// Taps at the same positions of the mirrored picture.
fn mirrored_taps(taps: &Marks) -> Marks {
    let mut taps = taps.clone();
    let width = f64::from(taps.image.width);
    let points =
        [&mut taps.head_tube_top, &mut taps.head_tube_bottom, &mut taps.crown, &mut taps.bottom_bracket];
    for mark in points.into_iter().flatten() {
        mark.at[0] = width - mark.at[0];
    }
    let lines = taps.stanchions.iter_mut().chain(&mut taps.seat_tube).map(|line| &mut line.points);
    for place in lines.chain([&mut taps.front.tyre, &mut taps.rear.tyre]).flatten() {
        place[0] = width - place[0];
    }
    taps
}

/// A picture that was flipped, or a bike seen from its left with the statement that its right is shown: the angles are
/// those of the other picture, and the contradiction of side and picture is reported.
#[test]
fn a_flipped_picture_is_doubted_and_tells_the_same() {
    let mut compared = 0;
    for (scene, pixels) in own_pictures() {
        let told = |taps: &Marks, pixels: &Pixels| {
            let taps = Marks { shows_drive_side: Some(true), ..taps.clone() };
            snapped(&taps, pixels, &mut Vec::new()).map(|marks| measure(&marks).unwrap())
        };
        let plain = told(&scene.taps, &pixels);
        let flipped = told(&mirrored_taps(&scene.taps), &mirrored(&pixels));
        let (Ok(plain), Ok(flipped)) = (plain, flipped) else { continue };
        let doubted = [&plain, &flipped].map(|seen| seen.doubts.contains(&Doubt::Mirrored));
        assert_ne!(doubted[0], doubted[1], "{}: {doubted:?}", scene.number);
        // Head angles differ by up to 1.2 u in one scene whose leg is barely visible: other fragments of its edges
        // count in the mirrored picture. Why is not known.
        for (what, most) in [(Quantity::HeadAngle, 1.5), (Quantity::Wheelbase, 0.5)] {
            let [a, b] = [&plain, &flipped].map(|seen| seen.get(what).unwrap());
            assert!((a.value - b.value).abs() < most * a.u, "{} {what}: {a:?} {b:?}", scene.number);
        }
        compared += 1;
    }
    assert!(compared >= 5, "{compared} of 6 compared");
}

/// The mean over a square about each pixel, three times, which approximates a Gaussian of `blur` pixels.
fn blurred(pixels: &Pixels, blur: f64) -> Pixels {
    let reach = (((4.0 * blur * blur + 1.0).sqrt() - 1.0) / 2.0).round() as i64;
    let (width, height) = (i64::from(pixels.width), i64::from(pixels.height));
    let mut data: Vec<f32> = pixels.data.iter().map(|value| f32::from(*value)).collect();
    for _ in 0..3 {
        for [lines, count, next, along] in [[height, width, 3, 3 * width], [width, height, 3 * width, 3]] {
            for start in (0..lines).flat_map(|line| (0..3).map(move |part| line * along + part)) {
                let line: Vec<f32> = (0..count).map(|i| data[(start + i * next) as usize]).collect();
                let at = |i: i64| line[i.clamp(0, count - 1) as usize];
                let mut sum: f32 = (-reach..=reach).map(at).sum();
                for i in 0..count {
                    data[(start + i * next) as usize] = sum / (2 * reach + 1) as f32;
                    sum += at(i + reach + 1) - at(i - reach);
                }
            }
        }
    }
    Pixels { data: data.iter().map(|value| value.round() as u8).collect(), ..pixels.clone() }
}

/// A picture blurred by three hundredths of a wheel's radius is refused, with a remedy.
#[test]
fn a_blurred_picture_is_refused_with_what_to_do() {
    for (scene, pixels) in own_pictures() {
        let radius = Ellipse::direct(&scene.marks.front.tyre).unwrap().major;
        let taps = Marks { front: Wheel { rough: true, ..scene.taps.front.clone() }, ..scene.taps.clone() };
        assert!(snap_taps_in_colour(&taps, &pixels).unwrap().refused().is_none(), "{}", scene.number);
        let (_, why) =
            snap_taps_in_colour(&taps, &blurred(&pixels, 0.03 * radius)).unwrap().refused().unwrap();
        assert!(matches!(why, SnapFailure::TooBlurred { .. }), "{}: {why}", scene.number);
        assert!(why.remedy().contains("take the photo again"), "{}", why.remedy());
    }
}
