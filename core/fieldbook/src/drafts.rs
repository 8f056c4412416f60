//! Marks that are being set on a photo.

use super::stored::JsonText;
use super::{BookError, FieldBook, Op, PhotoId, Reader, photos};
use rusqlite::{OptionalExtension, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

impl FieldBook {
    /// Keeps the draft of a photo's marks in place of the one before; it is no step to undo.
    ///
    /// # Errors
    /// No such photo.
    pub fn keep_draft<T: Serialize>(&mut self, photo: PhotoId, draft: &T) -> Result<(), BookError> {
        self.transact(Op::MeasurePhoto, |work| {
            work.step(|work| {
                photos::key_of(work.tx(), photo)?;
                work.tx()
                    .prepare_cached(
                        "INSERT INTO photo_drafts (photo, draft) VALUES (?1, ?2)
                         ON CONFLICT (photo) DO UPDATE SET draft = excluded.draft",
                    )?
                    .execute(params![photo, JsonText(draft)])?;
                Ok(())
            })
        })?;
        Ok(())
    }
}

impl Reader {
    /// The draft of a photo's marks; `None` if there is none, or one that cannot be read as `T`.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn draft<T: DeserializeOwned>(&self, photo: PhotoId) -> Result<Option<T>, BookError> {
        self.read(|conn| {
            let text: Option<String> = conn
                .prepare_cached("SELECT draft FROM photo_drafts WHERE photo = ?1")?
                .query_row([photo], |row| row.get(0))
                .optional()?;
            Ok(text.and_then(|text| serde_json::from_str(&text).ok()))
        })
    }
}
