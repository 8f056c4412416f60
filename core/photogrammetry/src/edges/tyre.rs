//! A tyre's outline from a few taps on it.

use super::coarse::{Around, Circle, Map, circle, guesses};
use super::profile::{Profile, Scale};
use super::sharpness::{Sharpness, blurred};
use super::{Grey, SnapFailure};
use crate::measure::{Ellipse, Pixel};
use nalgebra::{SMatrix, SVector};

/// A point on an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Position, pixels.
    pub at: Pixel,
    /// Unit normal of the edge; outwards for a tyre.
    pub normal: [f64; 2],
    /// Brightness gradient along the normal, values of 255 per pixel.
    pub slope: f64,
}

/// A tyre's outline that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapped {
    /// The ellipse fitted to all edges found.
    pub ellipse: Ellipse,
    /// Covariance of the ellipse, squared pixels: of its centre's `x` and `y`, and of its stretch along `x`, along `y`
    /// and along the diagonals, each scaled to the displacement of its edge at the mean radius.
    pub covariance: SMatrix<f64, 5, 5>,
    /// Marks on the outline, 12 to 48, spread over its visible part: each is the mean of the edges around it.
    pub marks: Vec<Pixel>,
    /// Standard deviation of a mark normal to the edge, pixels.
    pub noise_px: f64,
    /// Every edge used in the fit of the ellipse.
    pub edges: Vec<Edge>,
    /// Share of the outline on which the edge was found, 0 to 1.
    pub share: f64,
    /// Sharpness of the edge.
    pub sharpness: Sharpness,
    /// Contrast of the outline, 0 to 1.
    pub contrast: f64,
    /// Confidence that this is the intended outline, 0 to 1.
    pub sure: f64,
}

/// Minimum radius of a tyre, pixels.
const SMALLEST: f64 = 20.0;
/// Search distance to either side in the first round, in radii; halved in each further round.
const SEARCH: f64 = 0.024;
/// Minimum brightness change, values of 255 over the smoothing's width.
const LEAST: f64 = 4.0;
/// Outlines further apart than this are different, in radii.
const APART: f64 = 0.035;
/// A rival of at least this share of the best score is equally likely.
const ALIKE: f64 = 0.97;
/// Minimum visible share of the outline.
const SEEN: f64 = 0.45;
/// An outline of lower contrast may be chance. Found on synthetic pictures, where wheels reach 0.38 and more.
const FAINT: f64 = 0.2;
/// Maximum number of sectors from which marks are formed.
const SECTORS: usize = 48;
/// Minimum number of marks for an outline.
const FEWEST: usize = 12;
/// The widest allowed gap between two marks, degrees round the wheel.
const WIDEST_GAP_DEG: f64 = 150.0;
/// Uncertainty due to a soft edge, as a share of its blur: shadows and reflections on rubber shift the centre of a soft
/// edge. Found on synthetic pictures.
const SOFT: f64 = 0.15;

/// Finds a tyre's outer edge near three or more taps on it.
///
/// The taps may be off by some four per cent of the wheel's radius, 25 pixels on a picture of twelve megapixels. Every
/// ellipse near them is scored; the best is refined on the edges along its normals, over decreasing search distances,
/// by weighted least squares in which outliers have zero weight (A. E. Beaton and J. W. Tukey, Technometrics 16 (1974)
/// 147). Pixel coordinates are those of the marks.
///
/// # Errors
/// [`SnapFailure`], with its remedy.
pub fn snap_tyre(grey: &Grey, taps: &[Pixel]) -> Result<Snapped, SnapFailure> {
    let circle = placed(grey, taps)?;
    let encoded = Scale::encoded();
    let around = Around::new(grey, &encoded, circle);
    let (coarse, fine) = (Map::new(&around, 0.02), Map::new(&around, 0.008));
    let (best, rival) = guesses(&coarse, &fine, taps, APART).ok_or(SnapFailure::NoEdge)?;
    if best.score < FAINT {
        return Err(SnapFailure::NoEdge);
    }
    let start = best.ellipse(circle).ok_or(SnapFailure::NoEdge)?;
    let light = Scale::light();
    let mut at = start;
    let mut found = None;
    for round in 0..7 {
        let search = (SEARCH * libm::pow(0.5, f64::from(round.min(4)))).max(3.0 / radius(&at));
        let scale = if round < 3 { &encoded } else { &light };
        let it = refined(grey, scale, &at, search * radius(&at), round >= 3).ok_or(SnapFailure::NoEdge)?;
        at = it.ellipse;
        found = Some(it);
    }
    let Refined { ellipse, covariance, edges, share, scatter, count } = found.ok_or(SnapFailure::NoEdge)?;
    let sharpness = blurred(grey, &edges).ok_or(SnapFailure::NoEdge)?;
    if sharpness.width_px() > 0.05 * radius(&ellipse) {
        return Err(SnapFailure::TooBlurred { width_px: sharpness.width_px() });
    }
    // Checked after blur: on a blurred edge few points are found, and the remedy of a plainer background would not
    // help.
    if share < SEEN {
        return Err(SnapFailure::TooLittle { percent: 100.0 * share });
    }
    let alike = rival.map_or(0.0, |it| it.score / best.score);
    if let Some(rival) = rival.filter(|_| alike > ALIKE) {
        return Err(SnapFailure::TwoAlike { apart_px: best.apart(&rival, circle) });
    }
    let (marks, spread) = marks(&ellipse, &edges, count);
    if marks.len() < FEWEST || ellipse.widest_gap_deg(&marks) > WIDEST_GAP_DEG {
        return Err(SnapFailure::TooLittle { percent: 100.0 * share });
    }
    let soft = SOFT * sharpness.blur_px;
    let noise_px = libm::hypot(spread.max(scatter / 3.0), soft).max(0.05);
    let seen = ((share - SEEN) / (0.85 - SEEN)).clamp(0.0, 1.0);
    let alone = ((1.0 - alike) / 0.15).clamp(0.0, 1.0);
    let sure = (0.2 + 0.8 * seen) * (0.4 + 0.6 * alone);
    SnapFailure::unless_sure(sure)?;
    let contrast = best.score.clamp(0.0, 1.0);
    Ok(Snapped { ellipse, covariance, marks, noise_px, edges, share, sharpness, contrast, sure })
}

/// The circle through the taps, if it is valid and inside the picture.
fn placed(grey: &Grey, taps: &[Pixel]) -> Result<Circle, SnapFailure> {
    if taps.len() < 3 {
        return Err(SnapFailure::TooFewTaps { taps: taps.len(), needed: 3 });
    }
    if !taps.iter().flatten().all(|value| value.is_finite()) {
        return Err(SnapFailure::NoShape);
    }
    let (width, height) = (f64::from(grey.width()), f64::from(grey.height()));
    let inside = |[x, y]: &Pixel| (0.0..=width).contains(x) && (0.0..=height).contains(y);
    if !taps.iter().all(inside) {
        return Err(SnapFailure::Outside);
    }
    let circle = circle(taps).ok_or(SnapFailure::NoShape)?;
    if circle.radius < SMALLEST {
        return Err(SnapFailure::TooSmall { across_px: 2.0 * circle.radius });
    }
    // A wheel's centre must be inside the picture.
    if !inside(&circle.centre) || circle.radius > 0.75 * width.max(height) {
        return Err(SnapFailure::NoShape);
    }
    Ok(circle)
}

fn radius(ellipse: &Ellipse) -> f64 {
    f64::midpoint(ellipse.major, ellipse.minor)
}

/// A point of an ellipse and its outward unit normal.
pub(super) fn on(ellipse: &Ellipse, t: f64) -> (Pixel, [f64; 2]) {
    let [x, y] = ellipse.at(t);
    let (sin, cos) = libm::sincos(t);
    let (tsin, tcos) = libm::sincos(ellipse.turn_deg.to_radians());
    let (u, v) = (cos / ellipse.major, sin / ellipse.minor);
    let length = libm::hypot(u, v);
    let (u, v) = (u / length, v / length);
    ([x, y], [u * tcos - v * tsin, u * tsin + v * tcos])
}

struct Refined {
    ellipse: Ellipse,
    covariance: SMatrix<f64, 5, 5>,
    edges: Vec<Edge>,
    share: f64,
    scatter: f64,
    /// Number of positions that were searched.
    count: usize,
}

/// One round: edges along the normals within `search` pixels, and the ellipse that fits them.
fn refined(grey: &Grey, scale: &Scale, ellipse: &Ellipse, search: f64, light: bool) -> Option<Refined> {
    let r = radius(ellipse);
    let count = ((std::f64::consts::TAU * r / 4.0) as usize).clamp(96, 480);
    let sigma = (r / 400.0).clamp(0.9, 2.5).max(search / 12.0);
    let step = (sigma / 3.0).max(0.3);
    // Linear light compresses the same change into fewer values in dark areas.
    let least = LEAST / (sigma * 2.5) * if light { 0.1 } else { 1.0 };
    let [cx, cy] = ellipse.centre;
    let mut rows: Vec<(SVector<f64, 5>, f64, f64, Edge)> = Vec::with_capacity(count);
    for i in 0..count {
        let t = i as f64 * std::f64::consts::TAU / count as f64;
        let (at, normal) = on(ellipse, t);
        let Some(profile) = Profile::across(grey, scale, at, normal, search + 3.0 * sigma, step, 1.0) else {
            continue;
        };
        let changes = profile.changes(sigma, least);
        let weight = |slope: f64, off: f64| {
            let sign = if slope > 0.0 { 1.0 } else { 0.6 };
            sign * slope.abs() / (slope.abs() + 4.0 * least) * (1.0 - 0.7 * (off / search).powi(2))
        };
        let chosen = changes
            .iter()
            .filter(|it| it.at.abs() <= search)
            .max_by(|a, b| weight(a.slope, a.at).total_cmp(&weight(b.slope, b.at)));
        let Some(change) = chosen else { continue };
        let ([x, y], [nx, ny]) = (at, normal);
        let (u, v) = ((x - cx) / r, (y - cy) / r);
        let row = SVector::from([nx, ny, nx * u, ny * v, nx * v + ny * u]);
        let edge = Edge { at: [x + change.at * nx, y + change.at * ny], normal, slope: change.slope };
        rows.push((row, change.at, weight(change.slope, change.at), edge));
    }
    if rows.len() < 12 {
        return None;
    }
    let (change, covariance, scatter, kept) = robust(&rows, 0.25, search)?;
    let moved = moved(ellipse, &change)?;
    let edges: Vec<Edge> =
        rows.into_iter().zip(&kept).filter(|(_, kept)| **kept).map(|((_, _, _, edge), _)| edge).collect();
    let share = edges.len() as f64 / count as f64;
    Some(Refined { ellipse: moved, covariance, edges, share, scatter, count })
}

type Solved<const N: usize> = (SVector<f64, N>, SMatrix<f64, N, N>, f64, Vec<bool>);

/// Robust weighted least squares (Tukey's biweight) in which outliers have zero weight: returns the unknowns, their
/// covariance, the deviation, and the rows that were used. `least` is the smallest credible deviation, `most` the
/// initial one.
pub(super) fn robust<const N: usize>(
    rows: &[(SVector<f64, N>, f64, f64, Edge)],
    least: f64,
    most: f64,
) -> Option<Solved<N>> {
    let mut x = SVector::<f64, N>::zeros();
    let mut deviation = most;
    let mut normal = SMatrix::<f64, N, N>::zeros();
    for _ in 0..25 {
        normal = SMatrix::zeros();
        let mut right = SVector::<f64, N>::zeros();
        for (row, value, weight, _) in rows {
            let off = (value - row.dot(&x)) / (TUKEY * deviation);
            let weight = if off.abs() < 1.0 { weight * (1.0 - off * off).powi(2) } else { 0.0 };
            normal += row * row.transpose() * weight;
            right += row * (value * weight);
        }
        let damped = normal + SMatrix::identity() * (1e-9 * normal.trace());
        let next = damped.cholesky()?.solve(&right);
        let still = (next - x).amax() < 1e-5;
        x = next;
        let mut off: Vec<f64> = rows.iter().map(|(row, value, ..)| (value - row.dot(&x)).abs()).collect();
        off.sort_by(f64::total_cmp);
        // For a normal distribution, 1.4826 times the median absolute deviation is the standard deviation.
        let median = 1.4826 * off.get(off.len() / 2).copied()?;
        let before = deviation;
        deviation = median.clamp(least, (0.7 * deviation).max(least));
        if still && (before - deviation).abs() < 1e-3 {
            break;
        }
    }
    let kept: Vec<bool> =
        rows.iter().map(|(row, value, ..)| (value - row.dot(&x)).abs() < 0.7 * TUKEY * deviation).collect();
    let count = kept.iter().filter(|kept| **kept).count();
    let freedom = count.checked_sub(N).filter(|freedom| *freedom > 0)?;
    let square: f64 = rows
        .iter()
        .zip(&kept)
        .filter(|(_, kept)| **kept)
        .map(|((row, value, ..), _)| (value - row.dot(&x)).powi(2))
        .sum();
    let scatter = (square / freedom as f64).sqrt();
    let covariance = normal.try_inverse()? * (scatter * scatter);
    covariance.iter().all(|value| value.is_finite()).then_some((x, covariance, scatter, kept))
}

/// Edges beyond this many deviations have zero weight.
const TUKEY: f64 = 4.685;

/// The ellipse translated and stretched.
fn moved(ellipse: &Ellipse, change: &SVector<f64, 5>) -> Option<Ellipse> {
    let r = radius(ellipse);
    let [cx, cy] = ellipse.centre;
    let [[dx, dy, xx, yy, xy]] = change.data.0;
    let points: Vec<Pixel> = (0..72)
        .map(|i| {
            let [x, y] = ellipse.at(f64::from(i) * std::f64::consts::TAU / 72.0);
            let (u, v) = ((x - cx) / r, (y - cy) / r);
            [x + dx + xx * u + xy * v, y + dy + yy * v + xy * u]
        })
        .collect();
    Ellipse::direct(&points)
}

/// Marks: the mean of each sector's edges, projected on the ellipse, and the scatter of those means about the ellipse.
fn marks(ellipse: &Ellipse, edges: &[Edge], count: usize) -> (Vec<Pixel>, f64) {
    let [cx, cy] = ellipse.centre;
    let fewest = (count / SECTORS / 4).max(1);
    let mut marks = Vec::new();
    let mut square = 0.0;
    let (sin, cos) = libm::sincos(ellipse.turn_deg.to_radians());
    let parameter = |[x, y]: Pixel| {
        let (x, y) = (x - cx, y - cy);
        libm::atan2((y * cos - x * sin) / ellipse.minor, (x * cos + y * sin) / ellipse.major)
            .rem_euclid(std::f64::consts::TAU)
    };
    let width = std::f64::consts::TAU / SECTORS as f64;
    for sector in 0..SECTORS {
        let middle = (sector as f64 + 0.5) * width;
        let (mut off, mut along, mut n) = (0.0, 0.0, 0);
        for edge in edges {
            let t = parameter(edge.at);
            if (t - middle).abs() <= width / 2.0 {
                let ([px, py], [nx, ny]) = on(ellipse, t);
                let [x, y] = edge.at;
                off += (x - px) * nx + (y - py) * ny;
                along += t;
                n += 1;
            }
        }
        if n >= fewest {
            let n = f64::from(n as u32);
            let ([x, y], [nx, ny]) = on(ellipse, along / n);
            let off = off / n;
            marks.push([x + off * nx, y + off * ny]);
            square += off * off;
        }
    }
    let freedom = marks.len().saturating_sub(5).max(1);
    (marks, (square / freedom as f64).sqrt())
}
