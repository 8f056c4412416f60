//! Steerwright's core as the phones' shells and Python call it.
//!
//! This crate alone knows UniFFI. It adds no rule of its own: what a bike is, what fits and what an order request may
//! become is decided by the core, which it asks in a few coarse calls. Plain enums and small records of the core are
//! declared to UniFFI as they are (`#[uniffi::remote]`, checked by the compiler against the core's own); what a screen
//! shows is a thin view, and a deep document (a report) also comes as the text of its published JSON format, so that
//! none of its hundred fields is mirrored by hand.
//!
//! UniFFI's macros write `unsafe` code for the calls across, so this crate cannot forbid it; it has none of its own.
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
pub use words::*;

uniffi::setup_scaffolding!("steerwright");

/// The version of the engine, as reports and bundles name it.
#[uniffi::export]
pub fn engine_version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// Fails as a mistake in this library would, with these words: for a shell to try how it reports one. A mistake arrives
/// as the language's own internal error with the words in it. In Swift only a call that can throw may tell of one, so this
/// one does.
#[uniffi::export]
#[expect(clippy::panic, reason = "what it is for")]
pub fn fail_on_purpose(words: String) -> Result<(), SteerwrightError> {
    panic!("{words}");
}
