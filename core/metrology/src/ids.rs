//! Ids of stored records: UUID version 7.

use crate::timestamp::Timestamp;
#[cfg(feature = "rusqlite")]
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use uuid::{Builder, Uuid};

/// A new UUID version 7 (RFC 9562, 5.7); a time before 1970 counts as 1970.
pub fn fresh(now: Timestamp, random: [u8; 10]) -> Uuid {
    Builder::from_unix_timestamp_millis(u64::try_from(now.0).unwrap_or(0), &random).into_uuid()
}

/// The id of one kind of record.
pub trait Id: fmt::Display {
    /// The noun used in messages.
    const NOUN: &'static str;
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident = $noun:literal,)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl Id for $name {
            const NOUN: &'static str = $noun;
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = uuid::Error;

            /// Reads the hyphenated form, or any other of RFC 9562.
            fn from_str(text: &str) -> Result<Self, uuid::Error> {
                Uuid::parse_str(text).map(Self)
            }
        }

        #[cfg(feature = "rusqlite")]
        impl ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
                Ok(self.0.as_bytes().as_slice().into())
            }
        }

        #[cfg(feature = "rusqlite")]
        impl FromSql for $name {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                let bytes = <[u8; 16]>::try_from(value.as_blob()?).map_err(|_| FromSqlError::InvalidType)?;
                Ok(Self(Uuid::from_bytes(bytes)))
            }
        }
    )*};
}

ids! {
    /// Id of a bike.
    BikeId = "bike",
    /// Id of a row of a bike's log.
    MeasurementId = "measurement",
    /// Id of a stored check.
    CheckId = "check",
    /// Id of a photo.
    PhotoId = "photo",
    /// Id of an order request, here and at the shop; also its idempotency key.
    OrderId = "order request",
    /// Id of a message about an order request, here and at the shop; also its idempotency key.
    MessageId = "message",
    /// Id of a set of marks on a photo.
    MarksId = "set of marks",
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9562, A.6: 2022-02-22 14:22:22.00 -05:00, random bits 0xCC3 and 0x18C4DC0C0C07398F.
    #[test]
    fn the_standard_s_own_example() {
        let random = [0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F];
        let id = fresh(Timestamp(1_645_557_742_000), random);
        assert_eq!(id.to_string().to_uppercase(), "017F22E2-79B0-7CC3-98C4-DC0C0C07398F");
        assert_eq!(BikeId(id).to_string().parse(), Ok(BikeId(id)));
    }
}
