//! Numbers in the user's notation.

use crate::{Context, Shown};
use steerwright_fieldbook::Timestamp;
use steerwright_metrology::quantity::{Estimate, Unit, shown};
pub(crate) use steerwright_metrology::voice::capital;

impl Context<'_> {
    /// "112.0 ± 0.5 mm", as far as the uncertainty warrants digits.
    pub(crate) fn estimate(&self, estimate: Estimate, unit: Unit) -> String {
        self.voice().estimate(estimate, unit)
    }

    /// Value and uncertainty apart, each with its unit.
    pub(crate) fn shown(&self, estimate: Estimate, unit: Unit) -> Shown {
        let found = shown(estimate, unit, self.notation);
        let gap = if found.unit == "°" { "" } else { " " };
        Shown {
            value: format!("{}{gap}{}", found.value, found.unit),
            plus_minus: found.plus_minus.map(|it| format!("± {it}{gap}{}", found.unit)),
        }
    }

    /// A change, as [`shown`](Self::shown), with the sign of an increase.
    pub(crate) fn shown_change(&self, change: Estimate, unit: Unit) -> Shown {
        let shown = self.shown(change, unit);
        let sign = if change.value > 0.0 { "+" } else { "" };
        Shown { value: format!("{sign}{}", shown.value), ..shown }
    }

    /// A number with at most `decimals`, without a unit.
    pub(crate) fn number(&self, value: f64, decimals: usize) -> String {
        self.voice().number(value, decimals)
    }

    /// A number with exactly `decimals`.
    pub(crate) fn fixed(&self, value: f64, decimals: usize) -> String {
        self.voice().fixed(value, decimals)
    }

    /// Minutes of work, at least one.
    pub(crate) fn minutes(&self, minutes: f64) -> String {
        self.number(minutes.max(1.0).round(), 0)
    }

    /// Day and time as they are stored, in UTC: "2026-05-02 08:00".
    pub(crate) fn when(&self, at: Timestamp) -> String {
        let text = at.to_string();
        match (text.get(..10), text.get(11..16)) {
            (Some(day), Some(time)) => format!("{day} {time}"),
            _ => text,
        }
    }
}

/// A name from a file format in words: `steel_rule` is "steel rule".
pub(crate) fn spoken(name: &str) -> String {
    name.replace('_', " ")
}
