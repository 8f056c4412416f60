//! The least clearance between a tilted steerer and the head tube.

use super::profile::along;
use super::{ClearanceError, HeadTube, Profile, Steerer, not_negative};
use crate::headset::End;
use crate::tilt::Offsets;
use serde::{Deserialize, Serialize};

/// Front or rear side of the head tube.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Towards the front wheel.
    Front,
    /// Towards the rider.
    Rear,
}

impl Side {
    /// Both sides, the front first.
    pub const BOTH: [Self; 2] = [Self::Front, Self::Rear];

    /// "front" or "rear".
    pub fn name(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Rear => "rear",
        }
    }

    /// The side towards which `x` (forward positive) points; the front for zero.
    pub fn of(x: f64) -> Self {
        if x < 0.0 { Self::Rear } else { Self::Front }
    }

    /// +1 to the front, -1 to the rear.
    pub fn sign(self) -> f64 {
        match self {
            Self::Front => 1.0,
            Self::Rear => -1.0,
        }
    }
}

/// Clearance at one corner of the profiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Height above the bottom face, mm.
    pub z: f64,
    /// The side.
    pub side: Side,
    /// Radial clearance there, mm; negative: the parts overlap.
    pub clearance: f64,
}

/// The least clearance, its position, and the material to remove for the running clearance.
#[derive(Debug, Clone, PartialEq)]
pub struct Clearance {
    /// Least radial clearance, mm; negative: steerer and head tube overlap.
    pub least: f64,
    /// Its height above the bottom face, mm.
    pub at_z: f64,
    /// Its side.
    pub side: Side,
    /// The half of the head tube in which it occurs.
    pub end: End,
    /// Material to remove from the tube's wall there, on that side alone, for the running clearance, mm; 0 if none.
    pub relieve_mm: f64,
    /// Diameter to bore the tube to there, about its own axis, for the running clearance, mm.
    pub bore_to_mm: f64,
    /// Clearance at every corner of both profiles, from the bottom up; linear between two neighbours of one side.
    pub corners: Vec<Corner>,
}

/// Clearance on both sides at one height, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClearanceAt {
    /// Towards the front wheel.
    pub front: f64,
    /// Towards the rider.
    pub rear: f64,
}

/// One circle of the steerer's profile: its centre in the side view, and its radius.
struct Circle {
    x: f64,
    z: f64,
    radius: f64,
}

/// The tilted steerer in the head tube's coordinates.
struct Outline {
    sin: f64,
    cos: f64,
    circles: Vec<Circle>,
}

impl Outline {
    fn new(steerer: &Steerer, offsets: &Offsets, length: f64) -> Result<Self, ClearanceError> {
        let span = offsets.span(length)?;
        let (sin, cos) = offsets.total().atan2(span).sin_cos();
        // The crown race seat is `lower_stack` below the bottom face along the steerer, so it is this far below the
        // lower bearing's centre.
        let below = steerer.lower_stack() - offsets.lower_plane;
        let place = |s: f64| (offsets.lower - (s - below) * sin, (s - below) * cos - offsets.lower_plane);
        let points = steerer.profile().points();
        let thickest = points.iter().fold(0.0, |most: f64, &(_, radius)| most.max(radius));
        // Far enough beyond both faces to contain a whole horizontal cut there.
        let beyond = (2.0 * length + thickest + offsets.lower_plane.abs()) / cos;
        let ends = |point: Option<&(f64, f64)>, s: f64, outside: fn(f64, f64) -> bool| {
            point.filter(|&&(at, _)| outside(s, at)).map(|&(_, radius)| (s, radius))
        };
        let first = ends(points.first(), below - beyond, |s, at| s < at);
        let last = ends(points.last(), below + beyond, |s, at| s > at);
        let circles = first.into_iter().chain(points.iter().copied()).chain(last).map(|(s, radius)| {
            let (x, z) = place(s);
            Circle { x, z, radius }
        });
        let circles: Vec<_> = circles.collect();
        if !circles.iter().all(|circle| circle.x.is_finite() && circle.z.is_finite()) {
            return Err(ClearanceError::NotFinite("the steerer's place in the head tube"));
        }
        Ok(Self { sin, cos, circles })
    }

    /// The edge on one side as a polyline of (height, reach from the head tube's axis towards that side).
    fn edge(&self, side: Side) -> Vec<(f64, f64)> {
        let sign = side.sign();
        let edge = |circle: &Circle| {
            (circle.z + sign * circle.radius * self.sin, sign * circle.x + circle.radius * self.cos)
        };
        self.circles.iter().map(edge).collect()
    }

    /// The points outside the side view where a circle has less clearance than in it: within its slant height of the
    /// crossing of both axes, and where it passes a step of the tube.
    fn beside_the_side_view(&self, stretch: &Profile) -> Vec<(Corner, f64)> {
        const STEPS: u32 = 32;
        let [low, high] = stretch.extent();
        let least = |circle: &Circle| {
            let height = circle.radius * self.sin;
            if circle.z + height.abs() < low || circle.z - height.abs() > high {
                return None;
            }
            let regular = (0..=STEPS).map(|step| f64::from(step) * (2.0 / f64::from(STEPS)) - 1.0);
            let regular = regular.map(|forward| (forward, circle.z + height * forward));
            // The tube's corners are sampled at their exact height: next to a step the wider radius would be used.
            let at_corners = stretch.points().iter().map(|&(z, _)| ((z - circle.z) / height, z));
            let all = regular.chain(at_corners.filter(|(forward, _)| forward.abs() < 1.0));
            let all = all.filter_map(|(forward, z)| {
                let x = circle.x + circle.radius * self.cos * forward;
                let across = circle.radius * (1.0 - forward * forward).max(0.0).sqrt();
                let reach = x.hypot(across);
                let clearance = stretch.narrowest_at(z)? - reach;
                Some((forward, Corner { z, side: Side::of(x), clearance }, reach))
            });
            let (forward, corner, reach) =
                all.min_by(|(_, a, _), (_, b, _)| a.clearance.total_cmp(&b.clearance))?;
            // The foremost and rearmost points are on the edge, which is handled separately.
            (forward.abs() < 1.0).then_some((corner, reach))
        };
        self.circles.iter().filter_map(least).collect()
    }
}

/// Every corner of one stretch with its reach from the head tube's axis.
fn corners(outline: &Outline, stretch: &Profile) -> Vec<(Corner, f64)> {
    let mut found = outline.beside_the_side_view(stretch);
    for side in Side::BOTH {
        let edge = outline.edge(side);
        for &(z, reach) in &edge {
            if let Some(radius) = stretch.narrowest_at(z) {
                found.push((Corner { z, side, clearance: radius - reach }, reach));
            }
        }
        for &(z, radius) in stretch.points() {
            if let Some(reach) = along(&edge, z).reduce(f64::max) {
                found.push((Corner { z, side, clearance: radius - reach }, reach));
            }
        }
    }
    found
}

/// The least radial clearance between this steerer and this head tube when tilted by this kit. `running_clearance` (mm)
/// is the required minimum.
///
/// # Errors
/// Offsets that define no axis in this head tube, a negative running clearance, or a number that is not finite.
pub fn clearance(
    head_tube: &HeadTube,
    steerer: &Steerer,
    offsets: &Offsets,
    running_clearance: f64,
) -> Result<Clearance, ClearanceError> {
    not_negative(running_clearance, "running clearance")?;
    let outline = Outline::new(steerer, offsets, head_tube.length())?;
    let found = head_tube.stretches().iter().flat_map(|stretch| corners(&outline, stretch));
    let mut found: Vec<_> = found.collect();
    found.sort_by(|(a, _), (b, _)| {
        a.z.total_cmp(&b.z).then(a.side.cmp(&b.side)).then(a.clearance.total_cmp(&b.clearance))
    });
    let Some(&(least, reach)) = found.iter().min_by(|(a, _), (b, _)| a.clearance.total_cmp(&b.clearance))
    else {
        return Err(ClearanceError::Order);
    };
    let bore_to_mm = 2.0 * (reach + running_clearance);
    if !(least.clearance.is_finite() && bore_to_mm.is_finite()) {
        return Err(ClearanceError::NotFinite("the room"));
    }
    let mut corners: Vec<_> = found.into_iter().map(|(corner, _)| corner).collect();
    corners.dedup();
    Ok(Clearance {
        least: least.clearance,
        at_z: least.z,
        side: least.side,
        end: if least.z < head_tube.length() / 2.0 { End::Lower } else { End::Upper },
        relieve_mm: (running_clearance - least.clearance).max(0.0),
        bore_to_mm,
        corners,
    })
}

/// Clearance on both sides at one height `z` (mm above the bottom face); `None` where the head tube is not known.
///
/// # Errors
/// As [`clearance`].
pub fn clearance_at(
    head_tube: &HeadTube,
    steerer: &Steerer,
    offsets: &Offsets,
    z: f64,
) -> Result<Option<ClearanceAt>, ClearanceError> {
    super::finite(z, "the height")?;
    let outline = Outline::new(steerer, offsets, head_tube.length())?;
    let reach = |side| along(&outline.edge(side), z).reduce(f64::max);
    let known = (head_tube.narrowest_at(z), reach(Side::Front), reach(Side::Rear));
    Ok(match known {
        (Some(radius), Some(front), Some(rear)) => {
            Some(ClearanceAt { front: radius - front, rear: radius - rear })
        }
        _ => None,
    })
}
