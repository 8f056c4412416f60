//! What is known beforehand of phones, floors and hands.

/// Standard uncertainties that hold before anything was read.
///
/// The defaults are our own, from workshop habit unless a source is named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Zero of each axis of the sensor, m/s². M: data sheets of telephone accelerometers state a zero offset of about
    /// 20 to 40 mg after soldering; makers and systems trim most of it away, 10 mg are left.
    pub zero: f64,
    /// How much a zero wanders from one day to another, m/s². M: about 0.2 to 1 mg per kelvin, some ten kelvin.
    pub wander: f64,
    /// Scale of each axis, a fraction. M: one percent untrimmed.
    pub scale: f64,
    /// Angle of the sensor to the phone's edge in each direction, cross-axis sensitivity included, degrees. P.
    pub edge: f64,
    /// How straight the edge is laid on, one reading to the next, degrees. P.
    pub laying: f64,
    /// Slope of the floor along the bike, degrees. P: floors that are drained fall by 1 to 2 in a hundred.
    pub floor: f64,
    /// How exactly the turned bike stands where it stood, degrees of its angle. P.
    pub standing: f64,
    /// Lean of a bike held upright by eye, degrees. P.
    pub lean: f64,
    /// How flat the phone's back lies on a rim, degrees. P.
    pub rim: f64,
    /// Local gravity, m/s², about [`GRAVITY`]. F: the normal gravity of the Geodetic Reference System 1980 runs from
    /// 9.780 at the equator to 9.832 at the poles (H. Moritz 2000, J. Geodesy 74:128), a rectangular spread.
    pub gravity: f64,
    /// What the length of a sample does beyond zero and scale, m/s². P: curvature of the scale, cross-axis terms.
    pub length: f64,
}

/// The middle of normal gravity on the ground, m/s².
pub(super) const GRAVITY: f64 = 9.806;

impl Default for Known {
    fn default() -> Self {
        Self {
            zero: 0.1,
            wander: 0.05,
            scale: 0.005,
            edge: 0.2,
            laying: 0.1,
            floor: 1.0,
            standing: 0.05,
            lean: 2.0,
            rim: 0.2,
            gravity: 0.015,
            length: 0.01,
        }
    }
}

impl Known {
    /// Whether every figure is finite and above zero, so that a fit has no singular weight.
    pub fn is_sound(&self) -> bool {
        let Self { zero, wander, scale, edge, laying, floor, standing, lean, rim, gravity, length } = *self;
        [zero, wander, scale, edge, laying, floor, standing, lean, rim, gravity, length]
            .into_iter()
            .all(|u| u.is_finite() && u > 0.0)
    }
}
