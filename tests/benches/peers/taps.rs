//! The whole measurement from taps on a photo of 12 Mpx: a time of our own, for which there is no peer.

use crate::clock::cpu_seconds;
use nalgebra::Matrix3;
use serde::Deserialize;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use steerwright_core::photo::{BuiltIn, Limits, Pixels, upright};
use steerwright_core::photogrammetry::edges::snap_taps_in_colour;
use steerwright_core::photogrammetry::measure::{Image, Line, Mark, Marks, Pixel, Wheel, measure};
use steerwright_core::photogrammetry::warp::Warp;

/// What we want to stay under, ms of one core, besides decoding.
const AIM_MS: f64 = 150.0;
const WIDE: u32 = 4_000;
/// Those that lie in `tests/data/photo/pictures`.
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

/// A line for each picture, and one for all that were measured; or what kept every one from it. A picture that is refused
/// is said to be, and does not count.
pub(crate) fn whole(rounds: usize) -> Result<Vec<String>, String> {
    let (mut rows, mut medians) = (Vec::new(), Vec::new());
    for number in SCENES {
        let (pixels, taps) = photo(number)?;
        let name = format!("taps to angles, scene {number}, {} x {} pixels", pixels.width, pixels.height);
        match timed(&pixels, &taps, rounds.max(3)) {
            Ok([least, median, most]) => {
                medians.push(median);
                rows.push(format!("{name}: {median:.1} ms of one core ({least:.1}..{most:.1})"));
            }
            Err(reason) => rows.push(format!("{name}: refused, {reason}")),
        }
    }
    medians.sort_by(f64::total_cmp);
    let slowest = medians.last().copied().ok_or_else(|| rows.join("; "))?;
    let met = if slowest <= AIM_MS { "met" } else { "NOT met" };
    rows.push(format!("taps to angles, the slowest picture: {slowest:.1} ms, aim {AIM_MS:.0} {met}"));
    Ok(rows)
}

/// Least, median and most of some rounds, ms of one core.
fn timed(pixels: &Pixels, taps: &Marks, rounds: usize) -> Result<[f64; 3], String> {
    let mut times = Vec::new();
    for _ in 0..rounds {
        let start = cpu_seconds();
        let placed = snap_taps_in_colour(black_box(taps), black_box(pixels)).ok_or("no pixels")?;
        if let Some((what, why)) = placed.refused() {
            return Err(format!("the {what}: {why}"));
        }
        black_box(measure(&placed.marks).map_err(|refusal| refusal.to_string())?);
        times.push((cpu_seconds() - start) * 1e3);
    }
    times.sort_by(f64::total_cmp);
    let at = |place: usize| times.get(place).copied().unwrap_or(f64::NAN);
    Ok([at(0), at(times.len() / 2), at(times.len() - 1)])
}
