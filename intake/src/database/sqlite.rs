//! The SQLite backend: one file, one connection per process, a write-ahead log, durable commits.

use super::{DatabaseError, LOCK_WAIT, Row, Statement, StatementResult, Value, migrate};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// An open database file. SQLite allows one writer at a time, so one connection does not reduce write
/// concurrency; reads are short.
#[derive(Clone)]
pub(super) struct Sqlite(Arc<Mutex<Connection>>);

impl Sqlite {
    pub(super) fn open(path: &Path, steps: &[&str]) -> Result<Self, DatabaseError> {
        let mut connection = Connection::open(path)?;
        connection.busy_timeout(LOCK_WAIT)?;
        // A response may state "stored" only once the transaction is durable: FULL syncs the log at each commit.
        connection.execute_batch(
            "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;
             PRAGMA secure_delete = ON;",
        )?;
        migrate::sqlite(&mut connection, steps)?;
        Ok(Self(Arc::new(Mutex::new(connection))))
    }

    pub(super) async fn transaction(
        &self,
        statements: Vec<Statement>,
    ) -> Result<Vec<StatementResult>, DatabaseError> {
        self.blocking(move |connection| transaction(connection, &statements)).await
    }

    /// Whether the log is empty now. A reader in another process prevents that without an error.
    pub(super) async fn truncate_wal(&self) -> Result<bool, DatabaseError> {
        self.blocking(|connection| {
            // The connection is shared, so that it waits no longer for a reader than a moment.
            connection.busy_timeout(Duration::from_millis(50))?;
            let busy: Result<i64, _> =
                connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0));
            connection.busy_timeout(LOCK_WAIT)?;
            Ok(busy? == 0)
        })
        .await
    }

    /// SQLite's own copy, which is one moment's state; it refuses a file that has something in it.
    pub(super) async fn copy_into(&self, file: &Path) -> Result<(), DatabaseError> {
        let name = file.to_string_lossy().into_owned();
        self.blocking(move |connection| {
            connection.execute("VACUUM INTO ?1", [name])?;
            Ok(())
        })
        .await
    }

    async fn blocking<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Connection) -> Result<T, DatabaseError> + Send + 'static,
    ) -> Result<T, DatabaseError> {
        let connection = Arc::clone(&self.0);
        let work = tokio::task::spawn_blocking(move || {
            // A panic drops its transaction, which rolls it back, so a poisoned connection is usable.
            let mut connection = connection.lock().unwrap_or_else(PoisonError::into_inner);
            work(&mut connection)
        });
        work.await?
    }
}

fn transaction(
    connection: &mut Connection,
    statements: &[Statement],
) -> Result<Vec<StatementResult>, DatabaseError> {
    let reads_only = statements.iter().all(|statement| statement.sql.starts_with("SELECT"));
    // A deferred transaction that reads and then writes fails if another process wrote in between.
    let behavior = if reads_only { TransactionBehavior::Deferred } else { TransactionBehavior::Immediate };
    let transaction = connection.transaction_with_behavior(behavior)?;
    let mut outcomes = Vec::with_capacity(statements.len());
    for statement in statements {
        let outcome = run_one(&transaction, statement)?;
        if statement.expects_one_row && outcome.count != 1 {
            return Err(DatabaseError::Conflict);
        }
        outcomes.push(outcome);
    }
    transaction.commit()?;
    Ok(outcomes)
}

fn run_one(connection: &Connection, statement: &Statement) -> Result<StatementResult, DatabaseError> {
    let mut prepared = connection.prepare_cached(statement.sql)?;
    for (position, value) in (1..).zip(&statement.values) {
        // SQLite numbers named parameters in the order of their first use; PostgreSQL takes the number from the name.
        let name = prepared.parameter_name(position).unwrap_or_default();
        if *name != *format!("${position}") {
            return Err(DatabaseError::Parameter { position, found: name.to_owned() });
        }
        prepared.raw_bind_parameter(position, value)?;
    }
    let columns = prepared.column_count();
    if columns == 0 {
        let count = prepared.raw_execute()?;
        return Ok(StatementResult { rows: Vec::new(), count: count as u64 });
    }
    let mut found = prepared.raw_query();
    let mut rows = Vec::new();
    while let Some(row) = found.next()? {
        let values = (0..columns).map(|column| value(column, row.get_ref(column)?));
        rows.push(Row::new(values.collect::<Result<_, _>>()?));
    }
    Ok(StatementResult { count: rows.len() as u64, rows })
}

fn value(column: usize, value: ValueRef<'_>) -> Result<Value, DatabaseError> {
    let error =
        |expected, found: &str| DatabaseError::Column { column: column + 1, expected, found: found.into() };
    Ok(match value {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(value) => Value::Int(value),
        ValueRef::Text(value) => {
            let text = std::str::from_utf8(value).map_err(|_| error("text in UTF-8", "other text"))?;
            Value::Text(text.to_owned())
        }
        ValueRef::Blob(value) => Value::Bytes(value.to_vec()),
        ValueRef::Real(_) => return Err(error("an integer, text or bytes", "a floating-point number")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_panicked_task_is_an_error_of_the_task() {
        let sqlite =
            Sqlite::open(Path::new(":memory:"), &["CREATE TABLE counts (count BIGINT NOT NULL)"]).unwrap();
        let panicked: Result<(), _> = sqlite
            .blocking(|connection| {
                let transaction = connection.transaction()?;
                transaction.execute("INSERT INTO counts (count) VALUES (1)", [])?;
                panic!("a made-up fault")
            })
            .await;
        let error = panicked.unwrap_err();
        assert!(matches!(error, DatabaseError::Task(_)), "{error:?}");
        assert!(error.to_string().contains("a made-up fault"), "{error}");
        // The transaction is rolled back, and the connection stays usable.
        let count = vec![Statement::new("SELECT count(*) FROM counts", [])];
        let mut row = sqlite.transaction(count).await.unwrap().remove(0).rows.remove(0);
        assert_eq!(row.int().unwrap(), 0);
    }

    #[tokio::test]
    async fn parameters_are_numbered_in_order() {
        let sqlite = Sqlite::open(Path::new(":memory:"), &[]).unwrap();
        let swapped = Statement::new("SELECT $2, $1", [1.into(), 2.into()]);
        let error = sqlite.transaction(vec![swapped]).await.unwrap_err();
        assert_eq!(error.to_string(), "parameter 1 of a statement is named \"$2\", expected $1");
    }
}
