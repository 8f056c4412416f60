//! Comparison of a bike before and after the installation of a kit.

use super::which::{self, Named};
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use steerwright_core::bike::{Bike, Findings};
use steerwright_core::book::{
    CheckId, Comparison, FieldBook, KeptCheck, LogEntry, Timestamp, changes_with_a_kit,
};
use steerwright_core::quantity::{Estimate, Instruments, Quantity};

/// What one kit was predicted to do, and did.
#[derive(Debug, Serialize)]
pub(crate) struct Compared {
    /// The check's number in `book show`.
    pub(crate) number: usize,
    pub(crate) check: CheckId,
    pub(crate) kit: Option<String>,
    pub(crate) fitted_at: Timestamp,
    pub(crate) removed_at: Option<Timestamp>,
    /// The head angle predicted, degrees.
    pub(crate) predicted: Option<Estimate>,
    /// Predicted against measured, once both are there.
    pub(crate) comparison: Option<Comparison>,
    /// Quantities that depend on the kit and were measured with it installed.
    pub(crate) measured: Vec<Both>,
}

/// A quantity before and after installation; mm or degrees.
#[derive(Debug, Serialize)]
pub(crate) struct Both {
    pub(crate) what: Quantity,
    pub(crate) unit: &'static str,
    /// From the readings used by the check.
    pub(crate) before: Option<Estimate>,
    pub(crate) after: Estimate,
    /// `after - before`, with errors treated as independent.
    pub(crate) change: Option<Estimate>,
}

/// The log's readings taken with this check's kit installed.
fn with_kit(frozen: &Bike, log: &[LogEntry], check: CheckId) -> Bike {
    let rows = log.iter().filter(|row| row.since == Some(check) && row.struck.is_none());
    let rows = rows.filter(|row| changes_with_a_kit(row.measurement.what));
    Bike { measured: rows.map(|row| row.measurement.clone()).collect(), ..frozen.clone() }
}

fn measured(check: &KeptCheck, log: &[LogEntry], instruments: &Instruments) -> Vec<Both> {
    // The stored bike may have a format that this version can no longer read. There is no comparison then.
    let Ok(frozen) = Bike::from_json(check.bike_json.as_bytes(), "the kept check") else { return Vec::new() };
    let before = Findings::new(&frozen, instruments);
    let after = Findings::new(&with_kit(&frozen, log, check.id), instruments);
    let both = after.iter().map(|(what, after)| {
        let before = before.get(what);
        Both {
            what,
            unit: text::book::unit(what),
            before,
            after,
            change: before.map(|before| after - before),
        }
    });
    both.collect()
}

pub(super) fn compare(book: &FieldBook, bike: &str, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, bike)?;
    let instruments = book.read().instruments()?;
    let screen = book.read().bike_screen(bike.id)?;
    let numbered = (1..).zip(screen.checks.iter().rev());
    let kits: Vec<Compared> = numbered
        .filter_map(|(number, check)| {
            Some(Compared {
                number,
                check: check.id,
                kit: check.sku.clone(),
                fitted_at: check.fitted_at?,
                removed_at: check.removed_at,
                predicted: check.predicted,
                comparison: check.comparison.clone(),
                measured: measured(check, &screen.log, &instruments),
            })
        })
        .collect();
    if json {
        return output::print_json(&serde_json::json!({"bike": Named::from(&bike), "kits": kits}));
    }
    output::print(&text::book::compare(&bike.name, &kits))
}
