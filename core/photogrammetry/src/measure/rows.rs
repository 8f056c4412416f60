//! The observations: every mark as a residual over its standard deviation.

use super::known::{PartInputs, SceneInputs};
use super::marks::Pixel;
use super::scene::{End, Scene};
use std::fmt;

/// What a residual belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Row {
    /// A mark on a tyre, counted from 1.
    Tyre(End, usize),
    /// A point's name.
    Point(&'static str),
    Stanchion(usize, usize),
    SeatTube(usize),
    Straight(usize, usize),
    /// A prior.
    Prior,
}

impl Row {
    /// Standard deviation of the mark, pixels.
    pub(super) fn noise(self, known: &SceneInputs) -> f64 {
        let of = |part: Option<&PartInputs>| part.map_or(known.noise, |part| part.noise);
        match self {
            Self::Tyre(End::Front, _) => known.front.noise,
            Self::Tyre(End::Rear, _) => known.rear.noise,
            Self::Stanchion(line, _) => of(line.checked_sub(1).and_then(|line| known.stanchions.get(line))),
            Self::SeatTube(_) => of(known.seat_tube.as_ref()),
            Self::Point(_) | Self::Straight(..) | Self::Prior => known.noise,
        }
    }
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

/// The rows in the order of [`residuals`], then those of the priors in the order of the unknowns.
pub(super) fn rows(scene: &Scene, known: &SceneInputs) -> Vec<Row> {
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
    scene.clone().each(known, &mut |_, _, _, prior| rows.extend(prior.map(|_| Row::Prior)));
    rows
}

/// The point of a curve nearest to a mark: the curve's parameter there, and the direction square to the curve.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot {
    at: f64,
    square: Pixel,
}

/// The feet of all marks on tyres, stanchions and seat tube, in this order; `None` where a part cannot be seen.
pub(super) fn feet(scene: &Scene, known: &SceneInputs) -> Option<Vec<Foot>> {
    let mut found = Vec::new();
    for (end, wheel) in [(End::Front, &known.front), (End::Rear, &known.rear)] {
        let placed = scene.placed(end);
        for mark in &wheel.marks {
            let start = placed.round(&scene.camera, *mark)?;
            found.push(foot(*mark, start, 1e-4, |t| placed.outline(&scene.camera, t))?);
        }
    }
    for (part, way) in ways(scene, known) {
        for mark in &part.marks {
            let [x, y] = scene.behind(*mark, way.beside)?;
            let ([fx, fy], [dx, dy]) = (way.from, way.direction);
            let start = (x - fx) * dx + (y - fy) * dy;
            found.push(foot(*mark, start, 1.0, |t| way.at(scene, t))?);
        }
    }
    Some(found)
}

/// The residual of every mark over its standard deviation, with feet found at this or a neighbouring scene; `None`
/// where a part cannot be seen.
pub(super) fn residuals(scene: &Scene, known: &SceneInputs, feet: &[Foot]) -> Option<Vec<f64>> {
    let mut found = Vec::new();
    let mut feet = feet.iter();
    let noise = known.noise;
    for (end, wheel) in [(End::Front, &known.front), (End::Rear, &known.rear)] {
        let placed = scene.placed(end);
        for mark in &wheel.marks {
            let foot = feet.next()?;
            found.push(off(*mark, placed.outline(&scene.camera, foot.at)?, foot) / wheel.noise);
        }
    }
    let mut on_ways = Vec::new();
    for (part, way) in ways(scene, known) {
        for mark in &part.marks {
            let foot = feet.next()?;
            on_ways.push(off(*mark, way.at(scene, foot.at)?, foot) / part.noise);
        }
    }
    for ([along, beside], part) in scene.on_axis.iter().zip(&known.on_axis) {
        if let Some(part) = part {
            let [x, y] = scene.on_axis(*along);
            point(part, scene.project(x, y, *beside)?, &mut found);
        }
    }
    if let Some(part) = &known.bottom_bracket {
        let [x, y, beside] = scene.bottom_bracket;
        point(part, scene.project(x, y, beside)?, &mut found);
    }
    found.append(&mut on_ways);
    let half = scene.camera.half_diagonal;
    let [cx, cy] = scene.camera.axis;
    for ([angle, distance], points) in scene.straight.iter().zip(&known.straight) {
        let (sin, cos) = libm::sincos(*angle);
        for pixel in points {
            let [x, y] = scene.camera.straightened(*pixel)?;
            found.push(((x - cx) * cos + (y - cy) * sin - distance * half) / noise);
        }
    }
    Some(found)
}

fn point(part: &PartInputs, [x, y]: Pixel, found: &mut Vec<f64>) {
    for [mx, my] in &part.marks {
        found.extend([(mx - x) / part.noise, (my - y) / part.noise]);
    }
}

/// A straight line parallel to the plane.
#[derive(Debug, Clone, Copy)]
struct Way {
    from: [f64; 2],
    direction: [f64; 2],
    beside: f64,
}

impl Way {
    fn at(&self, scene: &Scene, t: f64) -> Option<Pixel> {
        let ([x, y], [dx, dy]) = (self.from, self.direction);
        scene.project(x + t * dx, y + t * dy, self.beside)
    }
}

/// Stanchions and seat tube with their marks.
fn ways<'k>(scene: &Scene, known: &'k SceneInputs) -> Vec<(&'k PartInputs, Way)> {
    let way = |angle: f64, from: f64, across: f64, beside: f64| {
        let (sin, cos) = libm::sincos(angle);
        Way { from: [from + across * sin, across * cos], direction: [-cos, sin], beside }
    };
    let stanchions = scene.stanchions.iter().zip(&known.stanchions);
    let mut found: Vec<_> =
        stanchions.map(|(rod, part)| (part, way(scene.head, scene.axles, rod.across, rod.beside))).collect();
    let rod = scene.seat_tube;
    found.extend(known.seat_tube.iter().map(|part| (part, way(rod.angle, 0.0, rod.across, rod.beside))));
    found
}

/// Signed distance of a mark from its foot's tangent, pixels.
fn off([mx, my]: Pixel, [x, y]: Pixel, foot: &Foot) -> f64 {
    let [nx, ny] = foot.square;
    (mx - x) * nx + (my - y) * ny
}

/// A foot within this distance of the nearest point, pixels along the curve, is accepted: the distance is off by its
/// square.
const NEAR_ENOUGH: f64 = 1e-5;

/// The nearest point of a curve. `start` is near it and `step` a small change of the parameter.
fn foot(mark: Pixel, start: f64, step: f64, curve: impl Fn(f64) -> Option<Pixel>) -> Option<Foot> {
    let [mx, my] = mark;
    let mut at = start;
    for _ in 0..20 {
        let [x, y] = curve(at)?;
        let ([ax, ay], [bx, by]) = (curve(at + step)?, curve(at - step)?);
        let (dx, dy) = ((ax - bx) / (2.0 * step), (ay - by) / (2.0 * step));
        let speed = libm::hypot(dx, dy);
        let along = ((mx - x) * dx + (my - y) * dy) / speed;
        if along.abs() <= NEAR_ENOUGH {
            return Some(Foot { at, square: [dy / speed, -dx / speed] });
        }
        at += along / speed;
    }
    // A mark far inside a curve has no unique foot to which the iteration converges.
    None
}
