//! The SQLite side: one file, one connection a process, write-ahead log, every commit on the disk.

use super::{DatabaseError, LOCK_WAIT, Outcome, Row, Statement, Value, migrate};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// An open file. SQLite lets one write at a time, so one connection loses nothing there; readings are short.
#[derive(Clone)]
pub(super) struct Sqlite(Arc<Mutex<Connection>>);

impl Sqlite {
    pub(super) fn open(path: &Path) -> Result<Self, DatabaseError> {
        let mut connection = Connection::open(path)?;
        connection.busy_timeout(LOCK_WAIT)?;
        // The answer "stored" may only be given once the disk has it, so FULL.
        connection.execute_batch(
            "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;
             PRAGMA secure_delete = ON;",
        )?;
        migrate::sqlite(&mut connection)?;
        Ok(Self(Arc::new(Mutex::new(connection))))
    }

    pub(super) async fn run(&self, statements: Vec<Statement>) -> Result<Vec<Outcome>, DatabaseError> {
        self.with(move |connection| run(connection, &statements)).await
    }

    pub(super) async fn empty_log(&self) -> Result<(), DatabaseError> {
        self.with(|connection| {
            // Another process that reads just now may hold it up; the next one does it then.
            connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
            Ok(())
        })
        .await
    }

    async fn with<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Connection) -> Result<T, DatabaseError> + Send + 'static,
    ) -> Result<T, DatabaseError> {
        let connection = Arc::clone(&self.0);
        let work = tokio::task::spawn_blocking(move || {
            // A panic in between has rolled its transaction back, so the connection is sound.
            let mut connection = connection.lock().unwrap_or_else(PoisonError::into_inner);
            work(&mut connection)
        });
        work.await.unwrap_or(Err(DatabaseError::Row("an end of the work")))
    }
}

fn run(connection: &mut Connection, statements: &[Statement]) -> Result<Vec<Outcome>, DatabaseError> {
    let reads_only = statements.iter().all(|statement| statement.sql.starts_with("SELECT"));
    // A transaction that begins by reading and writes later may fail halfway where another process wrote meanwhile.
    let behavior = if reads_only { TransactionBehavior::Deferred } else { TransactionBehavior::Immediate };
    let transaction = connection.transaction_with_behavior(behavior)?;
    let mut outcomes = Vec::with_capacity(statements.len());
    for statement in statements {
        let outcome = one(&transaction, statement)?;
        if statement.has_to_change_one && outcome.count != 1 {
            return Err(DatabaseError::Overtaken);
        }
        outcomes.push(outcome);
    }
    transaction.commit()?;
    Ok(outcomes)
}

fn one(connection: &Connection, statement: &Statement) -> Result<Outcome, DatabaseError> {
    let mut prepared = connection.prepare_cached(statement.sql)?;
    for (place, value) in (1..).zip(&statement.values) {
        // SQLite numbers named places as it meets them; PostgreSQL goes by the digits.
        if prepared.parameter_name(place).is_none_or(|name| *name != *format!("${place}")) {
            return Err(DatabaseError::Row("places named in their order"));
        }
        prepared.raw_bind_parameter(place, value)?;
    }
    let columns = prepared.column_count();
    if columns == 0 {
        let count = prepared.raw_execute()?;
        return Ok(Outcome { rows: Vec::new(), count: count as u64 });
    }
    let mut found = prepared.raw_query();
    let mut rows = Vec::new();
    while let Some(row) = found.next()? {
        let values = (0..columns).map(|column| owned(row.get_ref(column)?));
        rows.push(Row(values.collect::<Result<_, DatabaseError>>()?));
    }
    Ok(Outcome { count: rows.len() as u64, rows })
}

fn owned(value: ValueRef<'_>) -> Result<Value, DatabaseError> {
    Ok(match value {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(value) => Value::Int(value),
        ValueRef::Text(value) => Value::Text(
            std::str::from_utf8(value).map_err(|_| DatabaseError::Row("text in UTF-8"))?.to_owned(),
        ),
        ValueRef::Blob(value) => Value::Bytes(value.to_vec()),
        ValueRef::Real(_) => return Err(DatabaseError::Row("no fraction")),
    })
}
