//! The database, SQLite or PostgreSQL, with the same SQL for both.
//!
//! [`Database`] hides two backends, based on rusqlite and tokio-postgres. A common toolkit is not used,
//! because a second copy of the SQLite library cannot be linked into the same program. The parameters of a
//! [`Statement`] are `$1`, `$2` and so on, first used in this order, which both backends understand. The
//! statements of [`Database::transaction`] form one transaction.

mod migrate;
mod postgres;
mod sqlite;
mod value;

pub use value::{Row, Statement, Value};

use std::path::Path;
use std::time::Duration;

/// Maximum wait for a lock or a connection; after that it is an error.
const LOCK_WAIT: Duration = Duration::from_secs(10);

/// Why a database operation failed. The messages contain no row values.
#[derive(Debug, thiserror::Error)]
pub enum DatabaseError {
    /// A statement with [`Statement::expecting_one_row`] did not change exactly one row, because a concurrent
    /// transaction was first. Nothing was written.
    #[error("the row was changed by somebody else meanwhile")]
    Conflict,
    /// The schema is newer than this program.
    #[error("the database has schema version {found}; this program knows up to {known}")]
    NewerSchema {
        /// Version in the database.
        found: i64,
        /// Newest version known to this program.
        known: i64,
    },
    /// A result column has an unexpected type.
    #[error("column {column} of a result: expected {expected}, found {found}")]
    Column {
        /// Column, counted from 1.
        column: usize,
        /// Expected type.
        expected: &'static str,
        /// Actual type.
        found: String,
    },
    /// A stored value is outside the domain of its column.
    #[error("{column} in the database: expected {expected}")]
    Domain {
        /// Table and column.
        column: &'static str,
        /// Expected domain.
        expected: &'static str,
    },
    /// The parameters of a statement are not numbered in the order of first use.
    #[error("parameter {position} of a statement is named {found:?}, expected ${position}")]
    Parameter {
        /// Position, counted from 1.
        position: usize,
        /// Name in the statement.
        found: String,
    },
    /// The database task panicked or was cancelled.
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
    /// No connection to PostgreSQL could be established.
    #[error("no connection to PostgreSQL: {0}")]
    Pool(String),
}

/// An open database with the current schema. Clones share it.
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
    /// The number of returned rows, or else of changed rows.
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

    /// [`Database::open`] with other schema steps, so that migration can be tested independently of this
    /// program's schema. In a step, `{number}` stands for the backend's generated primary key and `{bytes}`
    /// for its byte string type.
    ///
    /// # Errors
    /// Those of [`Database::open`]. If a step fails, the database keeps its version and content.
    pub async fn open_with_schema(address: &str, steps: &[&str]) -> Result<Self, DatabaseError> {
        let backend = if let Some(path) = address.strip_prefix("sqlite:") {
            let path = path.strip_prefix("//").unwrap_or(path);
            Backend::Sqlite(sqlite::Sqlite::open(Path::new(path), steps)?)
        } else if address.starts_with("postgres://") || address.starts_with("postgresql://") {
            Backend::Postgres(postgres::Postgres::open(address, steps).await?)
        } else {
            // The rest of a mistyped address may contain a password, so only the scheme is shown.
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

    /// Runs statements in one transaction: all or none take effect. The transaction is durable on return.
    ///
    /// # Errors
    /// [`DatabaseError::Conflict`] for a statement that does not change exactly one row although it has to;
    /// errors of the backend.
    pub async fn transaction(
        &self,
        statements: Vec<Statement>,
    ) -> Result<Vec<StatementResult>, DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.transaction(statements).await,
            Backend::Postgres(postgres) => postgres.transaction(&statements).await,
        }
    }

    /// Truncates SQLite's write-ahead log, which still contains erased rows; pages of the database file are
    /// overwritten because of `secure_delete`. Returns false if a reader was in the way: then it has to be called again.
    /// PostgreSQL removes erased rows by its own vacuum.
    ///
    /// # Errors
    /// Those of the backend.
    pub async fn purge_erased(&self) -> Result<bool, DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.truncate_wal().await,
            Backend::Postgres(_) => Ok(true),
        }
    }

    /// Writes a copy of an SQLite database into a file that must not exist.
    ///
    /// # Errors
    /// [`DatabaseError::Address`] for PostgreSQL, whose own program makes copies; those of the backend.
    pub async fn copy_into(&self, file: &Path) -> Result<(), DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.copy_into(file).await,
            Backend::Postgres(_) => Err(DatabaseError::Address(
                "a backup of PostgreSQL is made with pg_dump; note it with `backup --made-with-pg-dump FILE`"
                    .to_owned(),
            )),
        }
    }

    /// Runs one statement in its own transaction.
    ///
    /// # Errors
    /// Those of [`Database::transaction`].
    pub async fn run_one(&self, statement: Statement) -> Result<StatementResult, DatabaseError> {
        Ok(self.transaction(vec![statement]).await?.pop().unwrap_or_default())
    }
}
