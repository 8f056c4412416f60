//! The PostgreSQL side: a pool of connections, TLS checked against the machine's roots unless the address says
//! `sslmode=disable`.

use super::{DatabaseError, LOCK_WAIT, Outcome, Row, Statement, Value, migrate};
use deadpool_postgres::{Manager, ManagerConfig, Pool, RecyclingMethod, Runtime};
use rustls::ClientConfig;
use rustls_platform_verifier::ConfigVerifierExt;
use std::str::FromStr;
use tokio_postgres::config::SslMode;
use tokio_postgres::types::{ToSql, Type};
use tokio_postgres::{Config, NoTls};
use tokio_postgres_rustls::MakeRustlsConnect;

/// Connections a process has at most.
const CONNECTIONS: usize = 16;

#[derive(Clone)]
pub(super) struct Postgres(Pool);

/// The server's own words, without the values that it repeats in its detail.
pub(super) fn in_words(error: &tokio_postgres::Error) -> String {
    match error.as_db_error() {
        Some(said) => format!("{} ({})", said.message(), said.code().code()),
        None => error.to_string(),
    }
}

impl Postgres {
    pub(super) async fn open(address: &str) -> Result<Self, DatabaseError> {
        // The reason of a refusal may repeat the address and its password.
        let mut config = Config::from_str(address)
            .map_err(|_| DatabaseError::Address("the address after postgres:// makes no sense".into()))?;
        config.connect_timeout(LOCK_WAIT).application_name("steerwright-intake");
        let manner = ManagerConfig { recycling_method: RecyclingMethod::Fast };
        let manager = if config.get_ssl_mode() == SslMode::Disable {
            Manager::from_config(config, NoTls, manner)
        } else {
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
        migrate::postgres(&mut client).await?;
        drop(client);
        Ok(this)
    }

    async fn client(&self) -> Result<deadpool_postgres::Client, DatabaseError> {
        self.0.get().await.map_err(|error| DatabaseError::Pool(error.to_string()))
    }

    pub(super) async fn run(&self, statements: &[Statement]) -> Result<Vec<Outcome>, DatabaseError> {
        let mut client = self.client().await?;
        let transaction = client.transaction().await?;
        let mut outcomes = Vec::with_capacity(statements.len());
        for statement in statements {
            let prepared = transaction.prepare_cached(statement.sql).await?;
            let values: Vec<&(dyn ToSql + Sync)> =
                statement.values.iter().map(|value| value as &(dyn ToSql + Sync)).collect();
            let outcome = if prepared.columns().is_empty() {
                Outcome { rows: Vec::new(), count: transaction.execute(&prepared, &values).await? }
            } else {
                let rows = transaction.query(&prepared, &values).await?;
                let rows = rows.iter().map(read).collect::<Result<Vec<_>, _>>()?;
                Outcome { count: rows.len() as u64, rows }
            };
            if statement.has_to_change_one && outcome.count != 1 {
                transaction.rollback().await?;
                return Err(DatabaseError::Overtaken);
            }
            outcomes.push(outcome);
        }
        transaction.commit().await?;
        Ok(outcomes)
    }
}

fn read(row: &tokio_postgres::Row) -> Result<Row, DatabaseError> {
    let value = |(place, column): (usize, &tokio_postgres::Column)| {
        let found = match *column.type_() {
            Type::INT8 => row.try_get::<_, Option<i64>>(place)?.map(Value::Int),
            Type::TEXT => row.try_get::<_, Option<String>>(place)?.map(Value::Text),
            Type::BYTEA => row.try_get::<_, Option<Vec<u8>>>(place)?.map(Value::Bytes),
            _ => return Err(DatabaseError::Row("a number, text or bytes")),
        };
        Ok(found.unwrap_or(Value::Null))
    };
    Ok(Row(row.columns().iter().enumerate().map(value).collect::<Result<_, _>>()?))
}
