//! Timestamps.

#[cfg(feature = "rusqlite")]
use rusqlite::types::{FromSql, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::fmt;
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// Milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
///
/// Displayed and serialised as RFC 3339 in UTC: `2026-05-01T10:30:00Z`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Timestamp(pub i64);

impl Timestamp {
    fn civil(self) -> Option<OffsetDateTime> {
        let nanos = i128::from(self.0).checked_mul(1_000_000)?;
        OffsetDateTime::from_unix_timestamp_nanos(nanos).ok()
    }

    /// `20260501T103000Z`, for file names.
    pub fn compact(self) -> String {
        match self.civil() {
            Some(t) => format!(
                "{:04}{:02}{:02}T{:02}{:02}{:02}Z",
                t.year(),
                u8::from(t.month()),
                t.day(),
                t.hour(),
                t.minute(),
                t.second()
            ),
            None => format!("{}ms", self.0),
        }
    }
}

impl fmt::Display for Timestamp {
    /// RFC 3339, or `<number> ms since 1970` outside the years 0 to 9999, which RFC 3339 does not cover.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.civil().and_then(|civil| civil.format(&Rfc3339).ok()) {
            Some(text) => f.pad(&text),
            None => write!(f, "{} ms since 1970", self.0),
        }
    }
}

impl Serialize for Timestamp {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Timestamp {
    /// Reads the serialised form, to the millisecond.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let bare = text.strip_suffix(" ms since 1970").and_then(|number| number.parse().ok());
        let civil = || {
            let nanos = OffsetDateTime::parse(&text, &Rfc3339).ok()?.unix_timestamp_nanos();
            i64::try_from(nanos.div_euclid(1_000_000)).ok()
        };
        let found = bare.or_else(civil).map(Self);
        found.ok_or_else(|| {
            de::Error::custom(format!("{text:?} is no date and time such as 2026-05-01T10:30:00Z"))
        })
    }
}

#[cfg(feature = "rusqlite")]
impl ToSql for Timestamp {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(self.0.into())
    }
}

#[cfg(feature = "rusqlite")]
impl FromSql for Timestamp {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        i64::column_result(value).map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shown_as_rfc_3339() {
        // RFC 3339, 5.8: 1985-04-12T23:20:50.52Z; as milliseconds by hand: 482196050 s.
        assert_eq!(Timestamp(482_196_050_520).to_string(), "1985-04-12T23:20:50.52Z");
        assert_eq!(Timestamp(482_196_050_520).compact(), "19850412T232050Z");
        assert_eq!(Timestamp(0).to_string(), "1970-01-01T00:00:00Z");
        assert_eq!(Timestamp(i64::MAX).to_string(), "9223372036854775807 ms since 1970");
        for timestamp in [482_196_050_520, 0, -1, i64::MAX, i64::MIN].map(Timestamp) {
            let text = serde_json::to_string(&timestamp).unwrap();
            assert_eq!(serde_json::from_str::<Timestamp>(&text).unwrap(), timestamp, "{text}");
        }
        assert!(serde_json::from_str::<Timestamp>("\"1985-04-12\"").is_err());
    }
}
