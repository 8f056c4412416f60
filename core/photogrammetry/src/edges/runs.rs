//! Straight runs of edge points near a rough line: parts of edges, each of one sign of brightness change.

use super::Grey;
use super::axes::Axes;
use super::profile::{Profile, Scale};

/// One straight run of edge points.
#[derive(Debug, Clone)]
pub(super) struct Run {
    /// Position along the rough line and offset across it, pixels, in order along the line.
    pub(super) points: Vec<[f64; 2]>,
    /// Whether it grows brighter across the line.
    pub(super) brighter: bool,
    /// Mean strength of the brightness change, 0 to 1.
    pub(super) strength: f64,
    /// Offset across the line at its middle, and its growth per pixel along the line.
    pub(super) offset: f64,
    pub(super) slope: f64,
    /// Position of its middle along the line, pixels.
    pub(super) middle: f64,
    /// Its length along the line, pixels.
    pub(super) length: f64,
}

impl Run {
    /// Its offset across the line at a position along it, which may be beyond its ends.
    pub(super) fn at(&self, along: f64) -> f64 {
        self.offset + self.slope * (along - self.middle)
    }

    /// Length of the part of the line along which both runs lie, pixels.
    pub(super) fn overlap(&self, other: &Self) -> f64 {
        let (a, b) = (self.length / 2.0, other.length / 2.0);
        (self.middle + a).min(other.middle + b) - (self.middle - a).max(other.middle - b)
    }
}

/// Least gradient of an edge, grey levels per pixel of smoothing.
const LEAST: f64 = 2.0;
/// A gradient of this many grey levels per pixel of smoothing counts half.
const HALF: f64 = 8.0;
/// Largest step of an edge from one row to the next, in pixels of smoothing.
const STEP: f64 = 0.9;
/// Number of rows in which an edge may be missing.
const GAP: usize = 4;
/// Number of points that predict the next one.
const RECENT: usize = 12;
/// Shortest run, pixels of smoothing.
const SHORTEST: f64 = 14.0;
/// A run bends where the mean of some points lies this far off its line, pixels of smoothing.
const BENT: f64 = 0.45;
/// Number of such points.
const SOME: usize = 7;
/// Maximum number of rows.
const ROWS: f64 = 700.0;

/// A run under construction.
struct Open {
    points: Vec<[f64; 2]>,
    strength: f64,
    brighter: bool,
    last_row: usize,
}

impl Open {
    fn expected(&self, along: f64) -> f64 {
        let recent = self.points.get(self.points.len().saturating_sub(RECENT)..).unwrap_or_default();
        let ([Some([s, t]), Some([first_s, first_t])], true) =
            ([recent.last(), recent.first()], recent.len() >= RECENT / 2)
        else {
            return recent.last().map_or(f64::INFINITY, |[_, t]| *t);
        };
        t + (t - first_t) / (s - first_s) * (along - s)
    }
}

/// All straight runs within `reach` pixels of the line, from `[from, to]` along it.
pub(super) fn runs(grey: &Grey, axes: &Axes, [from, to]: [f64; 2], reach: f64, unit: f64) -> Vec<Run> {
    let scale = Scale::encoded();
    let normal = axes.across();
    let step = unit.max((to - from) / ROWS);
    let mut open: Vec<Open> = Vec::new();
    let mut closed: Vec<Open> = Vec::new();
    for row in 0..((to - from) / step) as usize {
        let along = from + (row as f64 + 0.5) * step;
        let profile = Profile::across(grey, &scale, axes.place(along, 0.0), normal, reach, 0.33 * unit, unit);
        let changes = profile.map_or_else(Vec::new, |it| it.changes(unit, LEAST / unit));
        let (going, done): (Vec<Open>, Vec<Open>) = open.into_iter().partition(|it| row - it.last_row <= GAP);
        closed.extend(done);
        open = going;
        for change in changes {
            let brighter = change.slope > 0.0;
            let steep = change.slope.abs() * unit;
            let strength = steep / (steep + HALF);
            let off = |it: &Open| (it.expected(along) - change.at).abs();
            let nearest = open
                .iter_mut()
                .filter(|it| it.brighter == brighter && it.last_row < row)
                .min_by(|a, b| off(a).total_cmp(&off(b)));
            match nearest.filter(|it| off(it) < STEP * unit) {
                Some(it) => {
                    it.points.push([along, change.at]);
                    it.strength += strength;
                    it.last_row = row;
                }
                None => {
                    open.push(Open { points: vec![[along, change.at]], strength, brighter, last_row: row })
                }
            }
        }
    }
    closed.extend(open);
    let mut found = Vec::new();
    for it in closed {
        let mean = it.strength / it.points.len() as f64;
        split(&it.points, it.brighter, mean, unit, &mut found);
    }
    found
}

/// The straight parts of a chain of points.
fn split(points: &[[f64; 2]], brighter: bool, strength: f64, unit: f64, found: &mut Vec<Run>) {
    let Some(run) = straight(points, brighter, strength) else { return };
    if run.length < SHORTEST * unit || 2.0 * points.len() as f64 * unit < run.length {
        return;
    }
    // Where it bends, the chord between its ends is farthest from it.
    let residuals: Vec<f64> = points.iter().map(|[s, t]| t - run.at(*s)).collect();
    let means: Vec<f64> = residuals.windows(SOME).map(|it| it.iter().sum::<f64>() / SOME as f64).collect();
    let worst = means.iter().map(|it| it.abs()).fold(0.0, f64::max);
    if worst < BENT * unit {
        found.push(run);
        return;
    }
    let ([Some(a), Some(b)], n) = ([means.first(), means.last()], means.len().max(2) - 1) else { return };
    let chord = |i: usize| a + (b - a) * i as f64 / n as f64;
    let at = means
        .iter()
        .enumerate()
        .max_by(|(i, x), (j, y)| (*x - chord(*i)).abs().total_cmp(&(*y - chord(*j)).abs()));
    let cut = at.map_or(points.len() / 2, |(i, _)| i + SOME / 2).clamp(1, points.len() - 1);
    let (left, right) = points.split_at(cut);
    split(left, brighter, strength, unit, found);
    split(right, brighter, strength, unit, found);
}

/// The straight line through points, by least squares.
fn straight(points: &[[f64; 2]], brighter: bool, strength: f64) -> Option<Run> {
    let ([first, _], [last, _]) = (points.first()?, points.last()?);
    let n = points.len() as f64;
    let (ms, mt) = points.iter().fold((0.0, 0.0), |(a, b), [s, t]| (a + s / n, b + t / n));
    let (ss, st) =
        points.iter().fold((0.0, 0.0), |(a, b), [s, t]| (a + (s - ms).powi(2), b + (s - ms) * (t - mt)));
    if points.len() < 2 * SOME || ss <= 0.0 {
        return None;
    }
    let (slope, middle) = (st / ss, f64::midpoint(*first, *last));
    let offset = mt + slope * (middle - ms);
    Some(Run { points: points.to_vec(), brighter, strength, offset, slope, middle, length: last - first })
}
