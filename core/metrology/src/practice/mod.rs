//! Workshop rules as numbers with their source (`core/metrology/data/practice.json`).

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The name of a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Where in a kit's head tube range easy installation begins, 0 at the short end.
    EasyFrom,
    /// Where in a kit's head tube range easy installation ends, 1 at the long end.
    EasyTo,
    /// Radial clearance around the turning steerer, mm.
    RunningClearance,
    /// The sideways lean to which the rim figure of a tilted cup refers, degrees.
    Lean,
    /// Distance of the cut end of a steerer below the top of stem or top spacer, mm.
    Recess,
    /// Greatest distance of the top of the steerer below the top of the stem, mm.
    RecessLimit,
    /// The tallest spacers under the stem of a carbon steerer, mm.
    CarbonSpacersLimit,
    /// Tolerance of the steerer diameters against those a kit is made for, mm.
    SteererSizeTolerance,
    /// The greatest enlargement of a throat, mm on the diameter.
    OpenAtMost,
    /// The greatest deepening of a bore, mm.
    DeepenAtMost,
    /// The target interference of a reamed bore, mm.
    ReamedInterference,
    /// The least gap between tyre and down tube with the fork fully compressed, mm.
    TyreGapLeast,
    /// Greatest depth of a throat below its face where the depth was not measured, mm.
    ThroatReach,
    /// Share of frames whose bore lies outside the limits of its size.
    BoreOutsideLimits,
    /// The same share where cups were pressed in and out before.
    BoreOutsideLimitsReused,
    /// Half-width within which a bearing's own dimension agrees with its part's, mm.
    SameBearing,
    /// Half-width of the height of a bearing's plane in a seat, mm.
    BearingPlane,
    /// Half-width of the sideways place of a bearing in its seat, play included, mm.
    BearingPlay,
    /// The tallest lower stack of a headset whose lower bearing sits in the frame, mm.
    LowerStackDropIn,
}

impl Rule {
    /// Every rule.
    pub const ALL: [Self; 19] = [
        Self::EasyFrom,
        Self::EasyTo,
        Self::RunningClearance,
        Self::Lean,
        Self::Recess,
        Self::RecessLimit,
        Self::CarbonSpacersLimit,
        Self::SteererSizeTolerance,
        Self::OpenAtMost,
        Self::DeepenAtMost,
        Self::ReamedInterference,
        Self::TyreGapLeast,
        Self::ThroatReach,
        Self::BoreOutsideLimits,
        Self::BoreOutsideLimitsReused,
        Self::SameBearing,
        Self::BearingPlane,
        Self::BearingPlay,
        Self::LowerStackDropIn,
    ];

    /// Number, unit and source of the rule.
    pub fn row(self) -> &'static Row {
        static TABLE: LazyLock<Vec<Row>> = LazyLock::new(|| {
            let mut rows = table();
            Rule::ALL.iter().filter_map(|rule| rows.remove(rule)).collect()
        });
        #[expect(clippy::indexing_slicing, reason = "a test asserts a row for every rule, in order")]
        &TABLE[self as usize]
    }

    /// The number, in the unit of its row.
    pub fn value(self) -> f64 {
        self.row().value
    }
}

/// Reliability of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Provenance {
    /// Read at the source and recomputed.
    Recomputed,
    /// Read at the source.
    Read,
    /// From memory, not read.
    Memory,
    /// Common practice or our own choice, without a published source.
    Practice,
}

/// One rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// Reliability of the number.
    pub provenance: Provenance,
    /// The source.
    pub source: String,
}

fn table() -> BTreeMap<Rule, Row> {
    steerwright_input::embedded::table(include_str!("../../data/practice.json"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_a_row_in_its_place() {
        let rows = table();
        for (place, rule) in Rule::ALL.into_iter().enumerate() {
            assert_eq!(rule as usize, place);
            assert_eq!(rule.row(), &rows[&rule]);
            assert!(rule.value().is_finite() && !rule.row().source.is_empty());
        }
    }
}
