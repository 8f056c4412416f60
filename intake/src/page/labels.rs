//! Labels and CSS classes for values of the core.

use crate::state::AppState;
use maud::{Markup, PreEscaped, html};
use steerwright_fit::judgement::{Direction, State, Verdict};
use steerwright_fit::report::{degrees, millimetres, percent};
use steerwright_metrology::quantity::{Dimension, Estimate, Quantity};
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{Kind, PartKind, ShopStatus};
use steerwright_style::Shape;

/// The label and CSS class of a status.
pub(super) fn status(status: ShopStatus) -> (&'static str, &'static str) {
    match status {
        ShopStatus::Waiting => ("Waiting", "waiting"),
        ShopStatus::Question => ("Question asked", "question"),
        ShopStatus::Accepted => ("Accepted", "accepted"),
        ShopStatus::Paid => ("Paid", "paid"),
        ShopStatus::Sent => ("Sent", "sent"),
        ShopStatus::Collected => ("Collected", "collected"),
        ShopStatus::Refused => ("Refused", "refused"),
        ShopStatus::Withdrawn => ("Withdrawn", "withdrawn"),
        ShopStatus::Cancelled => ("Cancelled", "cancelled"),
    }
}

/// The badge of a status.
pub(super) fn status_badge(value: ShopStatus) -> Markup {
    let (name, class) = status(value);
    html! { span class={ "badge " (class) } { (name) } }
}

/// The label and CSS class of a verdict.
pub(super) fn verdict(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::GoesIn => ("Fits", "good"),
        Verdict::GoesInAfterWork => ("Fits after work", "work"),
        Verdict::MeasureFirst => ("Measure first", "open"),
        Verdict::WillNotGo => ("Does not fit", "bad"),
    }
}

/// The mark of a verdict; its word stands beside it.
pub(super) fn mark(verdict: Verdict) -> Markup {
    let shape = match verdict {
        Verdict::GoesIn => Shape::Fits,
        Verdict::GoesInAfterWork => Shape::FitsAfterWork,
        Verdict::MeasureFirst => Shape::MeasureFirst,
        Verdict::WillNotGo => Shape::DoesNotFit,
    };
    PreEscaped(shape.svg().to_owned())
}

/// The label and CSS class of a requirement's state.
pub(super) fn requirement_state(state: State) -> (&'static str, &'static str) {
    match state {
        State::Met => ("met", "good"),
        State::MetAfterWork => ("met after work", "work"),
        State::NotKnown => ("not known", "open"),
        State::NotMet => ("not met", "bad"),
    }
}

/// The label of a kind of request.
pub(super) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Order => "Order",
        Kind::Question => "Question",
    }
}

/// The label of a direction.
pub(super) fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::Slacker => "slacker: the front wheel further out",
        Direction::Steeper => "steeper: turned round",
    }
}

/// The label of a kind of part.
pub(super) fn part(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Bearing => "Bearing",
        PartKind::CrownRace => "Crown race",
        PartKind::Spacers => "Spacers",
    }
}

/// A value with its expanded uncertainty.
pub(super) fn estimate(what: Quantity, estimate: Estimate) -> String {
    match what.dimension() {
        Dimension::Length => millimetres(estimate),
        Dimension::Angle => degrees(estimate),
    }
}

/// A name of the JSON formats in words.
pub(super) fn words(name: &str) -> String {
    name.replace('_', " ")
}

/// A range of probabilities, in percent.
pub(super) fn probability_range(low: f64, high: f64) -> String {
    let (low, high) = (percent(low), percent(high));
    if low == high { low } else { format!("{low} to {high}") }
}

/// A time to the minute, by the shop's own clock.
pub(super) fn time(app: &AppState, timestamp: Timestamp) -> Markup {
    html! { time datetime=(timestamp) { (local(app, timestamp, "%Y-%m-%d %H:%M %Z")) } }
}

/// A time in words that a strftime format describes, by the shop's own clock.
pub(super) fn local(app: &AppState, timestamp: Timestamp, format: &str) -> String {
    match jiff::Timestamp::from_millisecond(timestamp.0) {
        Ok(instant) => instant.to_zoned_datetime(app.time_zone.clone()).strftime(format).to_string(),
        // Beyond the years that a calendar has names for.
        Err(_) => timestamp.to_string(),
    }
}
