//! What to measure so that the head angle with a kit is known closely.

use super::MeasureNext;
use steerwright_metrology::quantity::{Quantity, quantity_info};

/// Readings that narrow the head angle with a kit, in place of the usual values that stand in for them.
pub fn measure_for_target(assumed: &[Quantity], sku: &str) -> Vec<MeasureNext> {
    let entry = |what: &Quantity| {
        let row = quantity_info(*what);
        // No quantity of the side view depends on the seat.
        let instruction = row.instruction(None);
        let tool = row.tool.name().replace('_', " ");
        MeasureNext {
            what: what.name().to_owned(),
            minutes: instruction.minutes,
            // No verdict depends on it.
            gain: 0.0,
            text: format!(
                "Measure the {} ({tool}), about {:.0} min: the head angle with {sku} is predicted from it.",
                row.label, instruction.minutes
            ),
            of_kits: vec![sku.to_owned()],
            with: Some(row.tool),
            state: instruction.state,
            reach: None,
            fork: instruction.fork,
            place: instruction.place.to_owned(),
            trap: instruction.trap.to_owned(),
            variant: None,
        }
    };
    assumed.iter().map(entry).collect()
}
