//! A bike's name, owner, tags and notes, as a form.

use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::BikeId;

/// What can be changed about a bike, as it is now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EditView {
    /// The bike.
    pub bike: BikeId,
    /// Its name.
    pub name: String,
    /// Its owner; may be empty.
    pub owner: String,
    /// Its tags, separated by commas.
    pub tags: String,
    /// Its notes.
    pub notes: String,
}

/// The form of a bike.
///
/// # Errors
/// No such bike.
pub fn edit(context: &Context<'_>, id: BikeId) -> Result<EditView, ScreenError> {
    let record = context.reader.bike_screen(id)?.record;
    Ok(EditView {
        bike: id,
        name: record.bike.name,
        owner: record.bike.owner.unwrap_or_default(),
        tags: record.tags.join(", "),
        notes: record.notes,
    })
}
