//! Outer diameters of tyres from their marking (ISO 5775).

use serde::Deserialize;
use std::sync::LazyLock;
use steerwright_metrology::quantity::Estimate;
use thiserror::Error;

/// Why a marking gives no diameter.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TyreError {
    /// The bead seat is not in the list of sizes.
    #[error("no tyre size with a bead seat of {0} mm")]
    UnknownBeadSeat(f64),
    /// The rule for the height does not hold for this width.
    #[error("a width of {width} mm; the rule holds from {} to {} mm", range[0], range[1])]
    Width {
        /// The width given, mm.
        width: f64,
        /// Where the rule holds, mm.
        range: [f64; 2],
    },
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    sizes: Vec<Size>,
    height_is_width_from_mm: Rule,
    widest_mm: Rule,
    #[cfg_attr(not(test), expect(dead_code, reason = "the evidence for the spread, checked by the test"))]
    circumference_chart: Vec<Entry>,
    radius_spread_mm: Rule,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Size {
    bead_seat_mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    value: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(not(test), expect(dead_code, reason = "the evidence for the spread, checked by the test"))]
struct Entry {
    width_mm: f64,
    bead_seat_mm: f64,
    circumference_mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

static TABLE: LazyLock<Table> =
    LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/tyres.json")));

/// Outer diameter of a tyre from its marking, such as 60-622, mm: `bead seat + 2 width`.
///
/// The usual circumference chart differs from that rule by up to 3 mm of radius, taken as the half-width of a
/// rectangular distribution (JCGM 100:2008, 4.3.7). A measured diameter is much more accurate.
///
/// # Errors
/// For a bead seat outside the table, and for widths under 28 mm, where the height is no longer the width.
pub fn overall_diameter(bead_seat_mm: f64, width_mm: f64) -> Result<Estimate, TyreError> {
    let table = &*TABLE;
    if !table.sizes.iter().any(|size| (size.bead_seat_mm - bead_seat_mm).abs() < 0.5) {
        return Err(TyreError::UnknownBeadSeat(bead_seat_mm));
    }
    let range = [table.height_is_width_from_mm.value, table.widest_mm.value];
    let [least, most] = range;
    if !(least..=most).contains(&width_mm) {
        return Err(TyreError::Width { width: width_mm, range });
    }
    let diameter = bead_seat_mm + 2.0 * width_mm;
    let half_width = 2.0 * table.radius_spread_mm.value;
    Ok(Estimate::between(diameter - half_width, diameter + half_width))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rule against chart: each entry is within the limits that the estimate claims, and the worst of them nearly
    /// reaches them, so the claim is no larger than the evidence.
    #[test]
    fn the_spread_is_that_between_rule_and_chart() {
        let worst = TABLE
            .circumference_chart
            .iter()
            .map(|entry| {
                let rule = overall_diameter(entry.bead_seat_mm, entry.width_mm).unwrap();
                let off = entry.circumference_mm / std::f64::consts::PI - rule.value;
                assert!(off.abs() <= rule.u * 3f64.sqrt(), "{entry:?}: {off}");
                off.abs() / 2.0
            })
            .fold(0.0, f64::max);
        let claimed = TABLE.radius_spread_mm.value;
        assert!(worst > claimed - 0.1, "{worst} of {claimed} mm");
    }

    #[test]
    fn a_marking_the_rule_does_not_cover() {
        assert_eq!(overall_diameter(600.0, 50.0), Err(TyreError::UnknownBeadSeat(600.0)));
        assert!(matches!(overall_diameter(622.0, 23.0), Err(TyreError::Width { .. })));
        assert!(matches!(overall_diameter(622.0, f64::NAN), Err(TyreError::Width { .. })));
        assert!(matches!(overall_diameter(f64::NAN, 50.0), Err(TyreError::UnknownBeadSeat(_))));
    }
}
