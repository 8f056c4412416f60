//! Schema migration: applies the missing steps in order and records the new version, in one transaction.

use super::{DatabaseError, LOCK_WAIT};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};

/// The schema as a sequence of steps. Step `n`, counted from 1, migrates a database from version `n - 1` to `n`.
///
/// Until the first release there is one step, changed in place. After that, a released step is never changed;
/// new steps are appended.
pub(super) const STEPS: &[&str] = &[include_str!("schema.sql")];

/// Key of PostgreSQL's advisory lock, which makes processes that start together migrate one after another.
/// The value is arbitrary but must not change.
const LOCK: i64 = 0x5374_6565_7277;

const VERSION_TABLE: &str = "CREATE TABLE IF NOT EXISTS schema_version (version BIGINT NOT NULL)";

/// The steps missing in a database of version `found`, with the version each produces.
fn missing<'s>(
    steps: &'s [&'s str],
    found: i64,
) -> Result<impl Iterator<Item = (i64, &'s str)> + use<'s>, DatabaseError> {
    let known = steps.len() as i64;
    if !(0..=known).contains(&found) {
        return Err(DatabaseError::NewerSchema { found, known });
    }
    Ok((1..).zip(steps.iter().copied()).filter(move |(version, _)| *version > found))
}

pub(super) fn sqlite(connection: &mut Connection, steps: &[&str]) -> Result<(), DatabaseError> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    transaction.execute_batch(VERSION_TABLE)?;
    let found =
        transaction.query_row("SELECT version FROM schema_version", [], |row| row.get(0)).optional()?;
    for (version, step) in missing(steps, found.unwrap_or(0))? {
        let step =
            step.replace("{number}", "INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL").replace("{bytes}", "BLOB");
        transaction.execute_batch(&step)?;
        transaction.execute_batch("DELETE FROM schema_version")?;
        transaction.execute("INSERT INTO schema_version (version) VALUES (?1)", [version])?;
    }
    transaction.commit()?;
    Ok(())
}

pub(super) async fn postgres(
    client: &mut deadpool_postgres::Client,
    steps: &[&str],
) -> Result<(), DatabaseError> {
    let transaction = client.transaction().await?;
    let wait = format!("SET LOCAL lock_timeout = {}", LOCK_WAIT.as_millis());
    transaction.batch_execute(&wait).await?;
    transaction.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).await?;
    transaction.batch_execute(VERSION_TABLE).await?;
    let found = transaction.query_opt("SELECT version FROM schema_version", &[]).await?;
    let found: i64 = found.map_or(Ok(0), |row| row.try_get(0))?;
    for (version, step) in missing(steps, found)? {
        let step = step
            .replace("{number}", "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY")
            .replace("{bytes}", "BYTEA");
        transaction.batch_execute(&step).await?;
        transaction.batch_execute("DELETE FROM schema_version").await?;
        transaction.execute("INSERT INTO schema_version (version) VALUES ($1)", &[&version]).await?;
    }
    transaction.commit().await?;
    Ok(())
}
