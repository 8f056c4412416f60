//! The change of an angle between two sessions of one bike.

use super::session::fit;
use super::{Level, LevelError, LevelPriors, Session};
use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::Estimate;

/// Whether both sessions used one phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phones {
    /// One phone: common errors, with some drift of the zero offsets.
    Same,
    /// Two phones: no common errors.
    Different,
}

/// Two sessions and their difference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AngleChange {
    /// The first session.
    pub before: Level,
    /// The second.
    pub after: Level,
    /// After minus before, degrees.
    pub change: Estimate,
    /// Correlation of the errors of the two angles.
    pub correlation: f64,
}

/// Adjusts both sessions at once.
///
/// With one phone, misalignment, scales and zero offsets of its sensor are common unknowns, except that the zero
/// offsets may drift by [`LevelPriors::wander`]. Floors, leans and handling are not common. The errors of the two
/// angles correlate, and `u(change)^2 = u1^2 + u2^2 - 2 r u1 u2` (JCGM 100:2008, 5.2.2).
///
/// # Errors
/// As for one session, or sessions of different angles.
pub fn change(
    before: &Session,
    after: &Session,
    phones: Phones,
    known: &LevelPriors,
) -> Result<AngleChange, LevelError> {
    if before.what != after.what {
        return Err(LevelError::DifferentAngles);
    }
    if phones == Phones::Different {
        let (before, after) = (before.level(known)?, after.level(known)?);
        return Ok(AngleChange { change: after.angle - before.angle, before, after, correlation: 0.0 });
    }
    let (levels, covariance) = fit(&[before, after], known)?;
    let ([before, after], [[a, ab], [_, b]]) = (
        <[Level; 2]>::try_from(levels).map_err(|_| LevelError::NoAnswer)?,
        square(&covariance).ok_or(LevelError::NoAnswer)?,
    );
    let change = Estimate::new(after.angle.value - before.angle.value, (a + b - 2.0 * ab).sqrt());
    if !change.is_sound() {
        return Err(LevelError::NoAnswer);
    }
    Ok(AngleChange { before, after, change, correlation: ab / (a * b).sqrt() })
}

fn square(rows: &[Vec<f64>]) -> Option<[[f64; 2]; 2]> {
    let [first, second] = rows else { return None };
    Some([<[f64; 2]>::try_from(first.as_slice()).ok()?, <[f64; 2]>::try_from(second.as_slice()).ok()?])
}
