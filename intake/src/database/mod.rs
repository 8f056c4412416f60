//! One database, SQLite or PostgreSQL, spoken to with one SQL.
//!
//! The field book's SQLite (rusqlite) and a toolkit that brings its own cannot be linked into one program, so there are
//! two small backends under one [`Database`]. A [`Statement`] is written once: places are `$1`, `$2` and so on, each
//! first named in this order, which both understand. Everything handed to [`Database::run`] is one transaction.

mod migrate;
mod postgres;
mod sqlite;
mod value;

pub use value::{Row, Statement, Value};

use std::path::Path;
use std::time::Duration;

/// How long a statement waits for another process's lock before it is an error.
const LOCK_WAIT: Duration = Duration::from_secs(10);

/// Why nothing was read or written. The texts name no value of any row.
#[derive(Debug, thiserror::Error)]
pub enum DatabaseError {
    /// A statement did not change the one row it had to: somebody else was first. Nothing was written.
    #[error("the row was changed by somebody else meanwhile")]
    Overtaken,
    /// A file or server of a newer program.
    #[error("the database has version {found}; this program knows up to {known}")]
    Newer {
        /// In the database.
        found: i64,
        /// This program's.
        known: i64,
    },
    /// What a row holds is not what this program writes.
    #[error("a row does not hold what was expected: {0}")]
    Row(&'static str),
    /// An address that is none of `sqlite:PATH`, `postgres://…`.
    #[error("not a database's address: {0}")]
    Address(String),
    /// SQLite says no.
    #[error("SQLite: {0}")]
    Sqlite(#[from] rusqlite::Error),
    /// PostgreSQL says no.
    #[error("PostgreSQL: {}", postgres::in_words(.0))]
    Postgres(#[from] tokio_postgres::Error),
    /// No connection to PostgreSQL.
    #[error("no connection to PostgreSQL: {0}")]
    Pool(String),
}

/// A database that is open and of this program's version; cheap to clone.
#[derive(Clone)]
pub struct Database(Backend);

#[derive(Clone)]
enum Backend {
    Sqlite(sqlite::Sqlite),
    Postgres(postgres::Postgres),
}

/// What came of one statement.
#[derive(Debug, Default)]
pub struct Outcome {
    /// The rows it gave; none for one that gives none.
    pub rows: Vec<Row>,
    /// Rows given, or rows changed by a statement that gives none.
    pub count: u64,
}

impl Database {
    /// Opens `sqlite:PATH` (made if it is not there) or `postgres://…` and brings it to this program's version.
    ///
    /// # Errors
    /// An address that is none, no access, or a database of a newer program, which is left as it is.
    pub async fn open(address: &str) -> Result<Self, DatabaseError> {
        let backend = if let Some(path) = address.strip_prefix("sqlite:") {
            let path = path.strip_prefix("//").unwrap_or(path);
            Backend::Sqlite(sqlite::Sqlite::open(Path::new(path))?)
        } else if address.starts_with("postgres://") || address.starts_with("postgresql://") {
            Backend::Postgres(postgres::Postgres::open(address).await?)
        } else {
            // A mistyped address may hold a password.
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

    /// Runs statements in one transaction, all or none of them; they are on the disk when this returns.
    ///
    /// # Errors
    /// [`DatabaseError::Overtaken`] where a statement that has to change one row changed none, and those of the backend.
    pub async fn run(&self, statements: Vec<Statement>) -> Result<Vec<Outcome>, DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.run(statements).await,
            Backend::Postgres(postgres) => postgres.run(&statements).await,
        }
    }

    /// Empties SQLite's log, where rows that were just erased still stand; erased pages themselves are overwritten. What
    /// PostgreSQL keeps of erased rows goes with its own vacuum.
    ///
    /// # Errors
    /// The backend's.
    pub async fn wipe_traces(&self) -> Result<(), DatabaseError> {
        match &self.0 {
            Backend::Sqlite(sqlite) => sqlite.empty_log().await,
            Backend::Postgres(_) => Ok(()),
        }
    }

    /// Runs one statement; see [`Database::run`].
    ///
    /// # Errors
    /// As there.
    pub async fn one(&self, statement: Statement) -> Result<Outcome, DatabaseError> {
        Ok(self.run(vec![statement]).await?.pop().unwrap_or_default())
    }
}
