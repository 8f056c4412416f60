//! The table of sizes (`core/mechanics/data/sizes.json`).

use super::{End, SeatCode, Tenths};
use serde::Deserialize;
use std::sync::LazyLock;
use steerwright_metrology::quantity::Estimate;

/// Reliability of a number from an external source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
pub enum Flag {
    /// Read in the named source and recomputed.
    V,
    /// Read in the named source.
    F,
    /// From memory.
    M,
    /// Common practice, without a source.
    P,
}

/// Limits of a dimension with their source.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Least and greatest, mm.
    pub limits: [f64; 2],
    /// Their reliability.
    pub flag: Flag,
    /// Their source.
    pub source: String,
}

impl Span {
    /// Uniform between the limits: midpoint, and half-width over the square root of three.
    pub fn estimate(&self) -> Estimate {
        let [low, high] = self.limits;
        Estimate::between(low, high)
    }
}

/// How common a size is at either end among bikes that are measured; only the ratios count. Zero: it does not occur
/// there.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weight {
    /// At the upper end.
    pub upper: f64,
    /// At the lower end.
    pub lower: f64,
    /// Their reliability.
    pub flag: Flag,
    /// Their source.
    pub source: String,
}

/// A bearing used in a size: drop-in sizes have one, cups hold one of several.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Inside {
    /// The bearing's name in the table of bearings.
    pub bearing: String,
    /// Share of the seats of this size that hold it; the shares of a size sum to 1.
    pub share: f64,
    /// Its reliability.
    pub flag: Flag,
    /// Its source.
    pub source: String,
}

/// One size of seat.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Size {
    /// Its code.
    pub code: SeatCode,
    /// Colloquial names, and sizes it is confused with.
    pub speech: String,
    /// The frame's bore: for the bearing (IS) or for the cup (ZS, EC).
    pub bore: Span,
    /// Outside diameter of the cup where it is pressed in; none for IS.
    #[serde(default)]
    pub cup: Option<Span>,
    /// The bearings used in it.
    pub bearings: Vec<Inside>,
    /// How common it is.
    pub weight: Weight,
}

impl Size {
    /// Prior weight at one end.
    pub fn weight_at(&self, end: End) -> f64 {
        match end {
            End::Upper => self.weight.upper,
            End::Lower => self.weight.lower,
        }
    }
}

/// Contact angles that a bearing is sold with.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// Pairs of inner and outer chamfer angle, degrees.
    pub deg: Vec<[f64; 2]>,
    /// Their reliability.
    pub flag: Flag,
    /// Their source.
    pub source: String,
}

/// One commercially available cartridge bearing.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BearingSize {
    /// Its name: the outside diameter it is sold under.
    pub name: String,
    /// Outside diameter.
    pub outer: Span,
    /// Inside diameter.
    pub inner: Span,
    /// Height.
    pub height: Span,
    /// Contact angles.
    pub contact: Contact,
}

/// A steerer or crown race seat diameter.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ForkSize {
    /// Its name in a code, in tenths of a millimetre.
    pub tenths: u16,
    /// Whether it is at the steerer (upper) or at the crown (lower).
    pub end: End,
    /// Colloquial names.
    pub speech: String,
    /// The diameter as measured.
    pub diameter: Span,
}

impl ForkSize {
    /// Its name as a code prints it.
    pub fn name(&self) -> Tenths {
        Tenths(self.tenths)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    bearings: Vec<BearingSize>,
    sizes: Vec<Size>,
    forks: Vec<ForkSize>,
}

static TABLE: LazyLock<Table> =
    LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/sizes.json")));

/// Every size of seat in the table, by style and number.
pub fn sizes() -> &'static [Size] {
    &TABLE.sizes
}

/// One size of seat; `None` if it is not in the table.
pub fn size(code: SeatCode) -> Option<&'static Size> {
    TABLE.sizes.iter().find(|size| size.code == code)
}

/// Every cartridge bearing in the table, by outside diameter.
pub fn bearing_sizes() -> &'static [BearingSize] {
    &TABLE.bearings
}

/// One bearing by its name in the table of sizes.
pub fn bearing_size(name: &str) -> Option<&'static BearingSize> {
    TABLE.bearings.iter().find(|bearing| bearing.name == name)
}

/// Every steerer and crown race seat in the table.
pub fn fork_sizes() -> &'static [ForkSize] {
    &TABLE.forks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_read_and_hangs_together() {
        for size in sizes() {
            assert!(
                size.bearings.iter().all(|inside| bearing_size(&inside.bearing).is_some()),
                "{}",
                size.code
            );
            assert_eq!(super::size(size.code), Some(size));
        }
    }
}
