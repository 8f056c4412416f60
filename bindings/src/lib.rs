//! Language bindings of the Steerwright core, for the phone apps and Python.
//!
//! This crate alone depends on UniFFI. It adds no rules: the core decides what a bike is, what fits and which
//! states an order request may take. The interface is a few coarse calls. Plain enums and small records of
//! the core are declared to UniFFI unchanged (`#[uniffi::remote]`, checked by the compiler against the core's
//! types). Screens get thin view records. A deep document such as a report is also returned as text in its
//! published JSON format, so that its hundred or so fields are not mirrored by hand.
//!
//! UniFFI's macros generate `unsafe` code for the foreign calls, so this crate cannot forbid it. It contains
//! none of its own.
#![deny(unsafe_op_in_unsafe_fn)]

mod background;
mod bikes;
mod book;
mod bundles;
mod catalogues;
mod clock;
mod delivery;
mod drawing;
mod error;
mod guide;
mod handling;
mod ids;
mod judging;
mod level;
mod localized_text;
mod log;
mod marks;
mod number;
mod orders;
mod photos;
mod screen;
mod shop_messages;
mod views;
mod words;

pub use background::*;
pub use bikes::*;
pub use book::*;
pub use bundles::*;
pub use catalogues::*;
pub use clock::*;
pub use delivery::*;
pub use drawing::*;
pub use error::*;
pub use guide::*;
pub use handling::*;
pub use ids::*;
pub use judging::*;
pub use level::*;
pub use localized_text::*;
pub use log::*;
pub use marks::*;
pub use number::*;
pub use orders::*;
pub use photos::*;
pub use screen::*;
pub use shop_messages::*;
pub use views::*;
pub use words::*;

uniffi::setup_scaffolding!("steerwright");

/// The version of the engine, as written in reports and bundles.
#[uniffi::export]
pub fn engine_version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// Panics with the given message, so that a host app can test how it reports an internal error. The panic
/// arrives as the language's own internal error and contains the message. It returns a `Result` because in
/// Swift only a throwing call can report a panic.
#[uniffi::export]
#[expect(clippy::panic, reason = "what it is for")]
pub fn fail_on_purpose(words: String) -> Result<(), SteerwrightError> {
    panic!("{words}");
}
