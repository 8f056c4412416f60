//! The copies compared with the scene itself: sizes, sharpness, and no shift.

use crate::made::{Image, ingested};

/// A scene with structures for every size: waves, rings of a wheel and slanted tubes with soft edges. `x`
/// runs 0 to 4 and `y` 0 to 3; colour stays near grey, as chroma is stored at half the size.
fn scene(x: f64, y: f64) -> [u8; 3] {
    // An edge as wide as three pixels of 1600: a copy of that size could not show a narrower one.
    let edge = |distance: f64| 1.0 / (1.0 + (-distance * 1200.0).exp().clamp(1e-9, 1e9));
    let edge = |distance: f64| edge(distance.clamp(-0.5, 0.5));
    let ring = |cx: f64, cy: f64| 1.0 - edge(((x - cx).hypot(y - cy) - 0.7).abs() - 0.03);
    let tube = edge(0.02 - ((x - 1.1) * 0.62 + (y - 1.9) * 0.78).abs()) * edge(x - 0.6) * edge(2.4 - x);
    let waves = 0.5 + 0.2 * (9.0 * x + 4.0 * y).sin() + 0.1 * (40.0 * x).sin() * (37.0 * y).cos();
    let grey = waves * (1.0 - 0.8 * ring(1.0, 1.9)) * (1.0 - 0.8 * ring(3.0, 1.9)) * (1.0 - 0.6 * tube);
    let warm = 0.03 * (3.0 * x - 2.0 * y).sin();
    [grey + warm, grey, grey - warm].map(|value| (value * 255.0).round().clamp(0.0, 255.0) as u8)
}

/// The scene sampled at pixel centres, shifted by a share of a pixel.
fn drawn(width: usize, height: usize, shift: f64) -> Image {
    let step = 4.0 / width.max(height) as f64;
    Image::rgb(width, height, |x, y| scene((x as f64 + 0.5 + shift) * step, (y as f64 + 0.5) * step))
}

#[track_caller]
fn faithful(file: &[u8], working: (usize, usize), thumbnail: (usize, usize), least: f64) {
    let intake = ingested(file).unwrap();
    let copy = Image::decoded(&intake.working);
    assert_eq!((copy.width, copy.height), working);
    let (right, moved) =
        (copy.psnr(&drawn(working.0, working.1, 0.0)), copy.psnr(&drawn(working.0, working.1, 0.5)));
    assert!(right >= least, "{right} dB");
    assert!(moved < right - 3.0, "half a pixel aside: {moved} dB");
    let small = Image::decoded(&intake.thumbnail);
    assert_eq!((small.width, small.height), thumbnail);
}

#[test]
fn jpeg_copies_show_the_scene() {
    // Halved by the transform, then resized by 0.8, as for a photo of 12 Mpx.
    faithful(&drawn(4000, 3000, 0.0).jpeg(92, &[]), (1600, 1200), (320, 240), 38.0);
}

#[test]
fn sizes_that_do_not_divide_are_not_shifted() {
    faithful(&drawn(3221, 2417, 0.0).jpeg(92, &[]), (1600, 1201), (320, 240), 38.0);
}

#[test]
fn png_copies_show_the_scene() {
    faithful(&drawn(3301, 2475, 0.0).png(None), (1600, 1200), (320, 240), 38.0);
}

#[test]
fn small_pictures_keep_their_size() {
    faithful(&drawn(1000, 750, 0.0).jpeg(92, &[]), (1000, 750), (320, 240), 38.0);
    let tiny = ingested(&drawn(200, 150, 0.0).png(None)).unwrap();
    let (copy, small) = (Image::decoded(&tiny.working), Image::decoded(&tiny.thumbnail));
    assert_eq!((copy.width, copy.height, small.width, small.height), (200, 150, 200, 150));
}

#[test]
fn long_strips_keep_a_pixel() {
    let strip = Image::rgb(6000, 2, |x, _| [(x / 24) as u8; 3]);
    let intake = ingested(&strip.png(None)).unwrap();
    let (copy, small) = (Image::decoded(&intake.working), Image::decoded(&intake.thumbnail));
    assert_eq!((copy.width, copy.height, small.width, small.height), (1600, 1, 320, 1));
    assert!(copy.at(800, 0).abs_diff(125) <= 3, "{}", copy.at(800, 0));
}
