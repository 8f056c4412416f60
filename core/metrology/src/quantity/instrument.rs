//! Measuring instruments and their accuracy.

use super::{Dimension, Estimate, Quantity};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::LazyLock;

/// The instrument or source of a reading.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Instrument {
    /// Sliding caliper.
    Caliper,
    /// Bore gauge or inside micrometer.
    BoreGauge,
    /// Rigid steel rule.
    SteelRule,
    /// Tape measure.
    Tape,
    /// A phone as an inclinometer, its edge on the part.
    PhoneLevel,
    /// Digital angle finder.
    AngleFinder,
    /// A figure printed by the maker of the frame, fork or tyre.
    MakerSheet,
    /// Read from a photo with marks.
    Photo,
    /// Estimated by eye.
    Eye,
}

impl Instrument {
    /// Every instrument.
    pub const ALL: [Self; 9] = [
        Self::Caliper,
        Self::BoreGauge,
        Self::SteelRule,
        Self::Tape,
        Self::PhoneLevel,
        Self::AngleFinder,
        Self::MakerSheet,
        Self::Photo,
        Self::Eye,
    ];

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Caliper => "caliper",
            Self::BoreGauge => "bore_gauge",
            Self::SteelRule => "steel_rule",
            Self::Tape => "tape",
            Self::PhoneLevel => "phone_level",
            Self::AngleFinder => "angle_finder",
            Self::MakerSheet => "maker_sheet",
            Self::Photo => "photo",
            Self::Eye => "eye",
        }
    }
}

impl fmt::Display for Instrument {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// Expanded uncertainty (coverage factor 2) of one instrument's readings; absent for a dimension that it cannot
/// measure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InstrumentAccuracy {
    /// For lengths, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plus_minus_mm: Option<f64>,
    /// For diameters of parts and holes, mm; absent: as `plus_minus_mm`. A scale laid across something round misses
    /// the widest place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub round_mm: Option<f64>,
    /// For angles, degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plus_minus_deg: Option<f64>,
    /// Source of the numbers.
    pub source: String,
}

/// The table of instruments. A user may supply another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(transparent)]
pub struct Instruments(pub BTreeMap<Instrument, InstrumentAccuracy>);

impl Default for Instruments {
    /// The table in `core/metrology/data/instruments.json`.
    fn default() -> Self {
        static TABLE: LazyLock<Instruments> =
            LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/instruments.json")));
        TABLE.clone()
    }
}

impl Instruments {
    /// Expanded uncertainty (coverage factor 2) of a reading of `what` with an instrument, mm or degrees. `None` if the
    /// instrument cannot measure it.
    pub fn plus_minus(&self, what: Quantity, with: Instrument) -> Option<f64> {
        let reach = self.0.get(&with)?;
        match what.dimension() {
            Dimension::Length if what.is_diameter() => reach.round_mm.or(reach.plus_minus_mm),
            Dimension::Length => reach.plus_minus_mm,
            Dimension::Angle => reach.plus_minus_deg,
        }
    }

    /// A reading as an estimate: `u` is half the expanded uncertainty. `None` if the instrument cannot measure `what`.
    pub fn estimate(&self, what: Quantity, value: f64, with: Instrument) -> Option<Estimate> {
        Some(Estimate::new(value, self.plus_minus(what, with)? / 2.0))
    }
}
