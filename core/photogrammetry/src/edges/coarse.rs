//! Initial estimate of a tyre's outline: every ellipse near the taps is scored on an edge map around them.

use super::{Grey, profile::Scale};
use crate::measure::{Ellipse, Pixel};

/// Number of directions sampled from the centre.
const ROUND: usize = 120;
/// Number of radial steps from [`FROM`] to [`TO`].
const OUT: usize = 400;
/// The map's inner edge, in radii of the circle through the taps.
const FROM: f64 = 0.60;
/// The map's outer edge.
const TO: f64 = 1.40;
/// Step size, in radii.
const STEP: f64 = (TO - FROM) / OUT as f64;
/// Standard deviation of the taps, in radii.
const TAP: f64 = 0.02;
/// A brightness change of this many grey levels (of 255) counts half.
const HALF: f64 = 14.0;
/// Relative weight of a change to darker outside compared with one to brighter: rubber is dark, but the background may
/// be darker.
const DARKER: f64 = 0.6;

/// A circle's centre and radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Circle {
    pub(super) centre: Pixel,
    pub(super) radius: f64,
}

/// The circle that minimises the squares of `x^2 + y^2 - 2ax - 2by - c` over the taps. `None` for collinear or
/// coincident taps.
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
    // Ratio of the principal moments: rejects collinear taps and taps on a small part of the circle.
    let (mean, half) = (f64::midpoint(xx, yy), libm::hypot((xx - yy) / 2.0, xy));
    if !(mean > 1e-9 && mean - half > 0.02 * (mean + half)) {
        return None;
    }
    let determinant = 2.0 * (xx * yy - xy * xy);
    let (a, b) = ((xz * yy - yz * xy) / determinant, (yz * xx - xz * xy) / determinant);
    let radius = (zz + a * a + b * b).sqrt();
    (radius.is_finite()).then_some(Circle { centre: [mx + a, my + b], radius })
}

/// An outline as its distance from the centre: `1 + p0 + p1 cos t + p2 sin t + p3 cos 2t + p4 sin 2t` radii. To first
/// order, this is every ellipse near a circle.
type Shape = [f64; 5];

fn harmonics(t: f64) -> Shape {
    let (sin, cos) = libm::sincos(t);
    [1.0, cos, sin, cos * cos - sin * sin, 2.0 * sin * cos]
}

fn reach(shape: &Shape, at: &Shape) -> f64 {
    1.0 + shape.iter().zip(at).map(|(a, b)| a * b).sum::<f64>()
}

/// The picture around a circle: for each of `ROUND` directions, the cumulative sum of brightness up to each step
/// outwards, and the number of samples in it.
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
                // Samples outside the picture are skipped.
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

/// Edge strength at each position around the taps.
pub(super) struct Map {
    circle: Circle,
    /// `ROUND` rows of `OUT` values; zero at both ends of a row.
    edge: Vec<f32>,
    /// The harmonics of each direction.
    harmonics: Vec<[f32; 5]>,
}

impl Map {
    /// Brightness changes are measured over `window` radii on either side.
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

    /// Mean edge strength along the outline, 0 to 1.
    fn support(&self, shape: &Shape) -> f64 {
        self.mean_along(shape, 1)
    }

    /// The same from every second direction, sufficient to select candidates for refinement.
    fn quick(&self, shape: &Shape) -> f64 {
        self.mean_along(shape, 2)
    }

    /// The mean of the map's values along an outline, over every `every`-th direction.
    fn mean_along(&self, shape: &Shape, every: usize) -> f64 {
        let shape = shape.map(|it| it as f32);
        let directions = self.edge.chunks_exact(OUT).zip(&self.harmonics).step_by(every);
        let count = directions.len() as f64;
        let sum: f32 = directions
            .map(|(row, at)| {
                let radius = 1.0 + shape.iter().zip(at).map(|(a, b)| a * b).sum::<f32>();
                // The radial step that contains the outline.
                let step = (radius - FROM as f32) / STEP as f32;
                row.get(step.clamp(0.0, OUT as f32 - 0.5) as usize).copied().unwrap_or_default()
            })
            .sum();
        f64::from(sum) / count
    }
}

/// A candidate outline and its score.
#[derive(Debug, Clone, Copy)]
pub(super) struct Guess {
    shape: Shape,
    pub(super) score: f64,
}

/// The taps in polar coordinates about the circle's centre: harmonics of the direction, and distance in radii.
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

    /// Sum of squared distances of the taps from the outline, in units of their variance.
    fn misfit(&self, shape: &Shape) -> f64 {
        self.0.iter().map(|(at, r)| ((r - reach(shape, at)) / TAP).powi(2)).sum()
    }

    /// The outline of the given second-harmonic coefficients whose centre and size fit the taps best.
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

/// The outermost outline whose score is at least this share of the best score is selected.
const OUTER: f64 = 0.92;
/// Cost of the taps' misfit relative to support: one tap off by two deviations costs two per cent of the outline.
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
    // A tyre's outer edge encloses the edges of its tread and rim and reflections on them, all concentric; no edge of
    // the wheel is outside it.
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

/// Keeps the best 24 that are not near-duplicates.
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

/// Hill climbing with decreasing steps along each of the five coefficients and pairs of them.
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
    /// The outline as an ellipse.
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

    /// Largest distance between two outlines, pixels.
    pub(super) fn apart(&self, other: &Self, circle: Circle) -> f64 {
        differ(&self.shape, &other.shape) * circle.radius
    }
}
