//! The record of a bike: the log, kept checks, requests.

use crate::standing::order_state;
use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::{BikeId, CheckId, MeasurementId, OrderId};
use steerwright_metrology::quantity::Unit;

/// The record of a bike, newest first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecordView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The log.
    pub log: Vec<LogLine>,
    /// Kept checks.
    pub checks: Vec<CheckLine>,
    /// Requests.
    pub orders: Vec<OrderLine>,
    /// What to say while there is nothing.
    pub empty: Option<String>,
    /// The notes.
    pub notes: String,
}

/// A row of the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LogLine {
    /// Its id.
    pub id: MeasurementId,
    /// The reading: "head tube length 112 mm, steel rule".
    pub text: String,
    /// When, and by whom.
    pub when: String,
    /// Why it was struck out, if it was.
    pub struck: Option<String>,
    /// Whether it counts.
    pub counts: bool,
}

/// A kept check.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CheckLine {
    /// Its id.
    pub id: CheckId,
    /// In a sentence.
    pub text: String,
    /// When.
    pub when: String,
    /// Whether its kit is in the bike.
    pub fitted: bool,
    /// Predicted against measured.
    pub comparison: Option<String>,
}

/// A request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OrderLine {
    /// Its id.
    pub id: OrderId,
    /// What was asked for.
    pub text: String,
    /// Its state in words.
    pub state: String,
    /// When it was made.
    pub when: String,
}

/// The record of a bike.
///
/// # Errors
/// No such bike.
pub fn record(context: &Context<'_>, id: BikeId) -> Result<RecordView, ScreenError> {
    let screen = context.reader.bike_screen(id)?;
    let words = context.words;
    let log: Vec<LogLine> = screen
        .log
        .iter()
        .rev()
        .map(|row| {
            let reading = &row.measurement;
            let value = context.number(reading.value, 4);
            let value = if reading.unit == Unit::Deg {
                format!("{value}°")
            } else {
                format!("{value} {}", reading.unit)
            };
            let tool = words.text(&format!("tool-{}", reading.with.name().replace('_', "-")));
            let at = context.when(row.recorded_at);
            LogLine {
                id: row.id,
                text: format!("{} {value}, {tool}", context.voice().quantity(reading.what)),
                when: row.who.as_ref().map_or_else(|| at.clone(), |who| format!("{at}, {who}")),
                struck: row
                    .struck
                    .as_ref()
                    .map(|struck| words.with("record-struck", &[("why", (&struck.why).into())])),
                counts: row.place.is_some(),
            }
        })
        .collect();
    let checks: Vec<CheckLine> = screen
        .checks
        .iter()
        .map(|check| CheckLine {
            id: check.id,
            text: match &check.sku {
                Some(sku) => words.with("record-check", &[("sku", sku.into())]),
                None => words.text("record-check-none"),
            },
            when: context.when(check.made_at),
            fitted: check.is_fitted(),
            comparison: check.comparison.as_ref().map(|it| it.in_words(context.voice())),
        })
        .collect();
    let orders: Vec<OrderLine> = screen
        .orders
        .iter()
        .map(|order| OrderLine {
            id: order.id,
            text: format!("{} × {}", order.quantity, order.sku),
            state: order.state().map(|state| order_state(context, order, state)).unwrap_or_default(),
            when: context.when(order.made_at),
        })
        .collect();
    let empty = log.is_empty() && checks.is_empty() && orders.is_empty();
    Ok(RecordView {
        bike: id,
        bike_name: screen.record.bike.name.clone(),
        log,
        checks,
        orders,
        empty: empty.then(|| words.text("record-empty")),
        notes: screen.record.notes,
    })
}
