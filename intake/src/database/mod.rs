//! The database, SQLite or PostgreSQL, with the same SQL for both.
//!
//! [`Database`] hides two backends, over rusqlite and tokio-postgres. A toolkit with a SQLite of its own cannot be linked
//! into one program with rusqlite, so there is none. The parameters of a [`Statement`] are `$1`, `$2` and so on, each
//! first used in this order, which both backends understand. The statements of [`Database::transaction`] are one
//! transaction.

mod migrate;
mod postgres;
mod sqlite;
mod value;

pub use value::{Row, Statement, Value};

use std::path::Path;
use std::time::Duration;

/// How long to wait for a lock or a connection before it is an error.
const LOCK_WAIT: Duration = Duration::from_secs(10);

/// Why nothing was read or written. The messages contain no value of any row.
#[derive(Debug, thiserror::Error)]
pub enum DatabaseError {
    /// A statement with [`Statement::expecting_one_row`] changed another number of rows, because a concurrent transaction
    /// was first. Nothing was written.
    #[error("the row was changed by somebody else meanwhile")]
    Conflict,
    /// The schema is that of a newer program.
    #[error("the database has schema version {found}; this program knows up to {known}")]
    NewerSchema {
        /// In the database.
        found: i64,
        /// The newest this program knows.
        known: i64,
    },
    /// A column of a result holds another type than the program reads.
    #[error("column {column} of a result: expected {expected}, found {found}")]
    Column {
        /// Counted from 1.
        column: usize,
        /// The type that is read.
        expected: &'static str,
        /// The type that is there.
        found: String,
    },
    /// A stored value is outside the domain of its column.
    #[error("{column} in the database: expected {expected}")]
    Domain {
        /// Table and column.
        column: &'static str,
        /// The domain.
        expected: &'static str,
    },
    /// A statement's parameters are not numbered in the order of their first use.
    #[error("parameter {position} of a statement is named {found:?}, expected ${position}")]
    Parameter {
        /// Counted from 1.
        position: usize,
        /// Its name in the statement.
        found: String,
    },
    /// The task that worked on the database panicked or was cancelled.
    #[error("the database task failed: {0}")]
    Task(#[from] tokio::task::JoinError),
    /// An address other than `sqlite:PATH` or `postgres://…`.
    #[error("not a database's address: {0}")]
    Address(String),
    /// An error of SQLite.
    #[error("SQLite: {0}")]
    Sqlite(#[from] rusqlite::Error),
    /// An error of PostgreSQL.
    #[error("PostgreSQL: {}", postgres::describe(.0))]
    Postgres(#[from] tokio_postgres::Error),
    /// No connection to PostgreSQL.
    #[error("no connection to PostgreSQL: {0}")]
    Pool(String),
}

/// An open database with this program's schema. Clones share it.
#[derive(Clone)]
pub struct Database(Backend);

#[derive(Clone)]
enum Backend {
    Sqlite(sqlite::Sqlite),
    Postgres(postgres::Postgres),
}

/// The result of one statement.
#[derive(Debug, Default)]
pub struct StatementResult {
    /// The rows it returned.
    pub rows: Vec<Row>,
    /// The number of rows it returned, or else changed.
    pub count: u64,
}

impl Database {
    /// Opens `sqlite:PATH`, which is created if missing, or `postgres://…`, and migrates it to this program's schema.
    ///
    /// # Errors
    /// An invalid address, no access, a failed migration, or [`DatabaseError::NewerSchema`].
    pub async fn open(address: &str) -> Result<Self, DatabaseError> {
        Self::open_with_schema(address, migrate::STEPS).await
    }

    /// [`Database::open`] with other schema steps, so that migration can be tested apart from this program's schema. In a
    /// step `{number}` stands for the backend's generated primary key and `{bytes}` for its type of bytes.
    ///
    /// # Errors
    /// Those of [`Database::open`], and a step that fails; then the database keeps its version and content.
    pub async fn open_with_schema(address: &str, steps: &[&str]) -> Result<Self, DatabaseError> {
        let backend = if let Some(path) = address.strip_prefix("sqlite:") {
            let path = path.strip_prefix("//").unwrap_or(path);
            Backend::Sqlite(sqlite::Sqlite::open(Path::new(path), steps)?)
        } else if address.starts_with("postgres://") || address.starts_with("postgresql://") {
            Backend::Postgres(postgres::Postgres::open(address, steps).await?)
        } else {
            // The rest of a mistyped address may contain a password.
            let scheme = address.split(':').next().unwrap_or_default().to_owned();
            return Err(DatabaseError::Address(format!(
                "it begins with {scheme:?}; expected sqlite:PATH or postgres://…"
            )));
        };
        Ok(Self(backend))
    }

    /// `"sqlite"` or `"postgres"`.
    pub fn kind(&self) -> &'static str {
        match &self.0 {
            Backend::Sqlite(_) => "sqlite",
            Backend::Postgres(_) => "postgres",
        }
    }

    /// Runs statements in one transaction: all of them take effect or none. The transaction is durable on return.
    ///
    /// # Errors
    /// [`DatabaseError::Conflict`] for a statement that does not change the one row it has to, and those of the backend.
    pub async fn transaction(
        &self,
        statements: Vec<Statement>,
    ) -> Result<Vec<StatementResult>, DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.transaction(statements).await,
            Backend::Postgres(postgres) => postgres.transaction(&statements).await,
        }
    }

    /// Truncates SQLite's write-ahead log, which still contains rows that were just erased; the pages of the file are
    /// overwritten by `secure_delete`. PostgreSQL removes erased rows by its own vacuum.
    ///
    /// # Errors
    /// The backend's.
    pub async fn purge_erased(&self) -> Result<(), DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.truncate_wal().await,
            Backend::Postgres(_) => Ok(()),
        }
    }

    /// Runs one statement in a transaction of its own.
    ///
    /// # Errors
    /// Those of [`Database::transaction`].
    pub async fn run_one(&self, statement: Statement) -> Result<StatementResult, DatabaseError> {
        Ok(self.transaction(vec![statement]).await?.pop().unwrap_or_default())
    }
}
