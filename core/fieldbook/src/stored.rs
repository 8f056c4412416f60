//! Database encodings of values: the words and texts of the file formats.

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde::de::value::{Error as WordError, StrDeserializer};

/// A value stored as one word of a file format, such as a unit or a quantity.
pub(crate) struct EnumText<T>(pub(crate) T);

impl<T: DeserializeOwned> FromSql for EnumText<T> {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let word = StrDeserializer::<WordError>::new(value.as_str()?);
        T::deserialize(word).map(Self).map_err(FromSqlError::other)
    }
}

/// A value stored as JSON.
pub(crate) struct JsonText<T>(pub(crate) T);

impl<T: DeserializeOwned> FromSql for JsonText<T> {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        serde_json::from_str(value.as_str()?).map(Self).map_err(FromSqlError::other)
    }
}

impl<T: Serialize> ToSql for JsonText<&T> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        let text = serde_json::to_string(self.0)
            .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
        Ok(text.into())
    }
}
