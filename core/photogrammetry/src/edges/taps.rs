//! Rough taps of a marks file placed on the picture's edges.

use super::coarse::circle;
use super::instead::{Instead, other_lines, overlay};
use super::parallels::{Leg, snap_parallels};
use super::{Grey, Sharpness, SnapFailure, SnappedLine, Tube, snap_line, snap_tyre};
use crate::measure::{Ellipse, Line, Marks, PhotoMeasurement, Pixel, Wheel, WheelEnd, measure};
use serde::Serialize;
use std::fmt;
use steerwright_drawing::Drawing;
use steerwright_metrology::quantity::{Estimate, Quantity, quantity_info};
use steerwright_photo::Pixels;

/// The tapped part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "part", rename_all = "snake_case")]
pub enum Tapped {
    /// A tyre.
    Tyre {
        /// Which wheel.
        wheel: WheelEnd,
    },
    /// A stanchion.
    Stanchion {
        /// Number of the line in the marks file, from 1.
        line: usize,
    },
    /// The seat tube.
    SeatTube,
}

impl fmt::Display for Tapped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tyre { wheel } => write!(f, "{wheel} tyre"),
            Self::Stanchion { line } => write!(f, "stanchion line {line}"),
            Self::SeatTube => f.write_str("seat tube"),
        }
    }
}

/// Quality of placed taps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Confidence that the edge is the intended one, 0 to 1.
    pub sure: f64,
    /// Standard deviation of the marks that replaced the taps, pixels of the marked picture.
    pub noise_px: f64,
    /// Share of the outline or line on which the edge was found, 0 to 1.
    pub share: f64,
    /// Sharpness of the edge, in pixels of the searched picture.
    pub sharpness: Sharpness,
}

impl fmt::Display for Placed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "found on {:.0} % of it, to {:.2} pixels; {:.0} % sure",
            100.0 * self.share,
            self.noise_px,
            100.0 * self.sure
        )
    }
}

/// Outcome for the taps on one part.
#[derive(Debug, Clone, PartialEq)]
pub struct Snap {
    /// The part.
    pub what: Tapped,
    /// Quality of the placement, or why it failed.
    pub outcome: Result<Placed, SnapFailure>,
    /// Lines to tap instead where a leg was not placed, those whose edges are seen first.
    pub instead: Vec<Instead>,
}

impl Snap {
    fn new(what: Tapped, outcome: Result<Placed, SnapFailure>) -> Self {
        Self { what, outcome, instead: Vec::new() }
    }
}

/// Marks after their rough taps were placed.
#[derive(Debug, Clone, PartialEq)]
pub struct SnappedMarks {
    /// The marks: those placed are no longer rough, the others are unchanged.
    pub marks: Marks,
    /// Outcome for each rough part: front tyre, rear tyre, stanchions, seat tube.
    pub snaps: Vec<Snap>,
}

impl SnappedMarks {
    /// The first part that was not placed, and why.
    pub fn refused(&self) -> Option<(Tapped, SnapFailure)> {
        self.snaps.iter().find_map(|snap| snap.outcome.err().map(|why| (snap.what, why)))
    }

    /// What to tap instead, in a sentence for each line, those whose edges are seen first.
    pub fn way_on(&self) -> Vec<String> {
        self.snaps.iter().flat_map(|snap| &snap.instead).map(|it| format!("{}.", it.what)).collect()
    }

    /// The lines to tap instead, over the picture; `None` if there are none.
    pub fn overlay(&self) -> Option<Drawing> {
        let legs = self.snaps.iter().filter(|snap| !snap.instead.is_empty());
        let tapped: Vec<(String, [Pixel; 2])> = legs
            .clone()
            .filter_map(|snap| {
                let Tapped::Stanchion { line } = snap.what else { return None };
                let points = &self.marks.stanchions.get(line.checked_sub(1)?)?.points;
                Some((snap.what.to_string(), [*points.first()?, *points.last()?]))
            })
            .collect();
        let instead: Vec<Instead> = legs.flat_map(|snap| &snap.instead).copied().collect();
        (!instead.is_empty()).then(|| overlay(self.marks.image, &tapped, &instead))
    }
}

/// Range of stanchion diameters, mm: common practice, no source. Their nominal diameters run from 28 to 40.
const STANCHION: [f64; 2] = [27.0, 43.0];
/// A line that differs from the axis that the other marks tell, or from the edges along the legs, by more than this many
/// standard uncertainties and degrees is another thing's.
const CONTRADICTS: (f64, f64) = (3.0, 0.1);
/// Range of seat tube diameters, mm: common practice, no source.
const SEAT_TUBE: [f64; 2] = [26.0, 46.0];
/// Standard deviation of a rough line, mm: within the tapped part; and the least one, as a share of the picture's height:
/// a finger's tip on a phone's screen.
const OFF: f64 = 6.0;
const OFF_SHARE: f64 = 0.004;
/// What is thinner than any leg, mm: hoses, cables, spokes, and the gaps between them and a leg.
const THIN: f64 = 7.0;

/// The steering axis as far as the other marks determine it.
struct Axis {
    seen: PhotoMeasurement,
    head: Estimate,
}

impl Axis {
    /// From marks whose tyres were placed; `None` if they determine no axis without lines.
    fn new(marks: &Marks) -> Option<Self> {
        let marks = Marks { stanchions: Vec::new(), seat_tube: None, ..marks.clone() };
        let seen = measure(&marks).ok()?;
        let head = seen.get(Quantity::HeadAngle)?;
        Some(Self { seen, head })
    }

    /// The direction in the picture of a line parallel to the axis through the middle of these points, and its u,
    /// radians. It does not depend on the line's distance from the plane: all such lines meet in one vanishing point.
    fn at(&self, points: &[Pixel]) -> Option<[f64; 2]> {
        let n = points.len().max(1) as f64;
        let middle = points.iter().fold([0.0, 0.0], |[x, y], it| [x + it[0] / n, y + it[1] / n]);
        let [x, y] = self.seen.plane.place(middle)?;
        let (sin, cos) = libm::sincos(self.head.value.to_radians());
        let [ax, ay] = self.seen.pixel([x - 50.0 * cos, y + 50.0 * sin])?;
        let [bx, by] = self.seen.pixel([x + 50.0 * cos, y - 50.0 * sin])?;
        let u = self.head.u.to_radians();
        Some([libm::atan2(by - ay, bx - ax), u])
    }
}

/// Places all rough marks on the edges of their picture. `pixels` is the whole upright picture to which the marks
/// belong, at any scale. Marks that are not rough are unchanged. `None` for inconsistent pixel data.
pub fn snap_taps_in_colour(marks: &Marks, pixels: &Pixels) -> Option<SnappedMarks> {
    let grey = &Grey::of(pixels)?;
    let scale = [
        f64::from(grey.width()) / f64::from(marks.image.width.max(1)),
        f64::from(grey.height()) / f64::from(marks.image.height.max(1)),
    ];
    let view = View { grey, colours: pixels, scale };
    let mut placed = marks.clone();
    let mut snaps = Vec::new();
    for (end, wheel) in [(WheelEnd::Front, &mut placed.front), (WheelEnd::Rear, &mut placed.rear)] {
        if wheel.rough {
            snaps.push(Snap::new(Tapped::Tyre { wheel: end }, view.tyre(wheel)));
        }
    }
    let to_mm = mm(&placed);
    let axis = Axis::new(&placed);
    let around = Marks { stanchions: Vec::new(), ..placed.clone() };
    for (i, line) in placed.stanchions.iter_mut().enumerate() {
        if line.rough {
            let outcome = view.leg(line, to_mm, axis.as_ref());
            let instead = match outcome {
                Ok(_) => Vec::new(),
                Err(_) => view.instead(line, &around, to_mm, axis.as_ref()),
            };
            snaps.push(Snap { what: Tapped::Stanchion { line: i + 1 }, outcome, instead });
        }
    }
    if let Some(line) = placed.seat_tube.as_mut().filter(|line| line.rough) {
        snaps.push(Snap::new(Tapped::SeatTube, view.line(line, to_mm, SEAT_TUBE)));
    }
    Some(SnappedMarks { marks: placed, snaps })
}

/// Approximate pixels of the marked picture per millimetre, from the front wheel or else the rear.
fn mm(marks: &Marks) -> Option<f64> {
    let wheels = [(&marks.front, Quantity::FrontTyreDiameter), (&marks.rear, Quantity::RearTyreDiameter)];
    wheels.into_iter().find_map(|(wheel, what)| {
        let [low, high] = quantity_info(what).plausible;
        let usual = quantity_info(what).expected.map_or(f64::midpoint(low, high), |[value, _]| value);
        let diameter = wheel.diameter_mm.map_or(usual, |it| it.value);
        let radius = match Ellipse::direct(&wheel.tyre) {
            Some(ellipse) if !wheel.rough => ellipse.major,
            _ => circle(&wheel.tyre)?.radius,
        };
        Some(2.0 * radius / diameter).filter(|it| it.is_finite() && *it > 0.0)
    })
}

/// A picture and its scale: its pixels per pixel of the marked picture.
struct View<'g> {
    grey: &'g Grey,
    /// The same picture in colour.
    colours: &'g Pixels,
    scale: [f64; 2],
}

/// Direction of a placed line in the picture, radians, and its u.
fn direction(line: &Line) -> Option<[f64; 2]> {
    let ([ax, ay], [bx, by]) = (line.points.first()?, line.points.last()?);
    let length = libm::hypot(bx - ax, by - ay);
    Some([libm::atan2(by - ay, bx - ax), line.noise_px? * std::f64::consts::SQRT_2 / length])
}

/// Whether a line runs as expected, if anything is.
fn agrees(line: &Line, expected: Option<[f64; 2]>) -> bool {
    let (Some([own, own_u]), Some([angle, u])) = (direction(line), expected) else { return true };
    let turn = std::f64::consts::PI;
    let off = (own - angle + turn / 2.0).rem_euclid(turn) - turn / 2.0;
    let (sigmas, degrees) = CONTRADICTS;
    off.abs() < sigmas * libm::hypot(u, own_u) + degrees.to_radians()
}

impl View<'_> {
    fn there(&self, [x, y]: Pixel) -> Pixel {
        let [across, down] = self.scale;
        [x * across, y * down]
    }

    fn back(&self, [x, y]: Pixel) -> Pixel {
        let [across, down] = self.scale;
        [x / across, y / down]
    }

    fn size(&self) -> f64 {
        let [across, down] = self.scale;
        (across * down).sqrt()
    }

    fn tyre(&self, wheel: &mut Wheel) -> Result<Placed, SnapFailure> {
        let taps: Vec<Pixel> = wheel.tyre.iter().map(|tap| self.there(*tap)).collect();
        let found = snap_tyre(self.grey, &taps)?;
        let noise_px = self.noise(found.noise_px);
        let placed = Placed { sure: found.sure, noise_px, share: found.share, sharpness: found.sharpness };
        wheel.tyre = found.marks.iter().map(|mark| self.back(*mark)).collect();
        wheel.rough = false;
        wheel.noise_px = Some(noise_px);
        Ok(placed)
    }

    /// Taps along a leg of the fork: the direction of the edges along it.
    fn leg(&self, line: &mut Line, to_mm: Option<f64>, axis: Option<&Axis>) -> Result<Placed, SnapFailure> {
        let expected = axis.and_then(|axis| axis.at(&line.points));
        let scale = to_mm.ok_or(SnapFailure::NoShape)? * self.size();
        let (mut two, mut every) = (line.clone(), line.clone());
        // Both edges of one leg tell its direction best. Every edge that runs along the legs tells it where those two are
        // not seen, or where the pair is something else's.
        let pair = self.line(&mut two, to_mm, STANCHION);
        let all = self.placed(&mut every, to_mm, STANCHION, |grey, tube| {
            let off = tube.off.max(OFF_SHARE * f64::from(self.grey.height()));
            snap_parallels(grey, &Leg { tube: Tube { off, ..*tube }, thin: THIN * scale, expected })
        });
        let doubted = !agrees(&two, expected);
        let (placed, outcome) = match (pair, all) {
            (Ok(it), Ok(_)) if !doubted && agrees(&two, direction(&every)) => (two, Ok(it)),
            (_, Ok(it)) => (every, Ok(it)),
            (Ok(it), Err(_)) if !doubted => (two, Ok(it)),
            (_, Err(why)) => return Err(why),
        };
        *line = placed;
        outcome
    }

    /// What to tap instead of a leg that was not placed. Each line is tried, so that one on which edges are seen comes
    /// first.
    fn instead(&self, tapped: &Line, marks: &Marks, to_mm: Option<f64>, axis: Option<&Axis>) -> Vec<Instead> {
        let (Some(scale), [Some(from), Some(to)]) = (to_mm, [tapped.points.first(), tapped.points.last()])
        else {
            return Vec::new();
        };
        let mut found: Vec<Instead> = other_lines([*from, *to], marks, scale)
            .into_iter()
            .map(|(what, ends)| {
                let mut line = Line { points: ends.to_vec(), ..tapped.clone() };
                Instead { what, ends, seen: self.leg(&mut line, to_mm, axis).is_ok() }
            })
            .collect();
        found.sort_by_key(|it| !it.seen);
        found
    }

    fn line(&self, line: &mut Line, to_mm: Option<f64>, wide: [f64; 2]) -> Result<Placed, SnapFailure> {
        self.placed(line, to_mm, wide, |grey, tube| {
            let found = snap_line(grey, tube)?;
            let worth = found.sure * found.contrast;
            Ok((found, worth))
        })
    }

    /// Places a line by the channel in which it is worth most; if it is found in none, the failure from brightness is
    /// returned.
    fn placed(
        &self,
        line: &mut Line,
        to_mm: Option<f64>,
        wide: [f64; 2],
        snap: impl Fn(&Grey, &Tube) -> Result<(SnappedLine, f64), SnapFailure>,
    ) -> Result<Placed, SnapFailure> {
        let to_mm = to_mm.ok_or(SnapFailure::NoShape)? * self.size();
        let [Some(from), Some(to)] = [line.points.first(), line.points.last()] else {
            return Err(SnapFailure::TooFewTaps { taps: line.points.len(), needed: 2 });
        };
        let tube = Tube {
            from: self.there(*from),
            to: self.there(*to),
            wide: wide.map(|wide| wide * to_mm),
            off: OFF * to_mm,
        };
        let (found, _) = self.in_colours(&tube, &snap).into_iter().fold(
            snap(self.grey, &tube),
            |best, it| match best {
                Ok(best) if best.1 >= it.1 => Ok(best),
                _ => Ok(it),
            },
        )?;
        let noise_px = self.noise(found.noise_px);
        let placed = Placed { sure: found.sure, noise_px, share: found.share, sharpness: found.sharpness };
        line.points = found.ends.iter().map(|end| self.back(*end)).collect();
        line.rough = false;
        line.noise_px = Some(noise_px);
        Ok(placed)
    }

    /// The line as found in red, green and blue. Only the part of the picture around it is searched, since splitting a
    /// large picture into channels takes longer than the search.
    fn in_colours(
        &self,
        tube: &Tube,
        snap: impl Fn(&Grey, &Tube) -> Result<(SnappedLine, f64), SnapFailure>,
    ) -> Vec<(SnappedLine, f64)> {
        let pixels = self.colours;
        let [_, wide] = tube.wide;
        let (Tube { from: [ax, ay], to: [bx, by], .. }, width, height) = (*tube, pixels.width, pixels.height);
        // A line is followed beyond its ends.
        let room = 2.0 * wide + 4.0 * tube.off + 40.0 + 0.5 * libm::hypot(bx - ax, by - ay);
        let within = |a: f64, b: f64, side: u32| {
            // The float cast saturates, so the range stays inside the picture whatever was tapped.
            let (from, to) = ((a.min(b) - room) as u32, (a.max(b) + room).ceil() as u32);
            let from = from.min(side);
            (from, to.clamp(from, side) - from)
        };
        let ((left, width), (top, height)) = (within(ax, bx, width), within(ay, by, height));
        let (dx, dy) = (f64::from(left), f64::from(top));
        let part = Tube { from: [ax - dx, ay - dy], to: [bx - dx, by - dy], ..*tube };
        let colours = Grey::colours(pixels, [left, top], [width, height]).into_iter().flatten();
        let found = colours.filter_map(|colour| snap(&colour, &part).ok());
        found
            .map(|(mut it, worth)| {
                let places = it.ends.iter_mut().chain(it.edges.iter_mut().map(|edge| &mut edge.at));
                places.for_each(|[x, y]| (*x, *y) = (*x + dx, *y + dy));
                (it, worth)
            })
            .collect()
    }

    /// A standard deviation in pixels of the marked picture, clamped to the range that a marks file accepts.
    fn noise(&self, noise_px: f64) -> f64 {
        (noise_px / self.size()).clamp(0.01, 100.0)
    }
}
