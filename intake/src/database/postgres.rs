//! The PostgreSQL backend: a connection pool. Connections use TLS with certificates that the platform verifies,
//! unless the address contains `sslmode=disable`.

use super::{DatabaseError, LOCK_WAIT, Row, Statement, StatementResult, Value, migrate};
use deadpool_postgres::{Manager, ManagerConfig, Pool, RecyclingMethod, Runtime};
use rustls::ClientConfig;
use rustls_platform_verifier::ConfigVerifierExt;
use std::str::FromStr;
use tokio_postgres::config::SslMode;
use tokio_postgres::types::{ToSql, Type};
use tokio_postgres::{Config, NoTls};
use tokio_postgres_rustls::MakeRustlsConnect;

/// The size of the connection pool.
const CONNECTIONS: usize = 16;

#[derive(Clone)]
pub(super) struct Postgres(Pool);

/// The server's message and error code. The detail is omitted because it repeats row values.
pub(super) fn describe(error: &tokio_postgres::Error) -> String {
    match error.as_db_error() {
        Some(error) => format!("{} ({})", error.message(), error.code().code()),
        // Why a connection failed is in its sources.
        None => chain(error),
    }
}

fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(error) = source {
        text = format!("{text}: {error}");
        source = error.source();
    }
    text
}

impl Postgres {
    pub(super) async fn open(address: &str, steps: &[&str]) -> Result<Self, DatabaseError> {
        // The parser's error may repeat the address with its password, so it is not shown.
        let mut config = Config::from_str(address)
            .map_err(|_| DatabaseError::Address("the address after postgres:// makes no sense".into()))?;
        config.connect_timeout(LOCK_WAIT).application_name("steerwright-intake");
        let manner = ManagerConfig { recycling_method: RecyclingMethod::Fast };
        let manager = if config.get_ssl_mode() == SslMode::Disable {
            Manager::from_config(config, NoTls, manner)
        } else {
            // The client's default falls back to plain text if the server declines TLS, and would send it the password.
            config.ssl_mode(SslMode::Require);
            let tls = ClientConfig::with_platform_verifier()
                .map_err(|error| DatabaseError::Pool(error.to_string()))?;
            Manager::from_config(config, MakeRustlsConnect::new(tls), manner)
        };
        let pool = Pool::builder(manager)
            .max_size(CONNECTIONS)
            .wait_timeout(Some(LOCK_WAIT))
            .create_timeout(Some(LOCK_WAIT))
            .runtime(Runtime::Tokio1)
            .build()
            .map_err(|error| DatabaseError::Pool(error.to_string()))?;
        let this = Self(pool);
        let mut client = this.client().await?;
        migrate::postgres(&mut client, steps).await?;
        drop(client);
        Ok(this)
    }

    async fn client(&self) -> Result<deadpool_postgres::Client, DatabaseError> {
        self.0.get().await.map_err(|error| DatabaseError::Pool(chain(&error)))
    }

    pub(super) async fn transaction(
        &self,
        statements: &[Statement],
    ) -> Result<Vec<StatementResult>, DatabaseError> {
        let mut client = self.client().await?;
        let transaction = client.transaction().await?;
        let mut outcomes = Vec::with_capacity(statements.len());
        for statement in statements {
            let prepared = transaction.prepare_cached(statement.sql).await?;
            let values: Vec<&(dyn ToSql + Sync)> =
                statement.values.iter().map(|value| value as &(dyn ToSql + Sync)).collect();
            let outcome = if prepared.columns().is_empty() {
                StatementResult { rows: Vec::new(), count: transaction.execute(&prepared, &values).await? }
            } else {
                let rows = transaction.query(&prepared, &values).await?;
                let rows = rows.iter().map(read).collect::<Result<Vec<_>, _>>()?;
                StatementResult { count: rows.len() as u64, rows }
            };
            if statement.expects_one_row && outcome.count != 1 {
                transaction.rollback().await?;
                return Err(DatabaseError::Conflict);
            }
            outcomes.push(outcome);
        }
        transaction.commit().await?;
        Ok(outcomes)
    }
}

fn read(row: &tokio_postgres::Row) -> Result<Row, DatabaseError> {
    let value = |(index, column): (usize, &tokio_postgres::Column)| {
        let found = match *column.type_() {
            Type::INT8 => row.try_get::<_, Option<i64>>(index)?.map(Value::Int),
            Type::TEXT => row.try_get::<_, Option<String>>(index)?.map(Value::Text),
            Type::BYTEA => row.try_get::<_, Option<Vec<u8>>>(index)?.map(Value::Bytes),
            ref other => {
                let (expected, found) = ("BIGINT, TEXT or BYTEA", other.to_string());
                return Err(DatabaseError::Column { column: index + 1, expected, found });
            }
        };
        Ok(found.unwrap_or(Value::Null))
    };
    Ok(Row::new(row.columns().iter().enumerate().map(value).collect::<Result<_, _>>()?))
}
