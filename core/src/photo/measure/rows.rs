//! The observations: every mark and everything known beforehand, each as a residual over its standard deviation.

use super::known::{Known, KnownPart};
use super::marks::Pixel;
use super::scene::{End, Scene};
use std::fmt;

/// What a residual is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Row {
    /// A mark on a tyre, counted from 1.
    Tyre(End, usize),
    /// A point's name.
    Point(&'static str),
    Stanchion(usize, usize),
    SeatTube(usize),
    Straight(usize, usize),
    /// Something known beforehand.
    Prior,
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tyre(End::Front, i) => write!(f, "mark {i} on the front tyre"),
            Self::Tyre(End::Rear, i) => write!(f, "mark {i} on the rear tyre"),
            Self::Point(name) => write!(f, "the mark at the {name}"),
            Self::Stanchion(line, i) => write!(f, "mark {i} on stanchion line {line}"),
            Self::SeatTube(i) => write!(f, "mark {i} on the seat tube"),
            Self::Straight(line, i) => write!(f, "mark {i} on straight thing {line}"),
            Self::Prior => write!(f, "what was known beforehand"),
        }
    }
}

const ON_AXIS: [&str; 3] = ["head tube's top", "head tube's bottom", "crown"];

/// The rows in the order of [`residuals`].
pub(super) fn rows(scene: &Scene, known: &Known) -> Vec<Row> {
    let mut rows = Vec::new();
    for (end, wheel) in [(End::Front, &known.front), (End::Rear, &known.rear)] {
        rows.extend((1..=wheel.marks.len()).map(|i| Row::Tyre(end, i)));
    }
    for (name, part) in ON_AXIS.into_iter().zip(&known.on_axis) {
        rows.extend(part.iter().flat_map(|_| [Row::Point(name); 2]));
    }
    rows.extend(known.bottom_bracket.iter().flat_map(|_| [Row::Point("bottom bracket"); 2]));
    for (line, part) in known.stanchions.iter().enumerate() {
        rows.extend((1..=part.marks.len()).map(|i| Row::Stanchion(line + 1, i)));
    }
    rows.extend(known.seat_tube.iter().flat_map(|part| (1..=part.marks.len()).map(Row::SeatTube)));
    for (line, points) in known.straight.iter().enumerate() {
        rows.extend((1..=points.len()).map(|i| Row::Straight(line + 1, i)));
    }
    scene.clone().each(known, &mut |_, _, prior| rows.extend(prior.map(|_| Row::Prior)));
    rows
}

/// Every residual over its standard deviation; `None` where something cannot be seen.
pub(super) fn residuals(scene: &Scene, known: &Known) -> Option<Vec<f64>> {
    let mut found = Vec::new();
    let noise = known.noise;
    for (end, wheel) in [(End::Front, &known.front), (End::Rear, &known.rear)] {
        let placed = scene.placed(end);
        for mark in &wheel.marks {
            let start = placed.round(&scene.camera, *mark)?;
            found.push(off(*mark, start, 1e-4, |t| placed.outline(&scene.camera, t))? / noise);
        }
    }
    for ([along, beside], part) in scene.on_axis.iter().zip(&known.on_axis) {
        if let Some(part) = part {
            let [x, y] = scene.on_axis(*along);
            point(part, scene.project(x, y, *beside)?, noise, &mut found);
        }
    }
    if let Some(part) = &known.bottom_bracket {
        let [x, y, beside] = scene.bottom_bracket;
        point(part, scene.project(x, y, beside)?, noise, &mut found);
    }
    for (rod, part) in scene.stanchions.iter().zip(&known.stanchions) {
        let (sin, cos) = libm::sincos(scene.head);
        let from = [scene.axles + rod.across * sin, rod.across * cos];
        line(scene, part, from, [-cos, sin], rod.beside, noise, &mut found)?;
    }
    if let Some(part) = &known.seat_tube {
        let rod = scene.seat_tube;
        let (sin, cos) = libm::sincos(rod.angle);
        line(scene, part, [rod.across * sin, rod.across * cos], [-cos, sin], rod.beside, noise, &mut found)?;
    }
    let half = scene.camera.half_diagonal;
    let [cx, cy] = scene.camera.axis;
    for ([angle, distance], points) in scene.straight.iter().zip(&known.straight) {
        let (sin, cos) = libm::sincos(*angle);
        for pixel in points {
            let [x, y] = scene.camera.straightened(*pixel)?;
            found.push(((x - cx) * cos + (y - cy) * sin - distance * half) / noise);
        }
    }
    scene.clone().each(known, &mut |value, _, prior| {
        found.extend(prior.map(|prior| (*value - prior.value) / prior.u));
    });
    Some(found)
}

fn point(part: &KnownPart, [x, y]: Pixel, noise: f64, found: &mut Vec<f64>) {
    for [mx, my] in &part.marks {
        found.extend([(mx - x) / noise, (my - y) / noise]);
    }
}

/// Marks along a straight line beside the plane.
fn line(
    scene: &Scene,
    part: &KnownPart,
    [x, y]: [f64; 2],
    [dx, dy]: [f64; 2],
    z: f64,
    noise: f64,
    found: &mut Vec<f64>,
) -> Option<()> {
    for mark in &part.marks {
        let [mx, my] = scene.behind(*mark, z)?;
        let start = (mx - x) * dx + (my - y) * dy;
        let off = off(*mark, start, 1.0, |t| scene.project(x + t * dx, y + t * dy, z))?;
        found.push(off / noise);
    }
    Some(())
}

/// Distance of a mark from a curve, pixels, with a sign that changes across it. `start` is near the foot and `step` a
/// small change of the parameter.
fn off(mark: Pixel, start: f64, step: f64, curve: impl Fn(f64) -> Option<Pixel>) -> Option<f64> {
    let [mx, my] = mark;
    let mut t = start;
    let mut sideways = 0.0;
    for _ in 0..20 {
        let [x, y] = curve(t)?;
        let ([ax, ay], [bx, by]) = (curve(t + step)?, curve(t - step)?);
        let (dx, dy) = ((ax - bx) / (2.0 * step), (ay - by) / (2.0 * step));
        let square = dx * dx + dy * dy;
        let by = ((mx - x) * dx + (my - y) * dy) / square;
        sideways = ((mx - x) * dy - (my - y) * dx) / square.sqrt();
        t += by;
        if !(by.abs() * square.sqrt() > 1e-7) {
            break;
        }
    }
    Some(sideways)
}
