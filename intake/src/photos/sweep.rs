//! Removes objects of the photo store that no row names: what a process left that was killed between its object and its row.

use super::{PhotoStore, UploadError};
use crate::database::{Database, Statement};
use futures_util::TryStreamExt;
use steerwright_metrology::timestamp::Timestamp;

/// Deletes objects that no row names and that were stored before `before`, and returns their keys. A younger one may be of
/// an upload whose row is still to be written.
///
/// # Errors
/// The database or the photo store; objects deleted before the error stay deleted.
pub async fn sweep(
    database: &Database,
    photo_store: &PhotoStore,
    before: Timestamp,
) -> Result<Vec<String>, UploadError> {
    let mut removed = Vec::new();
    let mut objects = photo_store.list();
    while let Some((key, stored_at)) = objects.try_next().await? {
        if stored_at >= before {
            continue;
        }
        let named = database
            .run_one(Statement::new(
                "SELECT object_key FROM photos WHERE object_key = $1
                 UNION ALL SELECT object_key FROM photo_parts WHERE object_key = $1",
                [key.as_str().into()],
            ))
            .await?;
        if named.rows.is_empty() {
            photo_store.delete(&key).await?;
            tracing::info!(object = key, "removed an object that no row names");
            removed.push(key);
        }
    }
    Ok(removed)
}
