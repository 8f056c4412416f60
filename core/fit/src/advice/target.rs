//! What to measure so that the head angle with a kit is known closely.

use super::MeasureNext;
use steerwright_metrology::quantity::{Quantity, quantity_info};

/// Readings that narrow the head angle with a kit, in place of the usual values that stand in for them.
pub fn measure_for_target(assumed: &[Quantity]) -> Vec<MeasureNext> {
    let entry = |what: &Quantity| {
        let row = quantity_info(*what);
        let tool = row.tool.name().replace('_', " ");
        MeasureNext {
            what: what.name().to_owned(),
            minutes: row.minutes,
            // No verdict depends on it.
            gain: 0.0,
            text: format!(
                "Measure the {} ({tool}), about {:.0} min: the head angle with the kit is predicted from it.",
                row.label, row.minutes
            ),
            with: Some(row.tool),
            fork: row.fork,
            place: row.place.clone(),
            trap: row.trap.clone(),
        }
    };
    assumed.iter().map(entry).collect()
}
