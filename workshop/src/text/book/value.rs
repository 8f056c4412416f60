//! Formatting of readings, estimates and timestamps.

use steerwright_core::bike::Measurement;
use steerwright_core::book::Timestamp;
use steerwright_core::quantity::{Dimension, Estimate, Quantity, Unit, quantity_info};

/// Unit of a quantity's estimates, by its name in the files.
pub(crate) fn unit(what: Quantity) -> &'static str {
    match what.dimension() {
        Dimension::Length => Unit::Mm.name(),
        Dimension::Angle => Unit::Deg.name(),
    }
}

fn sign(unit: Unit) -> String {
    if unit == Unit::Deg { "°".to_owned() } else { format!(" {unit}") }
}

/// "33.4 mm": the value as recorded.
fn as_read(reading: &Measurement) -> String {
    let sign = sign(reading.unit);
    let give = reading.plus_minus.map(|give| format!(" ± {give}")).unwrap_or_default();
    format!("{}{give}{sign}", reading.value)
}

/// "upper throat diameter 33.4 mm, caliper".
pub(crate) fn reading(reading: &Measurement) -> String {
    let tool = reading.with.name().replace('_', " ");
    format!("{} {}, {tool}", quantity_info(reading.what).label, as_read(reading))
}

/// An estimate with its expanded uncertainty, rounded to significant digits.
pub(crate) fn estimate(what: Quantity, estimate: Estimate) -> String {
    match what.dimension() {
        Dimension::Length => rounded(estimate, " mm"),
        Dimension::Angle => angle(estimate),
    }
}

/// An angle in degrees with its expanded uncertainty.
pub(crate) fn angle(estimate: Estimate) -> String {
    rounded(estimate, "°")
}

/// Number of decimals for a half-width, so that it has two significant digits.
pub(super) fn digits(half_width: f64) -> usize {
    usize::from(half_width < 10.0) + usize::from(half_width < 1.0)
}

fn rounded(estimate: Estimate, sign: &str) -> String {
    let half_width = estimate.expanded();
    let digits = digits(half_width);
    format!("{:.digits$} ± {half_width:.digits$}{sign}", estimate.value)
}

/// "2026-05-01 10:30 UTC". A timestamp outside the calendar is shown in the book's format.
pub(super) fn when(timestamp: Timestamp) -> String {
    let text = timestamp.to_string();
    match (text.get(..10), text.get(10..11), text.get(11..16)) {
        (Some(day), Some("T"), Some(minute)) => format!("{day} {minute} UTC"),
        _ => text,
    }
}

/// The date part.
pub(super) fn day(timestamp: Timestamp) -> String {
    let text = when(timestamp);
    text.get(..10).map_or(text.clone(), str::to_owned)
}
