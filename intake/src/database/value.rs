//! What goes into a statement and comes out of a row.

use super::DatabaseError;
use bytes::BytesMut;
use rusqlite::types::{ToSqlOutput, ValueRef};
use std::error::Error;
use tokio_postgres::types::{IsNull, ToSql, Type, to_sql_checked};

/// One value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// Nothing.
    Null,
    /// A whole number.
    Int(i64),
    /// Text.
    Text(String),
    /// Bytes.
    Bytes(Vec<u8>),
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

/// One SQL statement with its values.
#[derive(Debug, Clone)]
pub struct Statement {
    pub(super) sql: &'static str,
    pub(super) values: Vec<Value>,
    pub(super) has_to_change_one: bool,
}

impl Statement {
    /// A statement; `$1` stands for the first value and so on, each first named in this order.
    pub fn new(sql: &'static str, values: impl Into<Vec<Value>>) -> Self {
        Self { sql, values: values.into(), has_to_change_one: false }
    }

    /// The same, but unless it changes exactly one row the whole transaction is undone.
    #[must_use]
    pub fn changing_one(mut self) -> Self {
        self.has_to_change_one = true;
        self
    }
}

/// One row of an answer, read from left to right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row(pub(super) std::collections::VecDeque<Value>);

impl Row {
    fn next(&mut self) -> Result<Value, DatabaseError> {
        self.0.pop_front().ok_or(DatabaseError::Row("more columns"))
    }

    /// The next column, a whole number.
    ///
    /// # Errors
    /// Another value, or none.
    pub fn int(&mut self) -> Result<i64, DatabaseError> {
        self.maybe_int()?.ok_or(DatabaseError::Row("a number"))
    }

    /// The next column, a whole number or nothing.
    ///
    /// # Errors
    /// Another value.
    pub fn maybe_int(&mut self) -> Result<Option<i64>, DatabaseError> {
        match self.next()? {
            Value::Int(value) => Ok(Some(value)),
            Value::Null => Ok(None),
            _ => Err(DatabaseError::Row("a number")),
        }
    }

    /// The next column, text.
    ///
    /// # Errors
    /// Another value, or none.
    pub fn text(&mut self) -> Result<String, DatabaseError> {
        self.maybe_text()?.ok_or(DatabaseError::Row("text"))
    }

    /// The next column, text or nothing.
    ///
    /// # Errors
    /// Another value.
    pub fn maybe_text(&mut self) -> Result<Option<String>, DatabaseError> {
        match self.next()? {
            Value::Text(value) => Ok(Some(value)),
            Value::Null => Ok(None),
            _ => Err(DatabaseError::Row("text")),
        }
    }

    /// The next column, bytes.
    ///
    /// # Errors
    /// Another value, or none.
    pub fn bytes(&mut self) -> Result<Vec<u8>, DatabaseError> {
        match self.next()? {
            Value::Bytes(value) => Ok(value),
            _ => Err(DatabaseError::Row("bytes")),
        }
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
