//! Statements with their parameters, and the rows of a result.

use super::DatabaseError;
use bytes::BytesMut;
use rusqlite::types::{ToSqlOutput, ValueRef};
use std::error::Error;
use tokio_postgres::types::{IsNull, ToSql, Type, to_sql_checked};

/// The value of a column or parameter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// `NULL`.
    Null,
    /// `BIGINT`.
    Int(i64),
    /// `TEXT`.
    Text(String),
    /// `BLOB` in SQLite, `BYTEA` in PostgreSQL.
    Bytes(Vec<u8>),
}

impl Value {
    fn type_name(&self) -> &'static str {
        match self {
            Self::Null => "NULL",
            Self::Int(_) => "an integer",
            Self::Text(_) => "text",
            Self::Bytes(_) => "bytes",
        }
    }
}

impl From<i64> for Value {
    fn from(value: i64) -> Self {
        Self::Int(value)
    }
}

impl From<&str> for Value {
    fn from(value: &str) -> Self {
        Self::Text(value.to_owned())
    }
}

impl From<String> for Value {
    fn from(value: String) -> Self {
        Self::Text(value)
    }
}

impl From<&[u8]> for Value {
    fn from(value: &[u8]) -> Self {
        Self::Bytes(value.to_vec())
    }
}

impl From<[u8; 32]> for Value {
    fn from(value: [u8; 32]) -> Self {
        Self::Bytes(value.to_vec())
    }
}

impl<T: Into<Self>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Null, Into::into)
    }
}

/// An SQL statement with its parameters.
#[derive(Debug, Clone)]
pub struct Statement {
    pub(super) sql: &'static str,
    pub(super) values: Vec<Value>,
    pub(super) expects_one_row: bool,
}

impl Statement {
    /// A statement with parameters `$1`, `$2` and so on, first used in this order.
    pub fn new(sql: &'static str, values: impl Into<Vec<Value>>) -> Self {
        Self { sql, values: values.into(), expects_one_row: false }
    }

    /// Rolls the transaction back with [`DatabaseError::Conflict`] unless this statement changes exactly one row.
    #[must_use]
    pub fn expecting_one_row(mut self) -> Self {
        self.expects_one_row = true;
        self
    }
}

/// One row of a result. Columns are read in order, each once.
#[derive(Debug)]
pub struct Row {
    values: std::vec::IntoIter<Value>,
    /// Number of columns read so far.
    read: usize,
}

impl Row {
    pub(super) fn new(values: Vec<Value>) -> Self {
        Self { values: values.into_iter(), read: 0 }
    }

    /// The next column's value, if `get` accepts it.
    fn next<T>(
        &mut self,
        expected: &'static str,
        get: impl FnOnce(Value) -> Result<T, Value>,
    ) -> Result<T, DatabaseError> {
        self.read += 1;
        let found = match self.values.next().map(get) {
            Some(Ok(value)) => return Ok(value),
            Some(Err(value)) => value.type_name(),
            None => "no column",
        };
        Err(DatabaseError::Column { column: self.read, expected, found: found.to_owned() })
    }

    /// The next column: an integer.
    ///
    /// # Errors
    /// [`DatabaseError::Column`] for NULL, another type or no column.
    pub fn int(&mut self) -> Result<i64, DatabaseError> {
        self.next("an integer", |value| match value {
            Value::Int(value) => Ok(value),
            other => Err(other),
        })
    }

    /// The next column: an integer or NULL.
    ///
    /// # Errors
    /// [`DatabaseError::Column`] for another type or no column.
    pub fn maybe_int(&mut self) -> Result<Option<i64>, DatabaseError> {
        self.next("an integer or NULL", |value| match value {
            Value::Int(value) => Ok(Some(value)),
            Value::Null => Ok(None),
            other => Err(other),
        })
    }

    /// The next column: text.
    ///
    /// # Errors
    /// [`DatabaseError::Column`] for NULL, another type or no column.
    pub fn text(&mut self) -> Result<String, DatabaseError> {
        self.next("text", |value| match value {
            Value::Text(value) => Ok(value),
            other => Err(other),
        })
    }

    /// The next column: text or NULL.
    ///
    /// # Errors
    /// [`DatabaseError::Column`] for another type or no column.
    pub fn maybe_text(&mut self) -> Result<Option<String>, DatabaseError> {
        self.next("text or NULL", |value| match value {
            Value::Text(value) => Ok(Some(value)),
            Value::Null => Ok(None),
            other => Err(other),
        })
    }

    /// The next column: bytes.
    ///
    /// # Errors
    /// [`DatabaseError::Column`] for NULL, another type or no column.
    pub fn bytes(&mut self) -> Result<Vec<u8>, DatabaseError> {
        self.next("bytes", |value| match value {
            Value::Bytes(value) => Ok(value),
            other => Err(other),
        })
    }
}

impl rusqlite::ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Null => ValueRef::Null,
            Self::Int(value) => ValueRef::Integer(*value),
            Self::Text(value) => ValueRef::Text(value.as_bytes()),
            Self::Bytes(value) => ValueRef::Blob(value),
        }))
    }
}

impl ToSql for Value {
    fn to_sql(&self, ty: &Type, out: &mut BytesMut) -> Result<IsNull, Box<dyn Error + Sync + Send>> {
        match self {
            Self::Null => Ok(IsNull::Yes),
            Self::Int(value) if *ty == Type::INT8 => value.to_sql(ty, out),
            Self::Text(value) if *ty == Type::TEXT => value.to_sql(ty, out),
            Self::Bytes(value) if *ty == Type::BYTEA => value.to_sql(ty, out),
            _ => Err(format!("the statement expects {ty}").into()),
        }
    }

    fn accepts(ty: &Type) -> bool {
        [Type::INT8, Type::TEXT, Type::BYTEA].contains(ty)
    }

    to_sql_checked!();
}
