//! What undo would undo.

use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::{MeasurementId, Op};

/// The last action, as a button that undoes it and nothing else.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UndoView {
    /// The button.
    pub text: String,
    /// The action, to hand back with the event.
    pub expected: String,
}

/// The last action; `None` while there is nothing to undo, or where `reading` is given and another action came after it
/// was written down.
///
/// # Errors
/// The book cannot be read.
pub fn undo(context: &Context<'_>, reading: Option<MeasurementId>) -> Result<Option<UndoView>, ScreenError> {
    let Some(last) = context.reader.next_undo()? else { return Ok(None) };
    if let Some(reading) = reading {
        let newest = last.bikes.first().map(|(bike, _)| context.reader.bike_screen(*bike)).transpose()?;
        let is_newest = newest.is_some_and(|screen| {
            screen.log.iter().max_by_key(|row| row.recorded_at).is_some_and(|row| row.id == reading)
        });
        if last.op != Op::AddMeasurement || !is_newest {
            return Ok(None);
        }
    }
    Ok(Some(UndoView { text: context.words.text("undo"), expected: last.description() }))
}
