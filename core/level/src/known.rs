//! Priors on phones, floors and handling.

/// Prior standard uncertainties.
///
/// The defaults are our own, from workshop habit unless a source is named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelPriors {
    /// Zero of each axis of the sensor, m/s². M: data sheets of telephone accelerometers state a zero offset of about
    /// 20 to 40 mg after soldering; makers and systems trim most of it away, 10 mg are left.
    pub zero: f64,
    /// Drift of a zero offset from one day to another, m/s². M: about 0.2 to 1 mg per kelvin, some ten kelvin.
    pub wander: f64,
    /// Scale of each axis, a fraction. M: one percent untrimmed.
    pub scale: f64,
    /// Misalignment of the sensor to the edge of the phone about each axis, with cross-axis sensitivity, degrees. P.
    pub edge: f64,
    /// Repeatability of laying on the edge, degrees. P.
    pub laying: f64,
    /// Slope of the floor along the bike, degrees. P: floors that are drained fall by 1 to 2 in a hundred.
    pub floor: f64,
    /// Repeatability of the stance of the turned bike, degrees of its angle. P.
    pub standing: f64,
    /// Lean of a bike held upright by eye, degrees. P.
    pub lean: f64,
    /// Repeatability of laying the back of the phone on a rim, degrees. P.
    pub rim: f64,
    /// Local gravity, m/s², about [`GRAVITY`]. F: the normal gravity of the Geodetic Reference System 1980 runs from
    /// 9.780 at the equator to 9.832 at the poles (H. Moritz 2000, J. Geodesy 74:128), a rectangular spread.
    pub gravity: f64,
    /// Error of the length of a sample beyond zero and scale, m/s². P: nonlinearity, cross-axis terms.
    pub length: f64,
}

/// The middle of normal gravity on the ground, m/s².
pub(super) const GRAVITY: f64 = 9.806;

impl Default for LevelPriors {
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

impl LevelPriors {
    /// Whether every figure is finite and above zero.
    pub fn is_sound(&self) -> bool {
        let Self { zero, wander, scale, edge, laying, floor, standing, lean, rim, gravity, length } = *self;
        [zero, wander, scale, edge, laying, floor, standing, lean, rim, gravity, length]
            .into_iter()
            .all(|u| u.is_finite() && u > 0.0)
    }
}
