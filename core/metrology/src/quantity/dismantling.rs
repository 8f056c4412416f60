//! How far a bike is taken apart for a measurement (`core/metrology/data/dismantling.json`).

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A state of dismantling. Each includes the state that it is reached from.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Dismantling {
    /// As the bike is ridden.
    Assembled,
    /// Stem, spacers and upper cover are off.
    StemOff,
    /// The upper bearing is out as well.
    UpperBearingOut,
    /// The fork is out as well.
    ForkOut,
    /// The fork and the upper cup are out.
    UpperCupOut,
    /// The fork and the lower cup are out.
    LowerCupOut,
}

impl Dismantling {
    /// Every state, the least taken apart first.
    pub const ALL: [Self; 6] = [
        Self::Assembled,
        Self::StemOff,
        Self::UpperBearingOut,
        Self::ForkOut,
        Self::UpperCupOut,
        Self::LowerCupOut,
    ];

    /// The state that this one is reached from.
    pub fn reached_from(self) -> Option<Self> {
        match self {
            Self::Assembled => None,
            Self::StemOff => Some(Self::Assembled),
            Self::UpperBearingOut => Some(Self::StemOff),
            Self::ForkOut => Some(Self::UpperBearingOut),
            Self::UpperCupOut | Self::LowerCupOut => Some(Self::ForkOut),
        }
    }

    /// This state and all that it includes, the bike as it is ridden last.
    pub fn included(self) -> impl Iterator<Item = Self> {
        std::iter::successors(Some(self), |state| state.reached_from())
    }

    /// Whether a bike in this state is taken apart at least as far as `other` asks.
    pub fn includes(self, other: Self) -> bool {
        self.included().any(|state| state == other)
    }

    /// Words, minutes and source of the state.
    pub fn row(self) -> &'static DismantlingInfo {
        static TABLE: LazyLock<Vec<DismantlingInfo>> = LazyLock::new(|| {
            let mut rows = table();
            Dismantling::ALL.iter().filter_map(|state| rows.remove(state)).collect()
        });
        #[expect(clippy::indexing_slicing, reason = "a test asserts a row for every state, in order")]
        &TABLE[self as usize]
    }

    /// What to do to bring a bike there, in sentences; empty for a bike as it is ridden.
    pub fn reach_from_assembled(self) -> String {
        let mut steps: Vec<&str> = self.included().map(|state| state.row().reach.as_str()).collect();
        steps.retain(|step| !step.is_empty());
        steps.reverse();
        steps.join(" ")
    }

    /// Minutes from the bike as it is ridden, putting it together again included.
    pub fn minutes_from_assembled(self) -> f64 {
        self.included().map(|state| state.row().minutes).fold(0.0, |sum, minutes| sum + minutes)
    }
}

/// The row of a state.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DismantlingInfo {
    /// The state in a few words: "fork out".
    pub label: String,
    /// Minutes from the state that it is reached from, putting it back included.
    pub minutes: f64,
    /// What the minutes are spent for: "to take the fork out".
    pub purpose: String,
    /// What to do to get there, in sentences.
    pub reach: String,
    /// Source of the minutes.
    pub source: String,
}

fn table() -> BTreeMap<Dismantling, DismantlingInfo> {
    steerwright_input::embedded::table(include_str!("../../data/dismantling.json"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_has_a_row_in_its_place() {
        let rows = table();
        assert_eq!(rows.len(), Dismantling::ALL.len());
        for (place, state) in Dismantling::ALL.into_iter().enumerate() {
            assert_eq!(state as usize, place);
            assert_eq!(state.row(), &rows[&state]);
            let DismantlingInfo { label, minutes, purpose, reach, source } = state.row();
            assert!(!label.is_empty() && source.contains("common practice, no source"), "{state:?}");
            let is_start = state == Dismantling::Assembled;
            assert_eq!(
                (*minutes <= 0.0, purpose.is_empty(), reach.is_empty()),
                (is_start, is_start, is_start)
            );
            assert!(is_start || (purpose.starts_with("to ") && reach.ends_with('.')), "{state:?}");
        }
    }

    /// The fork's removal takes the stem's and the bearing's with it: 5 + 1 + 9 minutes; a cup 10 more.
    #[test]
    fn a_state_includes_those_on_its_way() {
        use Dismantling as D;
        assert!((D::ForkOut.minutes_from_assembled() - 15.0).abs() < 1e-12);
        assert!((D::LowerCupOut.minutes_from_assembled() - 25.0).abs() < 1e-12);
        assert!(D::LowerCupOut.includes(D::StemOff) && !D::LowerCupOut.includes(D::UpperCupOut));
        assert!(!D::UpperBearingOut.includes(D::ForkOut) && D::Assembled.includes(D::Assembled));
    }
}
