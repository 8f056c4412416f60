//! Things of the core in a shopkeeper's words.

use maud::{Markup, html};
use steerwright_fit::judgement::{Direction, State, Verdict};
use steerwright_fit::report::{degrees, millimetres, percent};
use steerwright_metrology::timestamp::Timestamp;
use steerwright_metrology::quantity::{Dimension, Estimate, Quantity};
use steerwright_protocol::wire::{Kind, PartKind, ShopStatus};

/// A state and the class that colours it.
pub(super) fn state(word: ShopStatus) -> (&'static str, &'static str) {
    match word {
        ShopStatus::Waiting => ("Waiting", "waiting"),
        ShopStatus::Question => ("Asked back", "question"),
        ShopStatus::Accepted => ("Accepted", "accepted"),
        ShopStatus::Refused => ("Refused", "refused"),
    }
}

/// A state as a mark.
pub(super) fn state_mark(word: ShopStatus) -> Markup {
    let (name, class) = state(word);
    html! { span class={ "mark " (class) } { (name) } }
}

/// A verdict in words, and its class.
pub(super) fn verdict(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::GoesIn => ("Goes in", "good"),
        Verdict::GoesInAfterWork => ("Goes in after work", "work"),
        Verdict::MeasureFirst => ("Measure first", "open"),
        Verdict::WillNotGo => ("Will not go", "bad"),
    }
}

/// The answer of a requirement in words, and its class.
pub(super) fn met(state: State) -> (&'static str, &'static str) {
    match state {
        State::Met => ("met", "good"),
        State::MetAfterWork => ("met after work", "work"),
        State::NotKnown => ("not known", "open"),
        State::NotMet => ("not met", "bad"),
    }
}

/// What is asked.
pub(super) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Order => "Order",
        Kind::Question => "Question",
    }
}

/// Which way round.
pub(super) fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::Slacker => "slacker: the front wheel further out",
        Direction::Steeper => "steeper: turned round",
    }
}

/// A part's kind.
pub(super) fn part(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Bearing => "Bearing",
        PartKind::CrownRace => "Crown race",
        PartKind::Spacers => "Spacers",
    }
}

/// A quantity with its expanded uncertainty.
pub(super) fn estimate(what: Quantity, estimate: Estimate) -> String {
    match what.dimension() {
        Dimension::Length => millimetres(estimate),
        Dimension::Angle => degrees(estimate),
    }
}

/// A name of the formats as words.
pub(super) fn plain(name: &str) -> String {
    name.replace('_', " ")
}

/// A range of probabilities.
pub(super) fn chances(low: f64, high: f64) -> String {
    let (low, high) = (percent(low), percent(high));
    if low == high { low } else { format!("{low} to {high}") }
}

/// A time to the minute, in UTC.
pub(super) fn time(timestamp: Timestamp) -> Markup {
    let exact = timestamp.to_string();
    let minute = match exact.get(..16) {
        Some(minute) if exact.ends_with('Z') => format!("{} UTC", minute.replace('T', " ")),
        _ => exact.clone(),
    };
    html! { time datetime=(exact) { (minute) } }
}
