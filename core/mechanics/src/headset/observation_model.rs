//! Error rates of observations and readings (`core/mechanics/data/looking.json`).

use super::{ObservedSeat, Style};
use serde::Deserialize;
use std::sync::LazyLock;

/// Probabilities of each observation, given the style of the seat; they sum to 1.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Seen {
    drop_in: f64,
    thin_lip: f64,
    external_cup: f64,
    #[expect(dead_code, reason = "for whoever reads the table")]
    source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct ByStyle {
    #[serde(rename = "IS")]
    is: Seen,
    #[serde(rename = "ZS")]
    zs: Seen,
    #[serde(rename = "EC")]
    ec: Seen,
}

/// The class "no standard size".
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NoStandard {
    /// Prior probability.
    pub(super) prior: f64,
    /// Width of the flat density of its diameters, mm.
    pub(super) flat_mm: f64,
    #[expect(dead_code, reason = "for whoever reads the table")]
    source: String,
}

/// Outliers: readings of another part, or with a wrong digit.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Slip {
    /// Share of all readings.
    pub(super) rate: f64,
    #[expect(dead_code, reason = "for whoever reads the table")]
    source: String,
}

/// Half-widths by which worn parts exceed the printed limits, mm.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Worn {
    pub(super) bore_mm: f64,
    pub(super) cup_mm: f64,
    #[expect(dead_code, reason = "for whoever reads the table")]
    source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ObservationModel {
    looked_at: ByStyle,
    fork_out: ByStyle,
    pub(super) no_standard: NoStandard,
    pub(super) slip: Slip,
    pub(super) worn: Worn,
}

/// The table.
pub(super) fn observation_model() -> &'static ObservationModel {
    static TABLE: LazyLock<ObservationModel> =
        LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/looking.json")));
    &TABLE
}

impl ObservationModel {
    /// Probability of the observation `seen` at a seat of `style`; `None` for [`ObservedSeat::NotSeen`].
    pub(super) fn probability(&self, seen: ObservedSeat, fork_out: bool, style: Style) -> Option<f64> {
        let table = if fork_out { &self.fork_out } else { &self.looked_at };
        let row = match style {
            Style::Is => &table.is,
            Style::Zs => &table.zs,
            Style::Ec => &table.ec,
        };
        match seen {
            ObservedSeat::DropIn => Some(row.drop_in),
            ObservedSeat::ThinLip => Some(row.thin_lip),
            ObservedSeat::ExternalCup => Some(row.external_cup),
            ObservedSeat::NotSeen => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_probabilities() {
        for fork_out in [false, true] {
            for style in [Style::Is, Style::Zs, Style::Ec] {
                let row = ObservedSeat::SEEN
                    .map(|seen| observation_model().probability(seen, fork_out, style).unwrap());
                assert!(row.iter().all(|p| (0.0..=1.0).contains(p) && *p > 0.0), "{style:?} {row:?}");
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{style:?} {row:?}");
            }
        }
    }

    #[test]
    fn a_lip_passes_for_drop_in_as_often_as_stated() {
        let p = |fork_out| observation_model().probability(ObservedSeat::DropIn, fork_out, Style::Zs);
        assert_eq!((p(false), p(true)), (Some(0.10), Some(0.01)));
        assert_eq!(observation_model().probability(ObservedSeat::NotSeen, true, Style::Is), None);
    }

    #[test]
    fn the_rest_of_the_table_is_in_its_domain() {
        let table = observation_model();
        assert!(table.no_standard.prior > 0.0 && table.no_standard.prior < 1.0);
        // Otherwise an inconsistent reading could be forced into a size by classifying it as an outlier.
        assert!(table.slip.rate > 0.0 && table.slip.rate < table.no_standard.prior / 2.0);
        assert!(table.no_standard.flat_mm > 0.0 && table.worn.bore_mm >= 0.0 && table.worn.cup_mm >= 0.0);
    }
}
