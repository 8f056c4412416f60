//! The list of a bundle's entries, `manifest.json`.

use super::limits;
use serde::de::{Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum BundleSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.bundle/1")]
    V1,
}

/// The entry `manifest.json`.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// The format's name and version.
    pub schema: BundleSchema,
    /// When it was made, as an RFC 3339 date and time.
    #[schemars(length(max = 64))]
    pub made_at: String,
    /// Version of the program that made it.
    #[schemars(length(max = 64))]
    pub made_by: String,
    /// Every other entry.
    #[serde(deserialize_with = "entries")]
    pub entries: Vec<ManifestEntry>,
}

/// One entry of a bundle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ManifestEntry {
    /// Its name in the bundle.
    pub name: String,
    /// Its length, unpacked.
    pub bytes: u64,
    /// Its SHA-256, unpacked, in hexadecimal.
    #[schemars(regex(pattern = "^[0-9a-f]{64}$"))]
    pub sha256: String,
}

/// Reads the list up to the most entries that a bundle may have.
fn entries<'de, D: Deserializer<'de>>(list: D) -> Result<Vec<ManifestEntry>, D::Error> {
    struct Entries;
    impl<'de> Visitor<'de> for Entries {
        type Value = Vec<ManifestEntry>;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a list of entries")
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Vec<ManifestEntry>, A::Error> {
            let mut entries = Vec::new();
            while let Some(entry) = list.next_element()? {
                if entries.len() as u64 >= limits::ENTRIES {
                    return Err(A::Error::custom(format!("more than {} entries", limits::ENTRIES)));
                }
                entries.push(entry);
            }
            Ok(entries)
        }
    }
    list.deserialize_seq(Entries)
}

impl Manifest {
    /// The manifest's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
