//! The first guess of a tyre's outline: every ellipse near the taps is tried on a map of the brightness around them.

use super::{Grey, profile::Scale};
use crate::measure::{Ellipse, Pixel};

/// Directions looked into from the middle.
const ROUND: usize = 120;
/// Steps outwards from [`FROM`] to [`TO`] radii.
const OUT: usize = 400;
/// The map's inner edge, radii of the circle through the taps.
const FROM: f64 = 0.60;
/// Its outer edge.
const TO: f64 = 1.40;
/// Radii from one step to the next.
const STEP: f64 = (TO - FROM) / OUT as f64;
/// How far taps may be off, radii, as a standard deviation.
const TAP: f64 = 0.02;
/// A change of brightness counts half from here on, values of 255.
const HALF: f64 = 14.0;
/// How much a change to darker outside counts beside one to brighter: rubber is dark, but what is behind it may be
/// darker.
const DARKER: f64 = 0.6;

/// A circle's middle and radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Circle {
    pub(super) centre: Pixel,
    pub(super) radius: f64,
}

/// The circle with the least squares of `x^2 + y^2 - 2ax - 2by - c` to the taps. `None` for taps in a line or on top of
/// each other.
pub(super) fn circle(taps: &[Pixel]) -> Option<Circle> {
    let n = taps.len() as f64;
    if taps.len() < 3 || !taps.iter().flatten().all(|v| v.is_finite() && v.abs() < 1e6) {
        return None;
    }
    let (mx, my) = taps.iter().fold((0.0, 0.0), |(sx, sy), [x, y]| (sx + x / n, sy + y / n));
    let (mut xx, mut xy, mut yy, mut xz, mut yz, mut zz) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for [x, y] in taps {
        let (x, y) = (x - mx, y - my);
        let z = x * x + y * y;
        (xx, xy, yy) = (xx + x * x / n, xy + x * y / n, yy + y * y / n);
        (xz, yz, zz) = (xz + x * z / n, yz + y * z / n, zz + z / n);
    }
    // The smaller principal moment against the larger: taps in a line, or within a small part of the circle.
    let (mean, half) = (f64::midpoint(xx, yy), libm::hypot((xx - yy) / 2.0, xy));
    if !(mean > 1e-9 && mean - half > 0.02 * (mean + half)) {
        return None;
    }
    let determinant = 2.0 * (xx * yy - xy * xy);
    let (a, b) = ((xz * yy - yz * xy) / determinant, (yz * xx - xz * xy) / determinant);
    let radius = (zz + a * a + b * b).sqrt();
    (radius.is_finite()).then_some(Circle { centre: [mx + a, my + b], radius })
}

/// An outline as its distance from the middle: `1 + p0 + p1 cos t + p2 sin t + p3 cos 2t + p4 sin 2t` radii. To first order,
/// that is every ellipse near a circle.
type Shape = [f64; 5];

fn harmonics(t: f64) -> Shape {
    let (sin, cos) = libm::sincos(t);
    [1.0, cos, sin, cos * cos - sin * sin, 2.0 * sin * cos]
}

fn reach(shape: &Shape, at: &Shape) -> f64 {
    1.0 + shape.iter().zip(at).map(|(a, b)| a * b).sum::<f64>()
}

/// The picture around a circle: for each of `ROUND` directions, how much brightness there is up to each step outwards, and
/// over how many steps.
pub(super) struct Around {
    circle: Circle,
    sums: Vec<[(f64, f64); OUT + 1]>,
}

impl Around {
    pub(super) fn new(grey: &Grey, scale: &Scale, circle: Circle) -> Self {
        let Circle { centre: [cx, cy], radius } = circle;
        let row = |i: usize| {
            let (sin, cos) = libm::sincos(direction(i));
            let mut sum = (0.0, 0.0);
            let mut row = [sum; OUT + 1];
            for (j, up_to) in row.iter_mut().skip(1).enumerate() {
                let r = (FROM + (j as f64 + 0.5) * STEP) * radius;
                // What lies outside the picture counts as nothing.
                if let Some(value) = scale.at(grey, [cx + r * cos, cy + r * sin]) {
                    sum = (sum.0 + value, sum.1 + 1.0);
                }
                *up_to = sum;
            }
            row
        };
        Self { circle, sums: (0..ROUND).map(row).collect() }
    }
}

fn direction(i: usize) -> f64 {
    i as f64 * std::f64::consts::TAU / ROUND as f64
}

/// How well an edge stands out at each place around the taps.
pub(super) struct Map {
    circle: Circle,
    /// `ROUND` rows of `OUT` values. There is no edge at either end of a row.
    edge: Vec<f32>,
    /// The harmonics of each direction.
    harmonics: Vec<[f32; 5]>,
}

impl Map {
    /// Changes of brightness are taken over `window` radii on either side.
    pub(super) fn new(around: &Around, window: f64) -> Self {
        let wide = ((window / STEP).round() as usize).max(2);
        let mut edge = Vec::with_capacity(ROUND * OUT);
        for sums in &around.sums {
            let mean = |from: usize, to: usize| {
                let ((a, n), (b, m)) = (sums.get(from)?, sums.get(to)?);
                (m - n > 0.5).then(|| (b - a) / (m - n))
            };
            for j in 0..OUT {
                let inner = j.checked_sub(wide).and_then(|from| mean(from, j));
                let change = inner.zip(mean(j, j + wide)).map_or(0.0, |(inner, outer)| outer - inner);
                let strength = change.abs() / (change.abs() + HALF);
                edge.push((if change > 0.0 { strength } else { DARKER * strength }) as f32);
            }
        }
        let harmonics = (0..ROUND).map(|i| harmonics(direction(i)).map(|it| it as f32)).collect();
        Self { circle: around.circle, edge, harmonics }
    }

    /// How much of the outline lies on edges, 0 to 1.
    fn support(&self, shape: &Shape) -> f64 {
        self.mean_along(shape, 1)
    }

    /// The same from every second direction: enough to choose where to look closer.
    fn quick(&self, shape: &Shape) -> f64 {
        self.mean_along(shape, 2)
    }

    /// The mean of the map's values along an outline, over every so many directions.
    fn mean_along(&self, shape: &Shape, every: usize) -> f64 {
        let shape = shape.map(|it| it as f32);
        let directions = self.edge.chunks_exact(OUT).zip(&self.harmonics).step_by(every);
        let count = directions.len() as f64;
        let sum: f32 = directions
            .map(|(row, at)| {
                let radius = 1.0 + shape.iter().zip(at).map(|(a, b)| a * b).sum::<f32>();
                // The step in which it lies.
                let step = (radius - FROM as f32) / STEP as f32;
                row.get(step.clamp(0.0, OUT as f32 - 0.5) as usize).copied().unwrap_or_default()
            })
            .sum();
        f64::from(sum) / count
    }
}

/// A guess, and how good it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Guess {
    shape: Shape,
    pub(super) score: f64,
}

/// The taps as seen from the circle's middle: direction and distance in radii.
struct Taps(Vec<(Shape, f64)>);

impl Taps {
    fn new(taps: &[Pixel], circle: Circle) -> Self {
        let [cx, cy] = circle.centre;
        let polar = |[x, y]: &Pixel| {
            let (x, y) = (x - cx, y - cy);
            (harmonics(libm::atan2(y, x)), libm::hypot(x, y) / circle.radius)
        };
        Self(taps.iter().map(polar).collect())
    }

    /// How far the taps are from the outline, in squares of their deviation.
    fn misfit(&self, shape: &Shape) -> f64 {
        self.0.iter().map(|(at, r)| ((r - reach(shape, at)) / TAP).powi(2)).sum()
    }

    /// Middle and size of an outline of the given flatness so that it goes through the taps.
    fn through(&self, flat: [f64; 2]) -> Option<Shape> {
        let mut normal = nalgebra::Matrix3::<f64>::identity() * 1e-3;
        let mut right = nalgebra::Vector3::zeros();
        for (at, r) in &self.0 {
            let [one, cos, sin, cos2, sin2] = *at;
            let row = nalgebra::Vector3::new(one, cos, sin);
            let [c, s] = flat;
            normal += row * row.transpose();
            right += row * (r - 1.0 - c * cos2 - s * sin2);
        }
        let found = normal.cholesky()?.solve(&right);
        let [c, s] = flat;
        Some([found.x, found.y, found.z, c, s])
    }
}

/// The outermost outline is the one that is meant, if its score has at least this share of the best's.
const OUTER: f64 = 0.92;
/// What a misfit of the taps costs beside support: one tap by two deviations, two per cent of the outline.
const COST: f64 = 0.005;

fn score(map: &Map, taps: &Taps, shape: &Shape) -> f64 {
    map.support(shape) - COST * taps.misfit(shape)
}

/// The best outline, and the best of those that differ from it by more than `apart` radii in size.
pub(super) fn guesses(
    coarse: &Map,
    fine: &Map,
    taps: &[Pixel],
    apart: f64,
) -> Option<(Guess, Option<Guess>)> {
    let taps = Taps::new(taps, coarse.circle);
    let mut best: Vec<Guess> = Vec::new();
    for c in -10..=10 {
        for s in -5..=5 {
            let base = taps.through([f64::from(c) * 0.011, f64::from(s) * 0.011])?;
            let offsets = [-3, -2, -1, 0, 1, 2, 3].map(|k| f64::from(k) * 0.014);
            for p0 in offsets {
                for p1 in offsets {
                    for p2 in offsets {
                        let [b0, b1, b2, b3, b4] = base;
                        let shape = [b0 + p0, b1 + p1, b2 + p2, b3, b4];
                        let misfit = COST * taps.misfit(&shape);
                        let worth = best
                            .last()
                            .map_or(f64::MIN, |it| if best.len() < 24 { f64::MIN } else { it.score });
                        if 1.0 - misfit <= worth || misfit > 0.25 {
                            continue;
                        }
                        keep(&mut best, Guess { shape, score: coarse.quick(&shape) - misfit });
                    }
                }
            }
        }
    }
    let mut refined: Vec<Guess> = best.iter().map(|it| climbed(fine, &taps, it.shape)).collect();
    let most = refined.iter().map(|it| it.score).max_by(f64::total_cmp)?;
    let size = |it: &Guess| it.shape.first().copied().unwrap_or_default();
    // Inside a tyre's outer edge are its tread, the rim and its shine, about the same middle; outside it is nothing of it.
    refined.sort_by(|a, b| size(b).total_cmp(&size(a)));
    let first = *refined.iter().find(|it| it.score >= OUTER * most)?;
    let rivals = refined.into_iter().filter(|it| differ(&it.shape, &first.shape) > apart).map(|it| {
        let inside = size(&it) < size(&first);
        Guess { score: if inside { OUTER * it.score } else { it.score }, ..it }
    });
    Some((first, rivals.max_by(|a, b| a.score.total_cmp(&b.score))))
}

/// Largest distance between two outlines, radii.
fn differ(a: &Shape, b: &Shape) -> f64 {
    (0..12)
        .map(|i| {
            let at = harmonics(f64::from(i) * std::f64::consts::TAU / 12.0);
            (reach(a, &at) - reach(b, &at)).abs()
        })
        .fold(0.0, f64::max)
}

/// Keeps the best two dozen that are not nearly the same.
fn keep(best: &mut Vec<Guess>, it: Guess) {
    if best.len() >= 24 && best.last().is_some_and(|last| last.score >= it.score) {
        return;
    }
    if let Some(near) = best.iter().position(|other| differ(&other.shape, &it.shape) < 0.02) {
        if best.get(near).is_some_and(|other| other.score >= it.score) {
            return;
        }
        best.remove(near);
    }
    let place = best.partition_point(|other| other.score >= it.score);
    best.insert(place, it);
    best.truncate(24);
}

/// Climbs to the nearest summit, by ever smaller steps along each of the five and pairs of them.
fn climbed(map: &Map, taps: &Taps, shape: Shape) -> Guess {
    let mut at = Guess { shape, score: score(map, taps, &shape) };
    let mut step = 0.008;
    while step > 0.000_9 {
        let mut moved = false;
        for i in 0..5 {
            for j in i..5 {
                for (si, sj) in [(1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0)] {
                    let mut shape = at.shape;
                    if let Some(it) = shape.get_mut(i) {
                        *it += si * step;
                    }
                    if i != j
                        && let Some(it) = shape.get_mut(j)
                    {
                        *it += sj * step;
                    }
                    let score = score(map, taps, &shape);
                    if score > at.score + 1e-9 {
                        at = Guess { shape, score };
                        moved = true;
                    }
                }
            }
        }
        if !moved {
            step /= 2.0;
        }
    }
    at
}

impl Guess {
    /// The ellipse that it is.
    pub(super) fn ellipse(&self, circle: Circle) -> Option<Ellipse> {
        let [cx, cy] = circle.centre;
        let points: Vec<Pixel> = (0..72)
            .map(|i| {
                let t = f64::from(i) * std::f64::consts::TAU / 72.0;
                let (sin, cos) = libm::sincos(t);
                let r = circle.radius * reach(&self.shape, &harmonics(t));
                [cx + r * cos, cy + r * sin]
            })
            .collect();
        Ellipse::direct(&points)
    }

    /// How far apart two outlines are at most, pixels.
    pub(super) fn apart(&self, other: &Self, circle: Circle) -> f64 {
        differ(&self.shape, &other.shape) * circle.radius
    }
}
