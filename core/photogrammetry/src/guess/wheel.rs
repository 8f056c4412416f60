//! A tyre's ellipse from its centre.

use super::Slope;
use super::votes::{Centre, centres};
use crate::measure::{Ellipse, Pixel};

/// Aspect ratios (width over height) of the vote: cameras up to 35 degrees off square.
const NARROW: [f64; 5] = [1.0, 0.95, 0.9, 0.85, 0.8];
/// Radii of wheels, as shares of the picture's longer side: a bike that fills 0.35 to 1 of it.
const RADII: [f64; 2] = [0.06, 0.21];
/// Number of directions around a wheel.
const ROUND: usize = 72;
/// An edge belongs to a ring around a centre if its gradient points to the centre within this sine.
const TOWARDS: f64 = 0.2;
/// Minimum share of a circle covered by a ring of edges.
const COVERED: f64 = 0.5;

/// Minimum share of the edges near a ring that run along it; in noise it is an eighth.
const PURE: f64 = 0.3;

/// An outer ring counts if its coverage is at least this share of the inner one's and it has this purity.
const OUTER: f64 = 0.7;
const OUTER_PURE: f64 = 0.6;

/// An ellipse along which edges run.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ring {
    pub(super) ellipse: Ellipse,
    /// The share of its directions that have an edge.
    pub(super) covered: f64,
    /// The share of the edges near it that run along it.
    pub(super) pure: f64,
}

/// Rings that may be tyres' outer edges, the best covered first, each wheel once.
pub(super) fn wheels(edges: &[Slope], size: [f64; 2]) -> Vec<Ring> {
    let [width, height] = size;
    let radii = RADII.map(|share| share * width.max(height));
    let mut rings: Vec<Ring> = Vec::new();
    for narrow in NARROW {
        for centre in centres(edges, size, narrow, radii) {
            rings.extend(around(edges, centre, narrow, radii));
        }
    }
    rings.sort_by(|a, b| b.covered.total_cmp(&a.covered));
    let mut kept: Vec<Ring> = Vec::new();
    for ring in rings {
        if kept.iter().all(|other| !same(&other.ellipse, &ring.ellipse)) {
            kept.push(ring);
        }
    }
    // A tyre's inner edge and the rim are rings too, and often clearer ones.
    let within = |ring: &Ring| kept.iter().any(|other| other.is_tyre_of(ring));
    kept.iter().filter(|ring| !within(ring)).copied().collect()
}

impl Ring {
    /// Whether this may be the outer edge of the tyre whose inner edge or rim the other is.
    fn is_tyre_of(&self, inner: &Self) -> bool {
        let (a, b) = (&self.ellipse, &inner.ellipse);
        let ([ax, ay], [bx, by]) = (a.centre, b.centre);
        (1.08..1.3).contains(&(a.major / b.major))
            && libm::hypot(ax - bx, ay - by) < 0.05 * a.major
            && self.covered > OUTER * inner.covered
            && self.pure > OUTER_PURE
    }
}

fn same(one: &Ellipse, other: &Ellipse) -> bool {
    let ([ax, ay], [bx, by]) = (one.centre, other.centre);
    libm::hypot(ax - bx, ay - by) < 0.03 * one.major && (one.major - other.major).abs() < 0.03 * one.major
}

/// Edges around a centre whose gradient points to it, with radius and direction in coordinates in which the ellipse is
/// a circle.
fn facing(edges: &[Slope], centre: Centre, narrow: f64, radii: [f64; 2]) -> Vec<(f64, usize, Pixel)> {
    let [least, most] = radii;
    edges
        .iter()
        .filter_map(|edge| {
            let (x, y) = ((edge.x - centre.x) / narrow, edge.y - centre.y);
            let radius = libm::hypot(x, y);
            if !(least * 0.9..most * 1.1).contains(&radius) {
                return None;
            }
            let (dx, dy) = (edge.dx * narrow, edge.dy);
            let aside = (x * dy - y * dx).abs() / (radius * libm::hypot(dx, dy));
            (aside < TOWARDS).then(|| (radius, direction(x, y), [edge.x, edge.y]))
        })
        .collect()
}

fn direction(x: f64, y: f64) -> usize {
    let round = libm::atan2(y, x) / std::f64::consts::TAU + 0.5;
    ((round * ROUND as f64) as usize).min(ROUND - 1)
}

/// The rings around a centre: at each radius where edges go round, the best-fitting ellipse.
fn around(edges: &[Slope], centre: Centre, narrow: f64, radii: [f64; 2]) -> Vec<Ring> {
    let facing = facing(edges, centre, narrow, radii);
    let [least, most] = radii;
    // Rings a fortieth of the radius thick, overlapping by half.
    let mut at = least;
    let mut rings: Vec<(f64, f64)> = Vec::new();
    while at < most {
        let near = facing.iter().filter(|(radius, ..)| (radius - at).abs() < 0.025 * at);
        rings.push((at, covered(near.map(|(_, direction, _)| *direction))));
        at *= 1.0125;
    }
    let share = |i: usize| rings.get(i).map_or(0.0, |(_, share)| *share);
    let tops = rings.iter().enumerate().filter(|(i, (_, own))| {
        *own >= 0.8 * COVERED && *own >= share(i.wrapping_sub(1)) && *own > share(i + 1)
    });
    let points = |radius: f64| -> Vec<Pixel> {
        let near = facing.iter().filter(|(at, ..)| (at - radius).abs() < 0.035 * radius);
        near.map(|(_, _, place)| *place).collect()
    };
    tops.filter_map(|(_, (radius, _))| settle(edges, Ellipse::direct(&points(*radius))?)).collect()
}

fn covered(directions: impl Iterator<Item = usize>) -> f64 {
    let mut seen = [false; ROUND];
    for direction in directions {
        if let Some(seen) = seen.get_mut(direction) {
            *seen = true;
        }
    }
    seen.iter().filter(|seen| **seen).count() as f64 / ROUND as f64
}

/// Refits the ellipse to the edges along it, within a decreasing distance; `None` if the result is not a tyre.
fn settle(edges: &[Slope], mut ellipse: Ellipse) -> Option<Ring> {
    for room in [0.04, 0.025, 0.015, 0.015] {
        let (_, along) = along(edges, &ellipse, room * ellipse.major);
        let points: Vec<Pixel> = along.iter().map(|(_, place)| *place).collect();
        ellipse = Ellipse::direct(&points)?;
        // More than 40 degrees off square, or not finite: not a wheel of a bike seen from the side.
        if ellipse.minor < 0.72 * ellipse.major || !ellipse.major.is_finite() {
            return None;
        }
    }
    let (near, along) = along(edges, &ellipse, 0.012 * ellipse.major);
    let covered = covered(along.iter().map(|(direction, _)| *direction));
    let pure = along.len() as f64 / near.max(1) as f64;
    (covered >= COVERED && pure >= PURE).then_some(Ring { ellipse, covered, pure })
}

/// The number of edges within `room` pixels of the ellipse, and those of them that run along it.
fn along(edges: &[Slope], ellipse: &Ellipse, room: f64) -> (usize, Vec<(usize, Pixel)>) {
    let (sin, cos) = libm::sincos(ellipse.turn_deg.to_radians());
    let [cx, cy] = ellipse.centre;
    let reach = ellipse.major + room;
    let (p, q) = (ellipse.major.powi(-2), ellipse.minor.powi(-2));
    let mut near = 0;
    let along = edges
        .iter()
        .filter(|edge| (edge.x - cx).abs() < reach && (edge.y - cy).abs() < reach)
        .filter_map(|edge| {
            let (x, y) = (edge.x - cx, edge.y - cy);
            let (u, v) = (x * cos + y * sin, y * cos - x * sin);
            // Near the edge, (form - 1) over the length of its gradient is the distance.
            let (slope_u, slope_v) = (2.0 * p * u, 2.0 * q * v);
            let slope = libm::hypot(slope_u, slope_v);
            let off = (p * u * u + q * v * v - 1.0) / slope;
            let (du, dv) = (edge.dx * cos + edge.dy * sin, edge.dy * cos - edge.dx * sin);
            let aside = (slope_u * dv - slope_v * du).abs() / slope;
            near += usize::from(off.abs() < room);
            (off.abs() < room && aside < TOWARDS)
                .then(|| (direction(u / ellipse.major, v / ellipse.minor), [edge.x, edge.y]))
        })
        .collect();
    (near, along)
}
