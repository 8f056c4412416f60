//! Time of the whole measurement from taps on a photo of 12 Mpx: `cargo bench --bench taps`. There is no peer.
#![expect(clippy::print_stdout, reason = "a picture that cannot be read is named in the table")]

use divan::{Bencher, black_box};
use nalgebra::Matrix3;
use serde::Deserialize;
use std::fs;
use std::path::Path;
use steerwright_core::photo::{BuiltIn, Limits, Pixels, upright};
use steerwright_core::photogrammetry::edges::snap_taps_in_colour;
use steerwright_core::photogrammetry::measure::{
    Image, Line, Mark, Marks, PhotoMeasurement, Pixel, Wheel, measure,
};
use steerwright_core::photogrammetry::warp::Warp;

const WIDE: u32 = 4_000;
/// Scenes in `tests/data/photo/pictures`.
const SCENES: std::ops::RangeInclusive<u32> = 3..=8;

#[derive(Deserialize)]
struct Scene {
    taps: Marks,
}

/// A rendered picture enlarged to 12 Mpx, and rough taps on it.
fn photo(number: u32) -> Result<(Pixels, Marks), String> {
    let file = format!("data/photo/pictures/scene-{number:03}.json");
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    let read = |path: &Path| fs::read(path).map_err(|error| format!("{}: {error}", path.display()));
    let scene: Scene = serde_json::from_slice(&read(&file)?).map_err(|error| error.to_string())?;
    let bytes = read(&file.with_extension("jpg"))?;
    let (small, _) = upright(&bytes, &Limits::default(), &BuiltIn).map_err(|error| error.to_string())?;
    let by = f64::from(WIDE) / f64::from(small.width);
    let size = [WIDE, (f64::from(small.height) * by).round() as u32];
    let back = Warp::plain(Matrix3::new(1.0 / by, 0.0, 0.0, 0.0, 1.0 / by, 0.0, 0.0, 0.0, 1.0));
    let large = back.view(&small, size, 0).ok_or("the picture cannot be enlarged")?;
    Ok((large, enlarged(scene.taps, by, size)))
}

fn enlarged(mut marks: Marks, by: f64, [width, height]: [u32; 2]) -> Marks {
    let place = |it: &mut Pixel| *it = it.map(|side| side * by);
    let wheel = |it: &mut Wheel| {
        it.tyre.iter_mut().for_each(place);
        it.rough = true;
    };
    let line = |it: &mut Line| {
        it.points.iter_mut().for_each(place);
        it.rough = true;
    };
    let mark = |it: &mut Mark| place(&mut it.at);
    marks.image = Image { width, height };
    [&mut marks.front, &mut marks.rear].into_iter().for_each(wheel);
    marks.stanchions.iter_mut().chain(&mut marks.seat_tube).for_each(line);
    let points =
        [&mut marks.head_tube_top, &mut marks.head_tube_bottom, &mut marks.crown, &mut marks.bottom_bracket];
    points.into_iter().flatten().for_each(mark);
    marks.straight.iter_mut().flatten().for_each(place);
    if let Some(axis) = &mut marks.lens.axis {
        place(&mut axis.at);
    }
    marks
}

fn main() {
    divan::main();
}

/// Snaps the taps to edges and measures the marks.
///
/// # Errors
/// Why the picture is refused.
fn angles(pixels: &Pixels, taps: &Marks) -> Result<PhotoMeasurement, String> {
    let snapped = snap_taps_in_colour(taps, pixels).ok_or("no pixels")?;
    match snapped.refused() {
        Some((what, why)) => Err(format!("the {what}: {why}")),
        None => measure(&snapped.marks).map_err(|refusal| refusal.to_string()),
    }
}

/// The scenes that are measured; a refusal takes another code path, so its time is not comparable.
fn measured() -> Vec<u32> {
    let is_measured = |number: &u32| photo(*number).and_then(|(pixels, taps)| angles(&pixels, &taps)).is_ok();
    SCENES.filter(is_measured).collect()
}

/// The target is 150 ms of one core, without decoding.
#[divan::bench(args = measured())]
fn taps_to_angles(bencher: Bencher<'_, '_>, number: u32) {
    match photo(number) {
        Ok((pixels, taps)) => bencher.bench_local(|| angles(black_box(&pixels), black_box(&taps))),
        Err(reason) => println!("scene {number}: {reason}"),
    }
}
