//! The answer of a call that changed the book.

use super::which::Named;
use crate::fault::Fault;
use crate::output;
use serde::Serialize;
use serde_json::{Map, Value};
use steerwright_core::book::{BikeRow, Op};

/// What was done, in the JSON of every call that changes the book.
#[derive(Debug, Serialize)]
pub(super) struct Done {
    /// What it was, by the name of the step to undo.
    did: Op,
    /// The same in a sentence.
    text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    bike: Option<Named>,
    /// What else there is to tell, by its name.
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
        // Ids, numbers and rows of the book all have a JSON form; `null` would be a mistake that shows.
        self.more.insert(name.to_owned(), serde_json::to_value(value).unwrap_or_default());
        self
    }

    pub(super) fn print(&self, json: bool) -> Result<(), Fault> {
        if json { output::print_json(self) } else { output::print(&crate::text::book::sentence(&self.text)) }
    }
}
