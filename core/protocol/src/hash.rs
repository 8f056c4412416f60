//! The SHA-256 that identifies a photo.

use data_encoding::HEXLOWER;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::fmt;
use std::str::FromStr;

/// SHA-256 (FIPS 180-4) of a photo's bytes; displayed, parsed and serialised as 64 lower-case hexadecimal
/// digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PhotoHash(pub [u8; 32]);

/// A text that is not a hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a SHA-256 has 64 digits 0-9 a-f")]
pub struct NoHash;

impl fmt::Display for PhotoHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&HEXLOWER.encode(&self.0))
    }
}

impl FromStr for PhotoHash {
    type Err = NoHash;

    fn from_str(text: &str) -> Result<Self, NoHash> {
        let bytes = HEXLOWER.decode(text.as_bytes()).map_err(|_| NoHash)?;
        bytes.try_into().map(Self).map_err(|_| NoHash)
    }
}

impl Serialize for PhotoHash {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for PhotoHash {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
    }
}

impl schemars::JsonSchema for PhotoHash {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "PhotoHash".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "SHA-256 of a photo's bytes in lower-case hexadecimal digits.",
            "type": "string",
            "pattern": "^[0-9a-f]{64}$",
        })
    }
}
