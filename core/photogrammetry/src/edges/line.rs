//! The two edges of a straight tube near a rough line along it.

use super::axes::Axes;
use super::profile::{Change, Profile, Scale};
use super::sharpness::{Sharpness, blurred};
use super::sides::{Spot, middle};
use super::tyre::{Edge, robust};
use super::{Grey, SnapFailure};
use crate::measure::Pixel;
use nalgebra::{Matrix2, SVector};

/// A rough line tapped along a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    /// One end of the rough line, pixels.
    pub from: Pixel,
    /// The other end.
    pub to: Pixel,
    /// Least and greatest apparent width of the tube, pixels.
    pub wide: [f64; 2],
    /// Standard deviation of the ends across the tube, pixels.
    pub off: f64,
}

/// A tube that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct SnappedLine {
    /// Two points of its centre line: abreast of the tapped ends, or further out where the tube continues.
    pub ends: [Pixel; 2],
    /// Covariance of the positions of both ends across the tube, squared pixels.
    pub covariance: Matrix2<f64>,
    /// Standard deviation of an end normal to the tube as far as it rotates the line, pixels: half the standard
    /// deviation of the difference of both ends, times sqrt(2). Measuring uses a line's direction only.
    pub noise_px: f64,
    /// Apparent width of the tube halfway along, pixels.
    pub wide_px: f64,
    /// Every detected edge point on one of the two lines.
    pub edges: Vec<Edge>,
    /// Sharpness of these edges.
    pub sharpness: Sharpness,
    /// Share of the line on which both edges were found, 0 to 1.
    pub share: f64,
    /// Contrast of both edges, 0 to 1.
    pub contrast: f64,
    /// Confidence that these are the edges of the intended tube, 0 to 1.
    pub sure: f64,
}

/// Minimum length and width, pixels.
const SHORTEST: (f64, f64) = (16.0, 3.0);
/// Number of positions along the line in the first search.
const ALONG: usize = 48;
/// Maximum number of positions along the line at which edges are searched.
const MOST: usize = 160;
/// A brightness change of this many grey levels (of 255) counts half.
const HALF: f64 = 30.0;
/// Edges with less support are discarded: a third of the line with clear contrast.
const FAINT: f64 = 0.2;
/// Weight of a pair of edges with brightness changes of the same sign, relative to a pair of opposite signs (a tube on
/// a uniform background).
const SAME_SIGN: f64 = 0.75;
/// Weight of a change of the opposite sign to the edge's usual one: an edge may pass from a light background to a dark
/// one.
const TURNED: f64 = 0.35;
/// Non-uniformity of a tube, in grey levels (of 255), that counts half.
const UNEVEN: f64 = 10.0;
/// Maximum number of edge pairs that are examined in detail.
const PAIRS: usize = 80;
/// A rival of at least this share of the best score is equally likely.
const ALIKE: f64 = 0.95;
/// Minimum visible share of the line.
const SEEN: f64 = 0.4;

/// Uncertainty of a line's direction due to soft edges, as a share of their blur. It is smaller than the uncertainty of
/// the position, since an error common to the whole line does not rotate it. This, [`ALWAYS`] and [`LOST`] were found
/// on synthetic pictures; this and [`ALWAYS`] for a line of [`USUAL`] length, since local errors average out on a
/// longer one.
const SOFT: f64 = 0.03;
/// Uncertainty of the line due to pixels, noise and JPEG however sharp the edges are, pixels.
const ALWAYS: f64 = 0.08;
/// Length of a line for which these were found, pixels.
const USUAL: f64 = 150.0;
/// Growth of the uncertainty due to soft edges with the square of the share of the line on which no edges were found:
/// where a far leg, a tyre or a wall of the tube's own colour hides an edge, neighbouring edges are less reliable too.
/// This does not average out with length.
const LOST: f64 = 1.2;

/// Maximum extension of a tube beyond the tapped ends at either end, as a share of the line.
const FURTHER: f64 = 0.4;
/// An edge continues while one is found within this distance of its line, pixels per pixel of smoothing; a thicker part
/// of the tube is further out.
const GOES_ON: f64 = 0.6;
/// Length over which an edge may be missing before the tube counts as ended, pixels.
const GAP: usize = 5;

/// Search distance from the edge in each round, and whether to use linear light instead of the picture's encoded
/// values.
const ROUNDS: [(f64, bool); 5] = [(5.0, false), (4.0, false), (3.0, true), (3.0, true), (3.0, true)];

/// A straight edge: its offset across the line at both ends, pixels, and its support.
#[derive(Debug, Clone, Copy)]
struct Straight {
    pub(super) ends: [f64; 2],
    brighter: bool,
    support: f64,
}

impl Straight {
    fn middle(&self) -> f64 {
        self.at(0.5)
    }

    /// Its offset at a fraction of the line, which may be beyond its ends.
    fn at(&self, share: f64) -> f64 {
        let [a, b] = self.ends;
        a + share * (b - a)
    }
}

/// Uniformity of a tube along its length, 0 to 1: the background changes along a tube, the tube does not.
fn uniform(grey: &Grey, axes: &Axes, left: &Straight, right: &Straight) -> f64 {
    let scale = Scale::encoded();
    let ([l0, l1], [r0, r1]) = (left.ends, right.ends);
    let mut off = 0.0;
    for lane in [0.1, 0.3, 0.5, 0.7, 0.9] {
        let mut values: Vec<f64> = (0..ALONG)
            .filter_map(|i| {
                let s = (i as f64 + 0.5) / ALONG as f64;
                let (l, r) = (l0 + s * (l1 - l0), r0 + s * (r1 - r0));
                scale.at(grey, axes.place(s * axes.length, l + lane * (r - l)))
            })
            .collect();
        values.sort_by(f64::total_cmp);
        let median = values.get(values.len() / 2).copied().unwrap_or_default();
        off += values.iter().map(|value| (value - median).abs()).sum::<f64>() / (5 * ALONG) as f64;
    }
    1.0 / (1.0 + (off / UNEVEN).powi(2))
}

/// Finds both edges of a tube along which a rough line was drawn, and the centre line between them.
///
/// Every straight edge near the line is a candidate. Of the pairs whose distance is a possible width of the tube, the
/// one with the best score is refined as in [`super::snap_tyre`], each side separately and then both as one tube. The
/// edges may have different contrast, and the same sign, as between light and dark background.
///
/// # Errors
/// [`SnapFailure`], with its remedy.
pub fn snap_line(grey: &Grey, tube: &Tube) -> Result<SnappedLine, SnapFailure> {
    let axes = axes(grey, tube)?;
    let [narrow, wide] = tube.wide;
    let room = wide / 2.0 + 2.5 * tube.off;
    let straights = straights(grey, &axes, room, (narrow / 8.0).clamp(1.0, 4.0), tube.off);
    if straights.is_empty() {
        return Err(SnapFailure::NoEdge);
    }
    let mut pairs: Vec<(Straight, Straight, f64)> = Vec::new();
    for a in &straights {
        for b in &straights {
            if let Some(score) = score(a, b, tube) {
                pairs.push((*a, *b, score));
            }
        }
    }
    pairs.sort_by(|a, b| b.2.total_cmp(&a.2));
    pairs.truncate(PAIRS);
    for (left, right, score) in &mut pairs {
        *score *= uniform(grey, &axes, left, right);
    }
    pairs.sort_by(|a, b| b.2.total_cmp(&a.2));
    let (left, right, best) = *pairs.first().ok_or(SnapFailure::NoEdge)?;
    let between = |a: &Straight, b: &Straight| f64::midpoint(a.middle(), b.middle());
    let rival = pairs
        .iter()
        .map(|(a, b, score)| ((between(a, b) - between(&left, &right)).abs(), score / best))
        .find(|(apart, _)| *apart > (0.12 * narrow).max(2.0));
    if let Some((apart_px, _)) = rival.filter(|(_, alike)| *alike > ALIKE) {
        return Err(SnapFailure::TwoAlike { apart_px });
    }
    // Smoothed as far as the tube's width allows: in pictures with more pixels, edges are softer and noisier per pixel.
    let unit = (narrow / 18.0).clamp(1.0, 3.0);
    let contrast = (left.support * right.support).sqrt().clamp(0.0, 1.0);
    let left = refined(grey, &axes, &left, unit, &ROUNDS).ok_or(SnapFailure::NoEdge)?;
    let right = refined(grey, &axes, &right, unit, &ROUNDS).ok_or(SnapFailure::NoEdge)?;
    let (axes, left, right) = followed(grey, axes, left, right, unit);
    let share = left.share.min(right.share);
    let edges: Vec<Edge> = left.edges.iter().chain(&right.edges).copied().collect();
    let sharpness = blurred(grey, &edges).ok_or(SnapFailure::NoEdge)?;
    let wide_px = right.edge.middle() - left.edge.middle();
    if !(0.95 * narrow..=1.05 * wide).contains(&wide_px) {
        return Err(SnapFailure::NoEdge);
    }
    if sharpness.width_px() > 0.5 * wide_px {
        return Err(SnapFailure::TooBlurred { width_px: sharpness.width_px() });
    }
    // Checked after blur: on a blurred edge few points are found, and the remedy of a plainer background would not
    // help.
    if share < SEEN {
        return Err(SnapFailure::TooLittle { percent: 100.0 * share });
    }
    let found =
        middle([&left.spots, &right.spots], sharpness.blur_px, 3.0 * unit).ok_or(SnapFailure::NoEdge)?;
    let [m0, m1] = found.ends;
    let ends = [axes.place(0.0, m0), axes.place(axes.length, m1)];
    let covariance = found.covariance;
    let [[c00, c01], [_, c11]] = covariance.data.0;
    let lost = 1.0 - share;
    let averaged = (USUAL / axes.length).sqrt();
    let open = sharpness.blur_px * (SOFT * averaged + LOST * lost * lost);
    let always = ALWAYS * averaged;
    let astray = found.astray * found.astray / 2.0;
    let noise_px = ((c00 + c11 - 2.0 * c01) / 2.0 + open * open + astray + always * always).sqrt();
    let covariance = covariance + Matrix2::identity() * (noise_px * noise_px);
    let alone = rival.map_or(1.0, |(_, alike)| ((1.0 - alike) / 0.25).clamp(0.0, 1.0));
    let seen = ((share - SEEN) / (0.8 - SEEN)).clamp(0.0, 1.0);
    let sure = (0.3 + 0.7 * seen) * (0.4 + 0.6 * alone);
    SnapFailure::unless_sure(sure)?;
    Ok(SnappedLine { ends, covariance, noise_px, wide_px, edges, sharpness, share, contrast, sure })
}

pub(super) fn axes(grey: &Grey, tube: &Tube) -> Result<Axes, SnapFailure> {
    let ([ax, ay], [bx, by]) = (tube.from, tube.to);
    let [narrow, wide] = tube.wide;
    if ![ax, ay, bx, by, narrow, wide, tube.off].iter().all(|value| value.is_finite()) {
        return Err(SnapFailure::NoShape);
    }
    let (width, height) = (f64::from(grey.width()), f64::from(grey.height()));
    let inside = |[x, y]: Pixel| (0.0..=width).contains(&x) && (0.0..=height).contains(&y);
    if !inside(tube.from) || !inside(tube.to) {
        return Err(SnapFailure::Outside);
    }
    let length = libm::hypot(bx - ax, by - ay);
    if length < 1e-6 || narrow > wide || tube.off < 0.0 {
        return Err(SnapFailure::NoShape);
    }
    let (shortest, narrowest) = SHORTEST;
    if length < shortest {
        return Err(SnapFailure::TooSmall { across_px: length });
    }
    if narrow < narrowest || wide > width.max(height) || tube.off > width.max(height) {
        return Err(SnapFailure::TooSmall { across_px: narrow });
    }
    Ok(Axes { from: tube.from, along: [(bx - ax) / length, (by - ay) / length], length })
}

/// The score of a pair; `None` if it cannot be a tube.
fn score(left: &Straight, right: &Straight, tube: &Tube) -> Option<f64> {
    let ([l0, l1], [r0, r1]) = (left.ends, right.ends);
    let (w0, w1) = (r0 - l0, r1 - l1);
    let [narrow, wide] = tube.wide;
    if !((narrow..=wide).contains(&f64::midpoint(w0, w1)) && (w0 - w1).abs() < 0.12 * (w0 + w1)) {
        return None;
    }
    let off = |a: f64, b: f64| (f64::midpoint(a, b) / tube.off).powi(2);
    let near = libm::exp(-0.125 * (off(l0, r0) + off(l1, r1)));
    let sign = if left.brighter == right.brighter { SAME_SIGN } else { 1.0 };
    Some((left.support * right.support).sqrt() * near * sign)
}

/// Every straight edge near the line with enough support, best first.
fn straights(grey: &Grey, axes: &Axes, room: f64, window: f64, off: f64) -> Vec<Straight> {
    let scale = Scale::encoded();
    let step = (room / 60.0).max(0.75);
    let out = ((room / step).ceil() as usize).min(120);
    let across = 2 * out + 1;
    let wide = ((window / step).round() as usize).max(1);
    // Brightness changes in rows along the line, each over `wide` steps to either side.
    let mut change = vec![0.0_f32; ALONG * across];
    for (i, row) in change.chunks_exact_mut(across).enumerate() {
        let s = (i as f64 + 0.5) / ALONG as f64 * axes.length;
        let count = across + 2 * wide;
        let values: Vec<Option<f64>> = (0..count)
            .map(|j| scale.at(grey, axes.place(s, (j as f64 - (out + wide) as f64) * step)))
            .collect();
        for (value, window) in row.iter_mut().zip(values.windows(2 * wide + 1)) {
            let half =
                |part: &[Option<f64>]| part.iter().copied().sum::<Option<f64>>().map(|it| it / wide as f64);
            let (before, after) = window.split_at(wide);
            let after = after.get(1..).unwrap_or_default();
            let by = half(before).zip(half(after)).map_or(0.0, |(before, after)| after - before);
            *value = (by / (by.abs() + HALF)) as f32;
        }
    }
    let lean = ((3.0 * off / step).ceil() as i32).max(1);
    let mut found: Vec<Straight> = Vec::new();
    let last = across as i32 - 1;
    for a in 0..=last {
        for b in (a - lean).max(0)..=(a + lean).min(last) {
            let slope = f64::from(b - a) / ALONG as f64;
            let (mut up, mut down) = (0.0_f32, 0.0_f32);
            for (i, row) in change.chunks_exact(across).enumerate() {
                let at = (f64::from(a) + (i as f64 + 0.5) * slope).round() as usize;
                let value = row.get(at).copied().unwrap_or_default();
                up += value.max(0.0);
                down += (-value).max(0.0);
            }
            let brighter = up >= down;
            let support = (f64::from(up.max(down)) + TURNED * f64::from(up.min(down))) / ALONG as f64;
            if support < FAINT {
                continue;
            }
            let place = |k: i32| (f64::from(k) - out as f64) * step;
            take(&mut found, Straight { ends: [place(a), place(b)], brighter, support }, 2.5 * window);
        }
    }
    found.sort_by(|a, b| b.support.total_cmp(&a.support));
    found.truncate(40);
    found
}

/// Adds an edge unless a better one of its sign is near, and removes worse ones near it.
fn take(found: &mut Vec<Straight>, it: Straight, apart: f64) {
    let near = |other: &Straight| {
        let ([a0, a1], [b0, b1]) = (it.ends, other.ends);
        other.brighter == it.brighter && (a0 - b0).abs() + (a1 - b1).abs() < apart
    };
    if found.iter().any(|other| near(other) && other.support >= it.support) {
        return;
    }
    found.retain(|other| !near(other));
    found.push(it);
}

struct Refined {
    edge: Straight,
    edges: Vec<Edge>,
    /// All changes found in the last round.
    spots: Vec<Spot>,
    share: f64,
}

/// The tube extended while both its edges continue beyond the tapped ends: the longer the line, the better its
/// direction is determined.
fn followed(grey: &Grey, axes: Axes, left: Refined, right: Refined, unit: f64) -> (Axes, Refined, Refined) {
    let scale = Scale::light();
    let goes_on = |edge: &Straight, share: f64| {
        let place = axes.place(share * axes.length, edge.at(share));
        let half = (GOES_ON + 3.0) * unit;
        let profile = Profile::across(grey, &scale, place, axes.across(), half, 0.33 * unit, unit);
        profile.is_some_and(|it| it.changes(unit, 0.16 / unit).iter().any(|it| it.at.abs() <= GOES_ON * unit))
    };
    let step = 1.0 / axes.length;
    let most = (FURTHER * axes.length) as usize;
    let [before, after] = [-1.0, 1.0].map(|way: f64| {
        let (mut last, mut seen) = (0, 0);
        for pixels in 1..=most {
            let share = f64::midpoint(1.0, way) + way * pixels as f64 * step;
            if goes_on(&left.edge, share) && goes_on(&right.edge, share) {
                seen += 1;
                last = pixels;
            } else if pixels - last > GAP {
                break;
            }
        }
        if 4 * seen >= 3 * last { last as f64 * step } else { 0.0 }
    });
    if before + after < 0.05 {
        return (axes, left, right);
    }
    let longer = Axes {
        from: axes.place(-before * axes.length, 0.0),
        length: (1.0 + before + after) * axes.length,
        ..axes
    };
    let again = |it: &Refined| {
        let edge = Straight { ends: [it.edge.at(-before), it.edge.at(1.0 + after)], ..it.edge };
        refined(grey, &longer, &edge, unit, ROUNDS.get(2..).unwrap_or_default())
    };
    match (again(&left), again(&right)) {
        (Some(left), Some(right)) => (longer, left, right),
        _ => (axes, left, right),
    }
}

/// Fits the edge to the brightness changes along it: the unknowns are its offsets at the line's ends.
fn refined(grey: &Grey, axes: &Axes, edge: &Straight, unit: f64, rounds: &[(f64, bool)]) -> Option<Refined> {
    let (encoded, lit) = (Scale::encoded(), Scale::light());
    let mut at = *edge;
    let mut done = None;
    for (search, light) in rounds.iter().map(|(search, light)| (search * unit, *light)) {
        let scale = if light { &lit } else { &encoded };
        let sigma = unit;
        let least = if light { 0.16 } else { 1.6 } / unit;
        let count = (axes.length as usize).clamp(16, MOST);
        let [e0, e1] = at.ends;
        let weight = |it: &Change| {
            let sign = if (it.slope > 0.0) == edge.brighter { 1.0 } else { TURNED };
            sign * it.slope.abs() * (1.0 - 0.5 * (it.at / search).powi(2))
        };
        let mut rows: Vec<(SVector<f64, 2>, f64, f64, Edge)> = Vec::with_capacity(count);
        let mut spots = Vec::with_capacity(count);
        for i in 0..count {
            let share = (i as f64 + 0.5) / count as f64;
            let place = axes.place(share * axes.length, e0 + share * (e1 - e0));
            let normal = axes.across();
            let Some(profile) =
                Profile::across(grey, scale, place, normal, search + 3.0 * sigma, 0.33 * unit, unit)
            else {
                continue;
            };
            let changes = profile.changes(sigma, least);
            let chosen = changes
                .iter()
                .filter(|it| it.at.abs() <= search)
                .max_by(|a, b| weight(a).total_cmp(&weight(b)));
            if let Some(change) = chosen {
                let ([x, y], [nx, ny]) = (place, normal);
                let edge = Edge { at: [x + change.at * nx, y + change.at * ny], normal, slope: change.slope };
                spots.push(Spot::new(share, e0 + share * (e1 - e0), change));
                rows.push((SVector::from([1.0 - share, share]), change.at, 1.0, edge));
            }
        }
        if rows.len() < 8 {
            return None;
        }
        let (by, _, _, kept) = robust(&rows, 0.2, search)?;
        at.ends = [e0 + by.x, e1 + by.y];
        let edges: Vec<Edge> =
            rows.into_iter().zip(&kept).filter(|(_, kept)| **kept).map(|((.., edge), _)| edge).collect();
        let share = edges.len() as f64 / count as f64;
        done = Some(Refined { edge: at, edges, spots, share });
    }
    done
}
