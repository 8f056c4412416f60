//! The measuring guide: where to place the tool, what to look at, which tools to use.

use crate::drawing::NamedDrawing;
use crate::{ForkPosition, Instrument, LocalizedText, MeasureUnit, Observable, Quantity, Theme};
use steerwright_core::bike::observing;
use steerwright_core::drawing::tool_place;
use steerwright_core::quantity::{Instruments, quantity_info};

/// Guide entry for one quantity.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct QuantityGuide {
    /// The quantity.
    pub what: Quantity,
    /// Plain name: "head tube length".
    pub label: LocalizedText,
    /// Unit of the quantity in the book.
    pub unit: MeasureUnit,
    /// Lower limit: readings below it are rejected, in `unit`.
    pub least: f64,
    /// Upper limit: readings above it are rejected, in `unit`.
    pub most: f64,
    /// The usual tool.
    pub tool: Instrument,
    /// Every tool that can measure it.
    pub tools: Vec<Instrument>,
    /// Time required in minutes, including disassembly of the bike.
    pub minutes: f64,
    /// Whether the fork has to be removed.
    pub fork: ForkPosition,
    /// Where to put the tool, at a seat that is not known; a report's list has the text for its bike.
    pub place: LocalizedText,
    /// The common mistake.
    pub trap: LocalizedText,
}

/// Guide entry for one observation.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ObservableGuide {
    /// The observation.
    pub what: Observable,
    /// Plain name: "steering stop".
    pub label: LocalizedText,
    /// Time required in minutes.
    pub minutes: f64,
    /// Whether the fork has to be removed.
    pub fork: ForkPosition,
    /// Where and how to look.
    pub place: LocalizedText,
    /// The common mistake.
    pub trap: LocalizedText,
}

pub(crate) fn label(what: Quantity) -> LocalizedText {
    LocalizedText::new(format!("quantity.{}", what.name()), quantity_info(what).label.clone())
}

/// A text of the guide: `guide.upper_bore_diameter.place`, or `guide.upper_bore_diameter.drop_in.place`.
fn text(name: &str, variant: Option<&str>, part: &str, english: &str) -> LocalizedText {
    let variant = variant.map(|variant| format!(".{variant}")).unwrap_or_default();
    LocalizedText::new(format!("guide.{name}{variant}.{part}"), english)
}

pub(crate) fn place(name: &str, variant: Option<&str>, english: &str) -> LocalizedText {
    text(name, variant, "place", english)
}

pub(crate) fn trap(name: &str, variant: Option<&str>, english: &str) -> LocalizedText {
    text(name, variant, "trap", english)
}

/// Guide entries for all quantities.
#[uniffi::export]
pub fn quantity_guides() -> Vec<QuantityGuide> {
    let instruments = Instruments::default();
    let guide = |what: &Quantity| {
        let it = quantity_info(*what);
        let [least, most] = it.plausible;
        QuantityGuide {
            what: *what,
            label: label(*what),
            unit: what.base_unit(),
            least,
            most,
            tool: it.tool,
            tools: Instrument::ALL
                .into_iter()
                .filter(|tool| instruments.plus_minus(*what, *tool).is_some())
                .collect(),
            minutes: it.state.minutes_from_assembled() + it.minutes,
            fork: it.fork,
            place: place(what.name(), None, &it.place),
            trap: trap(what.name(), None, &it.trap),
        }
    };
    Quantity::ALL.iter().map(guide).collect()
}

/// Guide entries for all observations.
#[uniffi::export]
pub fn observable_guides() -> Vec<ObservableGuide> {
    let guide = |what: Observable| {
        let it = observing(what);
        ObservableGuide {
            what,
            label: LocalizedText::new(format!("observable.{}", what.name()), it.label.clone()),
            minutes: it.state.minutes_from_assembled() + it.minutes,
            fork: it.fork,
            place: place(what.name(), None, &it.place),
            trap: trap(what.name(), None, &it.trap),
        }
    };
    Observable::ALL.into_iter().map(guide).collect()
}

/// Drawing of the tool position for a measurement.
#[uniffi::export]
pub fn tool_drawing(what: Quantity, theme: Theme) -> NamedDrawing {
    NamedDrawing::new(format!("where-{}", what.name()), tool_place(what), theme)
}
