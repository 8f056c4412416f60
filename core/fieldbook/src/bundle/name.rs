//! Names of a bundle's entries, which are untrusted input.

use super::{BundleProblem, limits};
use crate::{BikeId, CheckId};
use data_encoding::HEXLOWER;
use std::collections::BTreeMap;
use std::str::FromStr;
use steerwright_input::first_hidden;
use unicode_normalization::UnicodeNormalization;

/// The entry that lists all others.
pub(super) const MANIFEST: &str = "manifest.json";
/// The entry with the photos of no bike.
pub(super) const LOOSE: &str = "photos.json";

/// The kind of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Manifest,
    Bike(BikeId),
    Check(CheckId),
    Loose,
    Photo([u8; 32]),
}

/// The name of a bike's entry.
pub(super) fn of_bike(id: BikeId) -> String {
    format!("bikes/{id}.json")
}

/// The name of a stored check's entry.
pub(super) fn of_check(id: CheckId) -> String {
    format!("checks/{id}.json")
}

/// The name of a photo file's entry.
pub(super) fn of_photo(hash: &[u8; 32]) -> String {
    format!("photos/{}", HEXLOWER.encode(hash))
}

impl Kind {
    /// Whether the entry is JSON.
    pub(super) fn is_json(self) -> bool {
        !matches!(self, Self::Photo(_))
    }

    /// Most bytes of the entry, unpacked.
    pub(super) fn most_bytes(self) -> u64 {
        match self {
            Self::Manifest => limits::MANIFEST,
            Self::Bike(_) | Self::Loose => limits::BIKE,
            Self::Check(_) => limits::CHECK,
            Self::Photo(_) => limits::PHOTO,
        }
    }

    /// The kind of the entry with this name; `None` if bundles have no such entry. Each entry has one
    /// spelling.
    pub(super) fn of(name: &str) -> Option<Self> {
        if name == MANIFEST {
            return Some(Self::Manifest);
        }
        if name == LOOSE {
            return Some(Self::Loose);
        }
        let (folder, file) = name.split_once('/')?;
        let kind = match folder {
            "bikes" => Self::Bike(BikeId::from_str(file.strip_suffix(".json")?).ok()?),
            "checks" => Self::Check(CheckId::from_str(file.strip_suffix(".json")?).ok()?),
            "photos" => {
                let bytes = HEXLOWER.decode(file.as_bytes()).ok()?;
                Self::Photo(<[u8; 32]>::try_from(bytes).ok()?)
            }
            _ => return None,
        };
        let spelt = match kind {
            Self::Bike(id) => of_bike(id),
            Self::Check(id) => of_check(id),
            Self::Photo(hash) => of_photo(&hash),
            Self::Manifest | Self::Loose => return None,
        };
        (spelt == name).then_some(kind)
    }
}

/// Most bytes of a name; those of bundles have at most 71.
const MOST: usize = 100;

/// Names found so far, for detecting duplicates.
#[derive(Default)]
pub(super) struct SeenNames {
    folded: BTreeMap<String, String>,
}

impl SeenNames {
    /// Adds a name; refuses path traversal and duplicates.
    pub(super) fn take(&mut self, raw: &[u8]) -> Result<String, BundleProblem> {
        let shown = || String::from_utf8_lossy(raw).chars().take(200).collect::<String>();
        let Ok(name) = std::str::from_utf8(raw) else {
            return Err(BundleProblem::BadName { name: shown() });
        };
        if name.contains('\\') {
            return Err(BundleProblem::Backslash { name: shown() });
        }
        let drive = name.as_bytes().get(1) == Some(&b':');
        if name.starts_with('/') || drive {
            return Err(BundleProblem::Absolute { name: shown() });
        }
        let inner = name.strip_suffix('/').unwrap_or(name);
        if inner.split('/').any(|part| matches!(part, "" | "." | "..")) {
            return Err(BundleProblem::Traversal { name: shown() });
        }
        if name.len() > MOST || first_hidden(name).is_some() {
            return Err(BundleProblem::BadName { name: shown() });
        }
        // As file systems do that ignore case and Unicode composition when they compare names.
        let folded: String = name.nfkc().flat_map(char::to_lowercase).nfkc().collect();
        match self.folded.insert(folded, name.to_owned()) {
            None => Ok(name.to_owned()),
            Some(other) if other == name => Err(BundleProblem::Duplicate { name: shown() }),
            Some(other) => Err(BundleProblem::SameFolded { name: shown(), other }),
        }
    }
}
