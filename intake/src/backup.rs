//! Backups of the database. Photos are files, or objects of a bucket, and are copied as such.

use crate::database::{Database, DatabaseError, Statement};
use std::path::Path;
use steerwright_metrology::timestamp::Timestamp;

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// When.
    pub at: Timestamp,
    /// Where it went.
    pub file: String,
}

/// Writes a whole and consistent copy of an SQLite database into a file that must not exist, while it is in use, and notes
/// that.
///
/// # Errors
/// Another database than SQLite, a file that is there or cannot be written, or the database.
pub async fn write(database: &Database, file: &Path, now: Timestamp) -> Result<(), DatabaseError> {
    database.copy_into(file).await?;
    note(database, &file.display().to_string(), now).await
}

/// Notes a backup that another program made, such as `pg_dump`.
///
/// # Errors
/// The database.
pub async fn note(database: &Database, file: &str, now: Timestamp) -> Result<(), DatabaseError> {
    let noted = Statement::new("INSERT INTO backups (at, file) VALUES ($1, $2)", [now.0.into(), file.into()]);
    database.run_one(noted).await?;
    Ok(())
}

/// The last backup.
///
/// # Errors
/// The database.
pub async fn last(database: &Database) -> Result<Option<Backup>, DatabaseError> {
    let found = database
        .run_one(Statement::new("SELECT at, file FROM backups ORDER BY number DESC LIMIT 1", []))
        .await?;
    let backup = |mut row: crate::database::Row| Ok(Backup { at: Timestamp(row.int()?), file: row.text()? });
    found.rows.into_iter().next().map(backup).transpose()
}
