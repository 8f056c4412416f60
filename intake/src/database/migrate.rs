//! Bringing a database to this program's version: each step and its number commit together.

use super::{DatabaseError, LOCK_WAIT};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};

/// The steps, the first makes version 1; a step that was released is never changed.
const STEPS: &[&str] = &[include_str!("schema_1.sql"), include_str!("schema_2.sql")];

/// Makes several processes that start at once wait for each other; any number does, as long as it stays.
const LOCK: i64 = 0x5374_6565_7277;

const VERSION_TABLE: &str = "CREATE TABLE IF NOT EXISTS intake_version (version BIGINT NOT NULL)";

/// The steps that are still to be taken.
fn missing(found: i64) -> Result<impl Iterator<Item = (i64, &'static str)>, DatabaseError> {
    let known = STEPS.len() as i64;
    if !(0..=known).contains(&found) {
        return Err(DatabaseError::Newer { found, known });
    }
    Ok((1..).zip(STEPS.iter().copied()).filter(move |(version, _)| *version > found))
}

pub(super) fn sqlite(connection: &mut Connection) -> Result<(), DatabaseError> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    transaction.execute_batch(VERSION_TABLE)?;
    let found =
        transaction.query_row("SELECT version FROM intake_version", [], |row| row.get(0)).optional()?;
    for (version, step) in missing(found.unwrap_or(0))? {
        let step =
            step.replace("{number}", "INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL").replace("{bytes}", "BLOB");
        transaction.execute_batch(&step)?;
        transaction.execute_batch("DELETE FROM intake_version")?;
        transaction.execute("INSERT INTO intake_version (version) VALUES (?1)", [version])?;
    }
    transaction.commit()?;
    Ok(())
}

pub(super) async fn postgres(client: &mut deadpool_postgres::Client) -> Result<(), DatabaseError> {
    let transaction = client.transaction().await?;
    let wait = format!("SET LOCAL lock_timeout = {}", LOCK_WAIT.as_millis());
    transaction.batch_execute(&wait).await?;
    transaction.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).await?;
    transaction.batch_execute(VERSION_TABLE).await?;
    let found = transaction.query_opt("SELECT version FROM intake_version", &[]).await?;
    let found: i64 = found.map_or(Ok(0), |row| row.try_get(0))?;
    for (version, step) in missing(found)? {
        let step = step
            .replace("{number}", "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY")
            .replace("{bytes}", "BYTEA");
        transaction.batch_execute(&step).await?;
        transaction.batch_execute("DELETE FROM intake_version").await?;
        transaction.execute("INSERT INTO intake_version (version) VALUES ($1)", &[&version]).await?;
    }
    transaction.commit().await?;
    Ok(())
}
