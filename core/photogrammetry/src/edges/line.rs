//! The two edges of a straight tube from a rough line along it.

use super::profile::{Change, Profile, Scale};
use super::sharpness::{Sharpness, blurred};
use super::sides::{Spot, middle};
use super::tyre::{Edge, robust};
use super::{Grey, SnapFailure};
use crate::measure::Pixel;
use nalgebra::{Matrix2, SVector};

/// What is tapped along a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    /// One end of the rough line, pixels.
    pub from: Pixel,
    /// The other.
    pub to: Pixel,
    /// How wide the tube appears, least and most, pixels.
    pub wide: [f64; 2],
    /// How far the ends may be off across the tube, pixels, as a standard deviation.
    pub off: f64,
}

/// A tube as it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct SnappedLine {
    /// Two points of its middle line: abreast of the ends that were tapped, or further out where the tube goes on.
    pub ends: [Pixel; 2],
    /// Covariance of the two ends' places across the tube, squared pixels.
    pub covariance: Matrix2<f64>,
    /// Standard deviation of an end square to the tube as far as it turns the line, pixels: of both ends the half of
    /// their difference's, times the root of two. Measuring reads nothing but a line's direction.
    pub noise_px: f64,
    /// How wide the tube appears halfway, pixels.
    pub wide_px: f64,
    /// Every edge found that one of the two lines goes through.
    pub edges: Vec<Edge>,
    /// How soft they are.
    pub sharpness: Sharpness,
    /// Share of the line on which both edges were found, 0 to 1.
    pub share: f64,
    /// How well both edges stand out, 0 to 1.
    pub contrast: f64,
    /// How sure it is that these are the edges of the tube that was meant, 0 to 1.
    pub sure: f64,
}

/// Fewest pixels from end to end, and across.
const SHORTEST: (f64, f64) = (16.0, 3.0);
/// Places along the line at which the first search looks.
const ALONG: usize = 48;
/// Places along the line at which edges are looked for, at most.
const MOST: usize = 160;
/// A change counts half from here on, values of 255.
const HALF: f64 = 30.0;
/// Edges with less support are none: a third of the line with clear contrast.
const FAINT: f64 = 0.2;
/// A pair of edges that grow brighter in the same direction, beside one of a tube before one background.
const SAME_SIGN: f64 = 0.75;
/// How much a change against an edge's usual sign counts: the same edge may pass from light ground to dark.
const TURNED: f64 = 0.35;
/// How uneven, in values of 255, a tube is that counts half.
const UNEVEN: f64 = 10.0;
/// The most pairs of edges that are looked at closer.
const PAIRS: usize = 80;
/// A rival of at least this share of the best's score is as likely.
const ALIKE: f64 = 0.95;
/// Fewest of the line that must be seen.
const SEEN: f64 = 0.4;

/// What an edge's softness leaves open of a line's direction, as a share of its blur: less than of its place, since what
/// moves an edge alike along the whole line turns nothing. This, the next and [`LOST`] found on made-up pictures; these two for
/// a line of [`USUAL`] length, for on a longer one what moves an edge here and there averages out.
const SOFT: f64 = 0.03;
/// What pixels, noise and JPEG leave of it however clear the edges are, pixels.
const ALWAYS: f64 = 0.08;
/// How far a line goes for which that was found, pixels.
const USUAL: f64 = 150.0;
/// How what an edge's softness leaves open grows with the square of the share of the line on which the edges were not
/// found: where a far leg, a tyre or a wall of the tube's own colour hides an edge, what is found beside it is less trusted
/// too. No length averages that out.
const LOST: f64 = 1.2;

/// So much further than tapped a tube is followed at either end, as a share of the line.
const FURTHER: f64 = 0.4;
/// An edge goes on where one is found so near to its line, pixels for each of smoothing; a thicker part of the tube is
/// further out.
const GOES_ON: f64 = 0.6;
/// Pixels along it over which an edge may be lost before the tube counts as ended.
const GAP: usize = 5;

/// How far from the edge changes are looked for, round by round, and whether in light instead of the picture's own values.
const ROUNDS: [(f64, bool); 5] = [(5.0, false), (4.0, false), (3.0, true), (3.0, true), (3.0, true)];

/// The line's own axes: along it from its first end, and across it.
#[derive(Debug, Clone, Copy)]
struct Axes {
    from: Pixel,
    along: [f64; 2],
    length: f64,
}

impl Axes {
    fn place(&self, s: f64, t: f64) -> Pixel {
        let ([x, y], [dx, dy]) = (self.from, self.along);
        [x + s * dx - t * dy, y + s * dy + t * dx]
    }

    fn across(&self) -> [f64; 2] {
        let [dx, dy] = self.along;
        [-dy, dx]
    }
}

/// A straight edge: how far across it is at the line's two ends, pixels, and how well it stands out.
#[derive(Debug, Clone, Copy)]
struct Straight {
    ends: [f64; 2],
    brighter: bool,
    support: f64,
}

impl Straight {
    fn middle(&self) -> f64 {
        self.at(0.5)
    }

    /// How far across it is at a share of the line, which may lie beyond its ends.
    fn at(&self, share: f64) -> f64 {
        let [a, b] = self.ends;
        a + share * (b - a)
    }
}

/// How much the same a tube is along its length, 0 to 1: what is seen beside a tube changes, the tube does not.
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

/// Finds both edges of a tube along which a rough line was drawn, and the middle line between them.
///
/// Every straight edge near the line is tried; of the pairs that are as wide as the tube may be, the one that stands out
/// best near the line is refined as [`super::snap_tyre`] does, each side by itself and then both as one tube. The edges
/// may be of different contrast, and of the same sign, as between light and dark ground.
///
/// # Errors
/// [`SnapFailure`], with what to do about it.
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
    // Smoothed as far as the tube's width allows: pictures of more pixels are softer and noisier by pixels.
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
    // After the blur: of a soft edge little is found, and a plainer background would not mend that.
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

fn axes(grey: &Grey, tube: &Tube) -> Result<Axes, SnapFailure> {
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

/// How good a pair is; `None` where it is no tube.
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

/// Every straight edge near the line that stands out, best first.
fn straights(grey: &Grey, axes: &Axes, room: f64, window: f64, off: f64) -> Vec<Straight> {
    let scale = Scale::encoded();
    let step = (room / 60.0).max(0.75);
    let out = ((room / step).ceil() as usize).min(120);
    let across = 2 * out + 1;
    let wide = ((window / step).round() as usize).max(1);
    // Brightness in rows along the line, each value over `wide` steps to either side.
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

/// Takes an edge unless a better one of its sign is near; those near that are worse go.
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
    /// All changes of the last round.
    spots: Vec<Spot>,
    share: f64,
}

/// The tube as far as both its edges go on beyond the ends that were tapped: the longer the line, the better its direction is
/// known.
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

/// The edge on the changes of brightness along it: the unknowns are how far across it is at the line's ends.
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
