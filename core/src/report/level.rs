//! An angle read with a phone, or its change, `steerwright.level/1`.

use super::Comparison;
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::Measurement;
use steerwright_level::{AngleChange, Level, LevelError, LevelPriors, Phones, Session, change};
use steerwright_metrology::quantity::Estimate;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum LevelSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.level/1")]
    V1,
}

/// The result of reading a phone, once or before and after a change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LevelReport {
    /// The format's name and version.
    pub schema: LevelSchema,
    /// Version of the engine that computed it.
    pub engine: String,
    /// The present angle.
    pub level: Level,
    /// The angle as a row of a bike file.
    pub measurement: Measurement,
    /// The angle before the change.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Level>,
    /// Now minus before, degrees; common errors have cancelled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub change: Option<Estimate>,
    /// Correlation of the errors of now and before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correlation: Option<f64>,
    /// The change against the one predicted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<Comparison>,
}

impl LevelReport {
    fn of(level: Level) -> Self {
        Self {
            schema: LevelSchema::V1,
            engine: env!("CARGO_PKG_VERSION").to_owned(),
            measurement: level.measurement(),
            level,
            before: None,
            change: None,
            correlation: None,
            comparison: None,
        }
    }
}

/// The angle of one session.
///
/// # Errors
/// Why the readings give no angle.
pub fn level(session: &Session, known: &LevelPriors) -> Result<LevelReport, LevelError> {
    session.level(known).map(LevelReport::of)
}

/// The change between two sessions, against the change predicted (degrees) if there is one.
///
/// # Errors
/// Why the readings give no angle.
pub fn level_change(
    before: &Session,
    after: &Session,
    phones: Phones,
    known: &LevelPriors,
    foreseen: Option<Estimate>,
) -> Result<LevelReport, LevelError> {
    let AngleChange { before, after, change, correlation } = change(before, after, phones, known)?;
    let comparison =
        foreseen.and_then(|foreseen| Comparison::of_change(before.angle, after.angle, change, foreseen));
    Ok(LevelReport {
        before: Some(before),
        change: Some(change),
        correlation: Some(correlation),
        comparison,
        ..LevelReport::of(after)
    })
}
