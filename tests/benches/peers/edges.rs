//! Edges, views and ellipses of a photo of 12 Mpx against OpenCV on one thread. The scripts read what ours found and fail
//! where theirs differs.

use crate::photo::{HEIGHT, WIDTH, scene};
use crate::subject::Subject;
use nalgebra::Matrix3;
use std::fs;
use std::hint::black_box;
use std::path::PathBuf;
use steerwright_core::photo::{Colour, Pixels};
use steerwright_core::photogrammetry::edges::{Edgel, Grey, Heights, edgels};
use steerwright_core::photogrammetry::measure::{Ellipse, Pixel};
use steerwright_core::photogrammetry::warp::Warp;

/// Steps of so many grey levels are edges; OpenCV's thresholds are these times four for its smaller derivative.
const HEIGHTS: Heights = Heights { faint: 25.0, clear: 50.0 };
/// As a bike seen 20 degrees past square is turned: from the view's pixels to the photo's.
const VIEW: [u32; 2] = [2_100, 1_310];
const HOMOGRAPHY: [f64; 9] = [1.52, 0.03, 320.0, -0.11, 1.66, 450.0, -6e-5, 4e-6, 1.0];
const POINTS: usize = 500;

pub(crate) fn subjects() -> [Subject; 3] {
    [map(), warp(), ellipse()]
}

/// A file in the folder of the benches.
fn file(name: &str) -> PathBuf {
    std::env::temp_dir().join("steerwright-peers").join(name)
}

fn keep(name: &str, bytes: &[u8]) -> String {
    let path = file(name);
    // A file that is not there stops the peer, which says so.
    let _ = fs::create_dir_all(path.with_file_name("")).and_then(|()| fs::write(&path, bytes));
    path.to_string_lossy().into_owned()
}

fn path(name: &str) -> String {
    file(name).to_string_lossy().into_owned()
}

fn photo() -> Pixels {
    Pixels {
        width: WIDTH as u32,
        height: HEIGHT as u32,
        colour: Colour::Rgb,
        data: scene(),
        full_width: WIDTH as u32,
        full_height: HEIGHT as u32,
        step: 1.0,
        upright: true,
    }
}

fn map() -> Subject {
    let mut grey = None;
    Subject {
        name: "edges: map, 12 Mpx",
        aim: 1.0 / 1.2,
        ours: Box::new(move || {
            let grey = grey.get_or_insert_with(|| {
                let grey = Grey::of(&photo());
                if let Some(grey) = &grey {
                    keep("grey", grey.data());
                    let found = edgels(grey, HEIGHTS);
                    keep(
                        "edgels",
                        &found.iter().flat_map(Edgel::pixel).flat_map(u32::to_le_bytes).collect::<Vec<u8>>(),
                    );
                }
                grey
            });
            grey.as_ref().map_or(0, |grey| u64::from(!black_box(edgels(black_box(grey), HEIGHTS)).is_empty()))
        }),
        check: None,
        peer_script: "edges.py",
        peer_args: vec![
            "map".to_owned(),
            WIDTH.to_string(),
            path("grey"),
            path("edgels"),
            HEIGHTS.faint.to_string(),
            HEIGHTS.clear.to_string(),
        ],
    }
}

fn warp() -> Subject {
    let mut taken = None;
    let [width, height] = VIEW;
    let homography = HOMOGRAPHY.map(|value| value.to_string());
    let words = [
        "warp".to_owned(),
        WIDTH.to_string(),
        path("rgb"),
        path("view"),
        width.to_string(),
        height.to_string(),
    ];
    Subject {
        name: "edges: warp, 12 Mpx",
        aim: 1.0 / 2.5,
        ours: Box::new(move || {
            let warp = Warp::plain(Matrix3::from_row_slice(&HOMOGRAPHY));
            let photo = taken.get_or_insert_with(|| {
                let photo = photo();
                keep("rgb", &photo.data);
                keep("view", &warp.view(&photo, VIEW, 0xd8).map(|view| view.data).unwrap_or_default());
                photo
            });
            u64::from(black_box(warp.view(black_box(photo), VIEW, 0xd8)).is_some())
        }),
        check: None,
        peer_script: "edges.py",
        peer_args: words.into_iter().chain(homography).collect(),
    }
}

/// Points off an ellipse by what is left of multiples of the golden section, as `tests/peers/edges.py` makes them.
fn points() -> Vec<Pixel> {
    let turn = 0.4f64;
    let point = |i: usize| {
        let (sin, cos) = (i as f64 * std::f64::consts::TAU / POINTS as f64).sin_cos();
        let off = 1.0 + 0.004 * ((i as f64 * 0.618_033_988_749_894_9).fract() - 0.5);
        let (x, y) = (600.0 * off * cos, 520.0 * off * sin);
        [1800.0 + x * turn.cos() - y * turn.sin(), 1500.0 + x * turn.sin() + y * turn.cos()]
    };
    (0..POINTS).map(point).collect()
}

fn ellipse() -> Subject {
    let points = points();
    let found = Ellipse::direct(&points);
    let numbers = found.map(|it| vec![it.centre[0], it.centre[1], it.major, it.minor, it.turn_deg]);
    let words = numbers.unwrap_or_default().into_iter().map(|number| number.to_string());
    Subject {
        name: "edges: ellipse of 500",
        aim: 1.0 / 0.35,
        ours: Box::new(move || {
            (0..1_000).map(|_| u64::from(black_box(Ellipse::direct(black_box(&points))).is_some())).sum()
        }),
        check: None,
        peer_script: "edges.py",
        peer_args: ["ellipse".to_owned(), POINTS.to_string()].into_iter().chain(words).collect(),
    }
}
