//! The list of a bundle's entries, `manifest.json`.

use serde::{Deserialize, Serialize};

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum BundleSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.bundle/1")]
    V1,
}

/// The entry `manifest.json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
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

impl Manifest {
    /// The manifest's JSON Schema (2020-12).
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
