//! The observation equations: readings as functions of bike, floor and phone.
//!
//! Unknowns of the phone: the direction of its edge in the axes of the sensor (two angles), scale and zero offset of
//! each axis, and local gravity. Of each session: the angle, the slope of the floor, the effect of the lean in both
//! headings and, from the second session on, the drift of the zero offsets. Each reading gives two observations: the
//! elevation of the edge (if it lay along the bike) and the length of gravity.

use super::known::GRAVITY;
use super::{Bearing, LevelPriors, Pose, Reading, Sample};
use steerwright_metrology::least_squares::Unknown;
use steerwright_metrology::quantity::Estimate;

/// One session prepared for the adjustment.
pub(super) struct Prepared<'a> {
    pub(super) readings: &'a [Reading],
    /// A first guess of the angle, degrees.
    pub(super) guess: f64,
    /// The effect of the lean in each heading, degrees.
    pub(super) drops: [Estimate; 2],
}

/// The phone at one point of the search.
struct Phone {
    edge: [f64; 2],
    scale: [f64; 3],
    gravity: f64,
    zero: Sample,
}

const PHONE: usize = 9;
const SESSION: usize = 4;
const WANDER: usize = 3;

/// Index of a session's angle among the unknowns; the slope follows it.
pub(super) fn place_of_angle(session: usize) -> usize {
    PHONE + session * (WANDER + SESSION)
}

/// The unknowns with their priors; a session's angle has none.
pub(super) fn unknowns(sessions: &[Prepared<'_>], known: &LevelPriors) -> Vec<Unknown> {
    let of = |start, u| Unknown { start, scale: u, prior: Some(Estimate::new(start, u)) };
    let mut all = vec![of(0.0, known.edge); 2];
    all.extend([of(0.0, known.scale); 3]);
    all.push(of(GRAVITY, known.gravity));
    all.extend([of(0.0, known.zero); 3]);
    for (place, session) in sessions.iter().enumerate() {
        if place > 0 {
            all.extend([of(0.0, known.wander); WANDER]);
        }
        all.push(Unknown { start: session.guess, scale: 1.0, prior: None });
        all.push(of(0.0, known.floor));
        all.extend(session.drops.map(|drop| of(drop.value, drop.u.hypot(known.standing))));
    }
    all
}

/// The residuals of the readings, each over its standard uncertainty; `None` if the number of unknowns does not match
/// the sessions.
pub(super) fn residuals(sessions: &[Prepared<'_>], known: &LevelPriors, at: &[f64]) -> Option<Vec<f64>> {
    let (phone, mut rest) = at.split_first_chunk::<PHONE>()?;
    let [a, b, sx, sy, sz, gravity, zx, zy, zz] = *phone;
    let mut phone = Phone { edge: [a, b], scale: [sx, sy, sz], gravity, zero: Sample::new(zx, zy, zz) };
    let first = phone.zero;
    let mut rows = Vec::new();
    for (place, session) in sessions.iter().enumerate() {
        if place > 0 {
            let ([wx, wy, wz], more) = rest.split_first_chunk::<WANDER>()?;
            phone.zero = first.plus(Sample::new(*wx, *wy, *wz));
            rest = more;
        }
        let ([angle, slope, one_way, other_way], more) = rest.split_first_chunk::<SESSION>()?;
        rest = more;
        for reading in session.readings {
            let drop = match reading.bearing {
                Bearing::OneWay => one_way,
                Bearing::OtherWay => other_way,
            };
            if reading.pose == Pose::Along {
                let shown = angle + reading.bearing.sign() * slope - drop;
                rows.push((phone.elevation(reading.still.mean) - shown) / elevation_u(reading, known));
            }
            rows.push(
                (phone.upright(reading.still.mean).length() - phone.gravity) / length_u(reading, known),
            );
        }
    }
    Some(rows)
}

/// Number of residuals of a reading.
pub(super) fn rows_of(reading: &Reading) -> usize {
    if reading.pose == Pose::Along { 2 } else { 1 }
}

impl Phone {
    /// A mean corrected for zero offset and scale of the sensor.
    fn upright(&self, mean: Sample) -> Sample {
        let [x, y, z] = self.scale;
        let force = mean.minus(self.zero);
        Sample::new(force.x / (1.0 + x), force.y / (1.0 + y), force.z / (1.0 + z))
    }

    /// Elevation of the upper end of the edge, degrees.
    fn elevation(&self, mean: Sample) -> f64 {
        let [x, z] = self.edge.map(f64::to_radians);
        let force = self.upright(mean);
        let along = x * force.x + force.y + z * force.z;
        let length = force.length() * Sample::new(x, 1.0, z).length();
        (along.abs() / length).min(1.0).asin().to_degrees()
    }
}

/// Standard uncertainty of an elevation: scatter of the samples and repeatability of laying on the phone, degrees.
fn elevation_u(reading: &Reading, known: &LevelPriors) -> f64 {
    let (mean, u) = (reading.still.mean, reading.still.u);
    let (length, level) = (mean.length(), mean.x.hypot(mean.z));
    let up = mean.y / length;
    let by = Sample::new(
        -up * mean.x / length * u.x,
        level * level / (length * length) * u.y,
        -up * mean.z / length * u.z,
    );
    (by.length() / level).to_degrees().hypot(known.laying)
}

/// Standard uncertainty of the length of a reading, m/s².
fn length_u(reading: &Reading, known: &LevelPriors) -> f64 {
    let (mean, u) = (reading.still.mean, reading.still.u);
    let by = Sample::new(mean.x * u.x, mean.y * u.y, mean.z * u.z);
    (by.length() / mean.length()).hypot(known.length)
}
