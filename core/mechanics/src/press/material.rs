//! Materials of frames and cups (`core/mechanics/data/materials.json`).

use super::lame::Elastic;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::LazyLock;

/// A material of a frame or a steerer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// Aluminium alloy.
    Aluminium,
    /// Carbon fibre composite.
    Carbon,
    /// Steel.
    Steel,
    /// Titanium alloy.
    Titanium,
    /// Inspected, but not known.
    NotKnown,
}

/// A metal for which the thick-ring equations hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Metal {
    /// Aluminium alloy.
    Aluminium,
    /// Steel.
    Steel,
    /// Titanium alloy.
    Titanium,
}

impl Metal {
    /// Every metal of the table.
    pub const ALL: [Self; 3] = [Self::Aluminium, Self::Steel, Self::Titanium];

    /// Young's modulus and Poisson's ratio.
    pub fn elastic(self) -> Elastic {
        let row = self.row();
        Elastic { young_mpa: row.young_mpa, poisson: row.poisson }
    }

    /// Yield strength, MPa.
    pub fn yield_mpa(self) -> f64 {
        self.row().yield_mpa
    }

    /// The source of the figures, after their flag.
    pub fn source(self) -> &'static str {
        &self.row().source
    }

    fn row(self) -> &'static Row {
        let metals = &table().metals;
        match self {
            Self::Aluminium => &metals.aluminium,
            Self::Steel => &metals.steel,
            Self::Titanium => &metals.titanium,
        }
    }
}

impl fmt::Display for Metal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Aluminium => "aluminium",
            Self::Steel => "steel",
            Self::Titanium => "titanium",
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    young_mpa: f64,
    poisson: f64,
    yield_mpa: f64,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Metals {
    aluminium: Row,
    steel: Row,
    titanium: Row,
}

/// A default thickness for one not measured.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Assumed {
    pub(super) mm: f64,
    pub(super) half_width_mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Length {
    pub(super) mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Share {
    pub(super) share: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cup {
    metal: CupMetal,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum CupMetal {
    Aluminium,
    Steel,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Table {
    metals: Metals,
    cup: Cup,
    pub(super) head_tube_wall: Assumed,
    pub(super) cup_wall: Assumed,
    pub(super) least_interference: Length,
    pub(super) greatest_interference: Length,
    pub(super) yield_share: Share,
}

impl Table {
    /// Material of cups.
    pub(super) fn cup_metal(&self) -> Metal {
        match self.cup.metal {
            CupMetal::Aluminium => Metal::Aluminium,
            CupMetal::Steel => Metal::Steel,
        }
    }
}

/// The table.
pub(super) fn table() -> &'static Table {
    static TABLE: LazyLock<Table> =
        LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/materials.json")));
    &TABLE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_metal_has_a_source_and_sound_figures() {
        for metal in Metal::ALL {
            let Elastic { young_mpa, poisson } = metal.elastic();
            // Metals of frames lie between magnesium (45 GPa) and steel (210 GPa).
            assert!((45_000.0..=210_000.0).contains(&young_mpa), "{metal}");
            assert!((0.2..0.5).contains(&poisson), "{metal}");
            assert!(metal.yield_mpa() > 0.0 && metal.yield_mpa() < young_mpa / 50.0, "{metal}");
            assert!(metal.source().starts_with("M: "), "{metal}");
        }
    }

    #[test]
    fn the_rules_are_ordered() {
        let table = table();
        assert!(0.0 < table.least_interference.mm);
        assert!(table.least_interference.mm < table.greatest_interference.mm);
        assert!(table.cup_wall.half_width_mm < table.cup_wall.mm);
        assert!(table.head_tube_wall.half_width_mm < table.head_tube_wall.mm);
        assert!((table.yield_share.share * 3.0 - 1.0).abs() < 1e-12);
    }
}
