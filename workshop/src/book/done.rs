//! Result of a command that changes the book.

use super::which::Named;
use crate::fault::Fault;
use crate::output;
use serde::Serialize;
use serde_json::{Map, Value};
use steerwright_core::book::{BikeRow, Op};

/// The change, as in the JSON output of every command that changes the book.
#[derive(Debug, Serialize)]
pub(super) struct Done {
    /// The kind of change, by the name of its undo step.
    did: Op,
    /// The change as a sentence.
    text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    bike: Option<Named>,
    /// Further values, by name.
    #[serde(flatten)]
    more: Map<String, Value>,
}

impl Done {
    pub(super) fn new(did: Op, text: impl Into<String>) -> Self {
        Self { did, text: text.into(), bike: None, more: Map::new() }
    }

    pub(super) fn bike(mut self, bike: &BikeRow) -> Self {
        self.bike = Some(bike.into());
        self
    }

    pub(super) fn with(mut self, name: &str, value: impl Serialize) -> Self {
        // Ids, numbers and rows of the book always serialize; `null` would reveal a bug.
        self.more.insert(name.to_owned(), serde_json::to_value(value).unwrap_or_default());
        self
    }

    pub(super) fn print(&self, json: bool) -> Result<(), Fault> {
        if json { output::print_json(self) } else { output::print(&crate::text::book::sentence(&self.text)) }
    }
}
