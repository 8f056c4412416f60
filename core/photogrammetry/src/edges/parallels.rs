//! The direction of a fork leg from every straight edge that runs along it.
//!
//! A leg's two edges, its other leg's, those of the lower legs and of the head tube, and stripes along any of them are
//! parallel to the steering axis: their images meet in one vanishing point, however far from the bike's plane they lie.
//! So each of them gives the axis's direction, and it does not matter which is which.

use super::axes::Axes;
use super::line::{Tube, axes};
use super::runs::{Run, runs};
use super::sharpness::blurred;
use super::{Edge, Grey, SnapFailure, SnappedLine};
use nalgebra::{DMatrix, DVector, Matrix2};

/// Taps along a leg.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg {
    /// The rough line; its width is that of one leg.
    pub(super) tube: Tube,
    /// Greatest width of what is thinner than any leg, such as a hose or a spoke, pixels.
    pub(super) thin: f64,
    /// Direction expected from the other marks, radians from the picture's `x` axis to its `y` axis, and its u.
    pub(super) expected: Option<[f64; 2]>,
}

/// Length searched beyond either tapped end, as a share of the line.
const FURTHER: f64 = 0.4;
/// Greatest angle between the rough line and an edge, degrees.
const ASKEW_DEG: f64 = 14.0;
/// Step of the search for the direction, degrees.
const STEP_DEG: f64 = 0.1;
/// Edges of one leg differ in direction by this, degrees: taper, perspective.
const ALIKE_DEG: f64 = 0.3;
/// Directions that differ by more are rivals, degrees.
const RIVAL_DEG: f64 = 1.5;
/// Uncertainty of the direction expected from other marks beyond what they state, degrees.
const EXPECTED_DEG: f64 = 0.7;
/// A direction that differs from the expected one by more than three standard uncertainties and this, degrees, is that of
/// something else, such as a spoke, a post or a hose.
const CONTRARY_DEG: f64 = 1.0;
/// Weight of an edge that has one of the opposite sign beside it, nearer than a leg is wide.
const THIN: f64 = 0.1;
/// Share of the line along which edges that are not thin suffice.
const ENOUGH: f64 = 0.6;
/// Weight of an edge far from the rough line.
const FAR: f64 = 0.02;
/// Standard deviation of a run's points, pixels, and the length over which their errors are alike, pixels.
const SCATTER: (f64, f64) = (0.3, 8.0);
/// Runs within this distance of one line are one edge, pixels of smoothing; and by this much more for each pixel that
/// they lie apart, as an angle in degrees: their direction is not known better yet.
const ONE: f64 = 0.7;
const ONE_DEG: f64 = 0.3;
/// Most edges in one fit.
const MOST: usize = 12;
/// Taper of a leg, degrees: inclination of either edge to the leg's axis, as a standard deviation. Cast lower legs and
/// the blades of rigid forks lose 1 to 5 mm of radius over 250 to 500 mm, stanchions nothing. Common practice, no
/// source. Both edges of a leg have it with opposite signs, so that it cancels where both are seen.
const TAPER_DEG: f64 = 0.3;
/// The most taper that is common, degrees: 6 mm of radius over 500 mm. Common practice, no source.
const MOST_TAPER_DEG: f64 = 0.6;
/// Length over which errors of the points of one edge are alike, as a share of the line.
const ALIKE_FOR: f64 = 0.15;
/// As in [`super::line`]: uncertainty due to soft edges as a share of their blur, and due to pixels, noise and JPEG,
/// pixels, both for a line of the last length.
const SOFT: (f64, f64, f64) = (0.03, 0.08, 150.0);
/// Uncertainty of the direction however many edges agree, degrees: a background that changes along the leg, and the
/// blur of a neighbouring edge, shift whole edges, and more of them do not average it out. Found on synthetic pictures.
const ALWAYS_DEG: f64 = 0.07;
/// Minimum visible share of the line.
const SEEN: f64 = 0.45;
/// Tukey's biweight constant.
const TUKEY: f64 = 4.685;
/// The smallest scatter that is accepted as credible, pixels.
const LEAST: f64 = 0.1;

/// A run that counts, with its weight.
struct Counted<'r> {
    run: &'r Run,
    angle: f64,
    /// Standard deviation of its angle, radians.
    u: f64,
    weight: f64,
    /// Whether it is part of something thinner than a leg.
    thin: bool,
}

impl Counted<'_> {
    /// The sign of its brightness change.
    fn way(&self) -> f64 {
        if self.run.brighter { 1.0 } else { -1.0 }
    }

    fn mass(&self) -> f64 {
        self.weight * self.run.length
    }
}

/// The common direction of the edges near taps along a leg, and how well it is supported.
///
/// # Errors
/// [`SnapFailure`], with its remedy.
pub(super) fn snap_parallels(grey: &Grey, leg: &Leg) -> Result<(SnappedLine, f64), SnapFailure> {
    let axes = axes(grey, &leg.tube)?;
    let [narrow, wide] = leg.tube.wide;
    let unit = (narrow / 18.0).clamp(1.0, 3.0);
    let ends = [-FURTHER * axes.length, (1.0 + FURTHER) * axes.length];
    let runs = runs(grey, &axes, ends, 1.5 * wide + 2.0 * leg.tube.off, unit);
    let counted = counted(&runs, leg, &axes, unit);
    let (angle, taper, alike) = direction(&counted, leg, &axes).ok_or(SnapFailure::NoEdge)?;
    let kept = alike_runs(&counted, angle, taper, &axes);
    let found = fitted(&kept, &axes, angle, unit).ok_or(SnapFailure::NoEdge)?;
    let share = covered(&kept, axes.length);
    let edges: Vec<Edge> = kept
        .iter()
        .flat_map(|it| it.run.points.iter().map(|[s, t]| (s, t, it.run.brighter)))
        .map(|(s, t, brighter)| Edge {
            at: axes.place(*s, *t),
            normal: axes.across(),
            slope: if brighter { 1.0 } else { -1.0 },
        })
        .collect();
    let sharpness = blurred(grey, &edges).ok_or(SnapFailure::NoEdge)?;
    if sharpness.width_px() > 0.6 * narrow {
        return Err(SnapFailure::TooBlurred { width_px: sharpness.width_px() });
    }
    if share < SEEN {
        return Err(SnapFailure::TooLittle { percent: 100.0 * share });
    }
    let [from, to] = found.range;
    let length = to - from;
    let (soft, always, usual) = SOFT;
    let averaged = (usual / length).sqrt();
    let (soft, always) = (soft * sharpness.blur_px * averaged, always * averaged);
    let noise_px = libm::sqrt(
        (found.variance + ALWAYS_DEG.to_radians().powi(2)) * length * length / 2.0
            + soft * soft
            + always * always,
    );
    let mass: f64 = kept.iter().map(|it| it.mass()).sum();
    let contrast = kept.iter().map(|it| it.mass() * it.run.strength).sum::<f64>() / mass;
    let seen = ((share - SEEN) / (0.8 - SEEN)).clamp(0.0, 1.0);
    let alone = ((1.0 - alike) / 0.4).clamp(0.0, 1.0);
    let sure = (0.3 + 0.7 * seen) * (0.4 + 0.6 * alone);
    SnapFailure::unless_sure(sure)?;
    let ends = [from, to].map(|s| axes.place(s, found.offset + found.slope * (s - found.middle)));
    let snapped = SnappedLine {
        ends,
        covariance: Matrix2::identity() * (noise_px * noise_px),
        noise_px,
        wide_px: found.wide,
        edges,
        sharpness,
        share,
        contrast,
        sure,
    };
    // Of several channels, the one with the best determined direction counts.
    Ok((snapped, sure * mass / (noise_px / length + ALIKE_DEG.to_radians() / 5.0)))
}

/// The runs of a direction.
fn alike_runs<'c, 'r>(
    counted: &'c [Counted<'r>],
    angle: f64,
    taper: f64,
    axes: &Axes,
) -> Vec<&'c Counted<'r>> {
    let mut kept: Vec<&Counted<'_>> = counted
        .iter()
        .filter(|it| {
            let apart = (it.angle - angle - it.way() * taper).abs();
            apart < 3.0 * libm::hypot(it.u, ALIKE_DEG.to_radians() / 2.0)
        })
        .filter(|it| it.weight > 2.0 * FAR)
        .collect();
    // Where a leg's own edges show its direction, what is thin beside it is not asked.
    let broad: Vec<&Counted<'_>> = kept.iter().copied().filter(|it| !it.thin).collect();
    if covered(&broad, axes.length) > ENOUGH {
        kept = broad;
    }
    kept.sort_by(|a, b| b.mass().total_cmp(&a.mass()));
    kept
}

/// The runs with their weights: how near they are to where a leg's edges can be, how clear, and whether they are part
/// of something thin.
fn counted<'r>(runs: &'r [Run], leg: &Leg, axes: &Axes, unit: f64) -> Vec<Counted<'r>> {
    let [_, wide] = leg.tube.wide;
    let off = leg.tube.off + 0.15 * wide;
    let mut counted = Vec::with_capacity(runs.len());
    for run in runs {
        let out = (run.at(run.middle.clamp(0.0, axes.length)).abs() - 0.6 * wide).max(0.0) / off;
        let near = libm::exp(-0.5 * out * out).max(FAR);
        let beside = |other: &&Run| {
            let apart = (other.offset - run.at(other.middle)).abs();
            other.brighter != run.brighter
                && apart < leg.thin
                && run.overlap(other) > 0.5 * run.length.min(other.length)
        };
        let thin = runs.iter().any(|other| beside(&other));
        let (scatter, alike) = SCATTER;
        let independent = (run.length / (alike * unit)).max(1.0);
        let u = scatter * unit * (12.0 / independent).sqrt() / run.length;
        let weight = near * run.strength * if thin { THIN } else { 1.0 };
        counted.push(Counted { run, angle: libm::atan(run.slope), u, weight, thin });
    }
    counted
}

/// The best supported direction, as an angle to the rough line, and the support of the best rival relative to it.
fn direction(counted: &[Counted<'_>], leg: &Leg, axes: &Axes) -> Option<(f64, f64, f64)> {
    let own = ALIKE_DEG.to_radians();
    let [dx, dy] = axes.along;
    let expected = leg.expected.map(|[angle, u]| {
        let turn = std::f64::consts::PI;
        let off = angle - libm::atan2(dy, dx) + turn / 2.0;
        let most = 3.0 * u + CONTRARY_DEG.to_radians();
        (off.rem_euclid(turn) - turn / 2.0, libm::hypot(u, EXPECTED_DEG.to_radians()), most)
    });
    let score = |angle: f64, taper: f64| {
        let sum: f64 = counted
            .iter()
            .map(|it| {
                let wide = libm::hypot(own, it.u);
                it.mass() * own / wide
                    * libm::exp(-0.5 * ((it.angle - angle - it.way() * taper) / wide).powi(2))
            })
            .sum();
        let prior = expected.map_or(1.0, |(expected, u, most)| {
            let off = (angle - expected).abs();
            if off > most { 0.0 } else { libm::exp(-0.5 * (off / u).powi(2)) }
        });
        sum * prior * libm::exp(-0.5 * (taper / MOST_TAPER_DEG.to_radians()).powi(2))
    };
    let steps = (ASKEW_DEG / STEP_DEG) as i32;
    let tapers = (1.5 * MOST_TAPER_DEG / STEP_DEG) as i32;
    let scores: Vec<(f64, f64, f64)> = (-steps..=steps)
        .flat_map(|step| (-tapers..=tapers).map(move |taper| [step, taper]))
        .map(|both| both.map(|steps| (f64::from(steps) * STEP_DEG).to_radians()))
        .map(|[angle, taper]| (angle, taper, score(angle, taper)))
        .collect();
    let best = scores.iter().copied().max_by(|a, b| a.2.total_cmp(&b.2)).filter(|best| best.2 > 0.0)?;
    let apart = RIVAL_DEG.to_radians();
    let rival = scores.iter().filter(|it| (it.0 - best.0).abs() > apart).map(|it| it.2).fold(0.0, f64::max);
    Some((best.0, best.1, rival / best.2))
}

/// Share of the tapped line along which at least one of the runs lies.
fn covered(kept: &[&Counted<'_>], length: f64) -> f64 {
    let many = 100;
    let seen = (0..many).filter(|i| {
        let at = (f64::from(*i) + 0.5) / f64::from(many) * length;
        kept.iter().any(|it| (at - it.run.middle).abs() <= it.run.length / 2.0)
    });
    seen.count() as f64 / f64::from(many)
}

/// The common direction.
struct Fitted {
    /// Growth of the offset across the line, and its variance.
    slope: f64,
    variance: f64,
    /// Position at which the offset is stated, and the offset.
    middle: f64,
    offset: f64,
    /// The first and the last point, pixels along the line.
    range: [f64; 2],
    /// Distance of the outermost edges, pixels.
    wide: f64,
}

struct Point {
    edge: usize,
    along: f64,
    across: f64,
    way: f64,
    weight: f64,
}

/// One direction for all runs, one offset for each edge, and one taper of opposite sign for edges of opposite sign.
fn fitted(kept: &[&Counted<'_>], axes: &Axes, angle: f64, unit: f64) -> Option<Fitted> {
    let slope = libm::tan(angle);
    // Runs on one line are parts of one edge.
    let mut edges: Vec<(&Run, Vec<&Counted<'_>>)> = Vec::new();
    for it in kept.iter().copied() {
        let same = edges.iter().position(|(first, _)| {
            let apart = it.run.middle - first.middle;
            let off = it.run.offset - first.offset - slope * apart;
            first.brighter == it.run.brighter && off.abs() < ONE * unit + ONE_DEG.to_radians() * apart.abs()
        });
        if let Some((_, parts)) = same.and_then(|at| edges.get_mut(at)) {
            parts.push(it);
        } else if edges.len() < MOST {
            edges.push((it.run, vec![it]));
        }
    }
    let mut points: Vec<Point> = Vec::new();
    for (edge, (first, parts)) in edges.iter().enumerate() {
        let way = if first.brighter { 1.0 } else { -1.0 };
        points.extend(parts.iter().flat_map(|it| {
            let weight = it.weight;
            it.run.points.iter().map(move |[along, across]| Point {
                edge,
                along: *along,
                across: *across,
                way,
                weight,
            })
        }));
    }
    let (from, to) =
        points.iter().fold((f64::MAX, f64::MIN), |(a, b), it| (a.min(it.along), b.max(it.along)));
    let (middle, length) = (f64::midpoint(from, to), to - from);
    let count = 2 + edges.len();
    let row = |it: &Point| {
        let mut row = DVector::zeros(count);
        let along = (it.along - middle) / length;
        if let [slope, taper, offsets @ ..] = row.as_mut_slice() {
            *slope = along;
            *taper = it.way * along;
            if let Some(own) = offsets.get_mut(it.edge) {
                *own = 1.0;
            }
        }
        row
    };
    let rows: Vec<DVector<f64>> = points.iter().map(row).collect();
    let taper = (TAPER_DEG.to_radians() * length).powi(-2);
    let mut before = DMatrix::zeros(count, count);
    if let Some(it) = before.get_mut((1, 1)) {
        *it = taper;
    }
    let mut deviation = unit;
    let mut x = DVector::zeros(count);
    let (mut weights, mut normal): (Vec<f64>, DMatrix<f64>) = (Vec::new(), before.clone());
    for _ in 0..30 {
        weights = rows
            .iter()
            .zip(&points)
            .map(|(row, it)| {
                let off =
                    if weights.is_empty() { 0.0 } else { (it.across - row.dot(&x)) / (TUKEY * deviation) };
                let near = if off.abs() < 1.0 { (1.0 - off * off).powi(2) } else { 0.0 };
                it.weight * near / (deviation * deviation)
            })
            .collect();
        normal = before.clone();
        let mut right = DVector::zeros(count);
        for ((row, it), weight) in rows.iter().zip(&points).zip(&weights) {
            normal.ger(*weight, row, row, 1.0);
            right.axpy(it.across * weight, row, 1.0);
        }
        let next = (normal.clone() + DMatrix::identity(count, count) * 1e-9).cholesky()?.solve(&right);
        let still = (&next - &x).amax() < 1e-5;
        x = next;
        let mut off: Vec<f64> =
            rows.iter().zip(&points).map(|(row, it)| (it.across - row.dot(&x)).abs()).collect();
        off.sort_by(f64::total_cmp);
        let median = 1.4826 * off.get(off.len() / 2).copied()?;
        let was = deviation;
        deviation = median.clamp(LEAST, (0.7 * deviation).max(LEAST));
        if still && (was - deviation).abs() < 1e-3 {
            break;
        }
    }
    let inverse = normal.try_inverse()?;
    // Errors of neighbouring points of one edge are alike: they count as one (K.-Y. Liang and S. L. Zeger, Biometrika 73
    // (1986) 13).
    let block = (ALIKE_FOR * axes.length).max(4.0);
    let mut pulls: std::collections::BTreeMap<(usize, i64), DVector<f64>> = std::collections::BTreeMap::new();
    for ((row, it), weight) in rows.iter().zip(&points).zip(&weights) {
        let key = (it.edge, (it.along / block).floor() as i64);
        let pull = pulls.entry(key).or_insert_with(|| DVector::zeros(count));
        pull.axpy(weight * (it.across - row.dot(&x)), row, 1.0);
    }
    let mut spread = before;
    for pull in pulls.values() {
        spread.ger(1.0, pull, pull, 1.0);
    }
    let covariance = &inverse * spread * &inverse;
    let (slope, variance) = (x.get(0)? / length, covariance.get((0, 0))? / (length * length));
    // The position at which the direction holds is that of the edges, weighted as they are.
    let offsets: Vec<f64> = x.iter().skip(2).copied().collect();
    let (mut sum, mut offset) = (0.0, 0.0);
    for (it, weight) in points.iter().zip(&weights) {
        let lever = weight * ((it.along - middle) / length).powi(2);
        sum += lever;
        offset += lever * offsets.get(it.edge)?;
    }
    let (low, high) = offsets.iter().fold((f64::MAX, f64::MIN), |(a, b), it| (a.min(*it), b.max(*it)));
    // What the runs' own directions differ by beyond their scatter.
    let mass: f64 = kept.iter().map(|it| it.mass() / it.u).sum();
    let differ: f64 = kept
        .iter()
        .map(|it| it.mass() / it.u * ((it.angle - libm::atan(slope)).powi(2) - it.u * it.u).max(0.0))
        .sum::<f64>()
        / mass
        / kept.len() as f64;
    let fitted = Fitted {
        slope,
        variance: variance + differ,
        middle,
        offset: offset / sum,
        range: [from, to],
        wide: high - low,
    };
    (fitted.variance.is_finite() && fitted.offset.is_finite() && length > 0.0).then_some(fitted)
}
