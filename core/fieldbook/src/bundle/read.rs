//! Reading a bundle: all of it is checked before any of it is used.

use super::directory::{self, Entry};
use super::manifest::Manifest;
use super::name::{self, Kind};
use super::record::{self, BundleBike, UniqueIds};
use super::{BundleProblem, limits};
use crate::files;
use crate::{BookError, CheckId, KeptCheck, NoProgress, PhotoRow, Progress};
use data_encoding::HEXLOWER;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Seek};
use steerwright_photo::Format;
use zip::ZipArchive;
use zip::result::ZipError;

/// A bundle that was read completely and is valid: structure, names, sizes, hashes and content.
pub struct Bundle<R> {
    archive: ZipArchive<R>,
    sizes: BTreeMap<[u8; 32], u64>,
    pub(super) manifest: Manifest,
    pub(super) bikes: Vec<BundleBike>,
    pub(super) checks: BTreeMap<CheckId, KeptCheck>,
    pub(super) loose: Vec<PhotoRow>,
}

/// Maps device errors to I/O problems, and all others to a problem of the bundle.
fn device(error: ZipError, otherwise: impl FnOnce(String) -> BundleProblem) -> BundleProblem {
    match error {
        // The archive's own errors about its bytes have no OS error code.
        ZipError::Io(error) if error.raw_os_error().is_some() => BundleProblem::io(&error),
        error => otherwise(error.to_string()),
    }
}

/// Unpacks one entry, never more of it than was declared.
fn unpack<R: Read + Seek>(
    archive: &mut ZipArchive<R>,
    name: &str,
    size: u64,
) -> Result<Vec<u8>, BundleProblem> {
    let damaged = |why: String| BundleProblem::Damaged { name: name.to_owned(), why };
    let file = archive.by_name(name).map_err(|error| device(error, damaged))?;
    let mut bytes = Vec::new();
    // Reading one byte more detects a longer entry; the checksum is verified at the end of the entry.
    let read = file.take(size.saturating_add(1)).read_to_end(&mut bytes);
    read.map_err(|error| device(ZipError::Io(error), damaged))?;
    if bytes.len() as u64 == size {
        Ok(bytes)
    } else {
        Err(BundleProblem::WrongSize { name: name.to_owned(), declared: size })
    }
}

fn manifest<R: Read + Seek>(
    archive: &mut ZipArchive<R>,
    entries: &[Entry],
) -> Result<Manifest, BundleProblem> {
    let missing = || BundleProblem::Missing { name: name::MANIFEST.to_owned() };
    let entry = entries.iter().find(|entry| entry.kind == Kind::Manifest).ok_or_else(missing)?;
    let bytes = unpack(archive, &entry.name, entry.size)?;
    let tree: serde_json::Value = record::parse(name::MANIFEST, &bytes)?;
    // A list of the fields' values would deserialize as well.
    if !tree.is_object() {
        return Err(BundleProblem::content(name::MANIFEST, "it is no object"));
    }
    match tree.get("schema").and_then(serde_json::Value::as_str) {
        Some("steerwright.bundle/1") | None => {}
        Some(found) => {
            return Err(BundleProblem::OtherFormat { found: found.chars().take(80).collect() });
        }
    }
    // From the bytes and not from the tree, which has lost duplicate fields.
    record::parse(name::MANIFEST, &bytes)
}

/// Lengths and hashes from the manifest, for exactly the existing entries.
fn expected<'m>(
    manifest: &'m Manifest,
    entries: &[Entry],
) -> Result<BTreeMap<&'m str, &'m str>, BundleProblem> {
    let there: BTreeMap<&str, u64> = entries
        .iter()
        .filter(|entry| entry.kind != Kind::Manifest)
        .map(|entry| (entry.name.as_str(), entry.size))
        .collect();
    let mut expected = BTreeMap::new();
    for listed in &manifest.entries {
        let name = || listed.name.chars().take(200).collect::<String>();
        if expected.insert(listed.name.as_str(), listed.sha256.as_str()).is_some() {
            return Err(BundleProblem::Duplicate { name: name() });
        }
        match there.get(listed.name.as_str()) {
            None => return Err(BundleProblem::Missing { name: name() }),
            Some(size) if *size != listed.bytes => {
                return Err(BundleProblem::WrongSize { name: name(), declared: listed.bytes });
            }
            Some(_) => {}
        }
    }
    match there.keys().find(|name| !expected.contains_key(*name)) {
        Some(name) => Err(BundleProblem::Unlisted { name: (*name).to_owned() }),
        None => Ok(expected),
    }
}

impl<R: Read + Seek> Bundle<R> {
    /// Reads a bundle completely and checks all of it; nothing is written anywhere.
    ///
    /// # Errors
    /// The first problem found.
    pub fn check(source: R) -> Result<Self, BundleProblem> {
        let checked = Self::read_all(source, &mut NoProgress)?;
        // Without progress reports it cannot be cancelled.
        checked.ok_or_else(|| BundleProblem::Io { why: BookError::Cancelled.to_string() })
    }

    /// [`Bundle::check`] with progress reports, entry by entry, that can cancel it.
    ///
    /// # Errors
    /// [`BookError::Bundle`] with the first problem found, or [`BookError::Cancelled`].
    pub fn check_with_progress(source: R, progress: &mut dyn Progress) -> Result<Self, BookError> {
        match Self::read_all(source, progress) {
            Ok(Some(bundle)) => Ok(bundle),
            Ok(None) => Err(BookError::Cancelled),
            Err(problem) => Err(BookError::Bundle(problem)),
        }
    }

    /// `None` if it was cancelled.
    fn read_all(mut source: R, progress: &mut dyn Progress) -> Result<Option<Self>, BundleProblem> {
        let entries = directory::scan(&mut source)?;
        let other = |why| BundleProblem::NotABundle { why };
        let mut archive = ZipArchive::new(source).map_err(|error| device(error, other))?;
        let manifest = manifest(&mut archive, &entries)?;
        let expected = expected(&manifest, &entries)?;
        let (mut bikes, mut checks, mut loose) = (Vec::new(), BTreeMap::new(), Vec::new());
        let (mut sizes, mut once) = (BTreeMap::new(), UniqueIds::default());
        for (done, entry) in entries.iter().filter(|entry| entry.kind != Kind::Manifest).enumerate() {
            if !progress.should_continue(done as u64, entries.len() as u64) {
                return Ok(None);
            }
            let bytes = unpack(&mut archive, &entry.name, entry.size)?;
            let hash = files::sha256(&bytes);
            if expected.get(entry.name.as_str()) != Some(&HEXLOWER.encode(&hash).as_str()) {
                return Err(BundleProblem::WrongHash { name: entry.name.clone() });
            }
            match entry.kind {
                Kind::Manifest => {}
                Kind::Bike(id) => {
                    let bike: BundleBike = record::parse(&entry.name, &bytes)?;
                    if bike.id != id {
                        return Err(BundleProblem::content(&entry.name, "its name is another"));
                    }
                    record::check_bike(&entry.name, &bike, &mut once)?;
                    bikes.push(bike);
                }
                Kind::Check(id) => {
                    let check: KeptCheck = record::parse(&entry.name, &bytes)?;
                    record::check_check(&entry.name, id, &check)?;
                    checks.insert(id, check);
                }
                Kind::Loose => {
                    loose = record::parse(&entry.name, &bytes)?;
                    record::check_photos(&entry.name, &loose, None, &mut once)?;
                }
                Kind::Photo(named) => {
                    if named != hash {
                        return Err(BundleProblem::WrongHash { name: entry.name.clone() });
                    }
                    // Only the format of a copy is checked here; its content is decoded when it is displayed.
                    if !matches!(Format::sniff(&bytes), Some(Format::Jpeg | Format::Png | Format::WebP)) {
                        return Err(BundleProblem::content(&entry.name, "it is no picture"));
                    }
                    sizes.insert(named, entry.size);
                }
            }
        }
        if !progress.should_continue(entries.len() as u64, entries.len() as u64) {
            return Ok(None);
        }
        let bundle = Self { archive, sizes, manifest, bikes, checks, loose };
        bundle.agrees()?;
        Ok(Some(bundle))
    }

    /// Entries must reference one another: each check belongs to a bike, each photo file to a photo, and each photo of
    /// a log exists.
    fn agrees(&self) -> Result<(), BundleProblem> {
        let wanted: BTreeSet<CheckId> =
            self.bikes.iter().flat_map(|bike| bike.checks.iter().copied()).collect();
        if let Some(id) = wanted.iter().find(|id| !self.checks.contains_key(id)) {
            return Err(BundleProblem::Missing { name: name::of_check(*id) });
        }
        if let Some(id) = self.checks.keys().find(|id| !wanted.contains(id)) {
            return Err(BundleProblem::content(&name::of_check(*id), "no bike of the bundle has this check"));
        }
        let ids: BTreeSet<_> = self.photos().map(|photo| photo.id).collect();
        for bike in &self.bikes {
            let mut named = bike.log.iter().filter_map(|row| row.photo);
            if let Some(photo) = named.find(|photo| !ids.contains(photo)) {
                let why = format!("its log names the photo {photo}, which is not there");
                return Err(BundleProblem::content(&name::of_bike(bike.id), why));
            }
        }
        let files: BTreeSet<[u8; 32]> =
            self.photos().flat_map(|photo| [photo.working, photo.thumbnail]).collect();
        match self.sizes.keys().find(|hash| !files.contains(*hash)) {
            Some(hash) => {
                Err(BundleProblem::content(&name::of_photo(hash), "no photo of the bundle has this file"))
            }
            None => Ok(()),
        }
    }

    /// Every photo's row.
    pub(super) fn photos(&self) -> impl Iterator<Item = &PhotoRow> {
        self.bikes.iter().flat_map(|bike| &bike.photos).chain(&self.loose)
    }

    /// The photo files in the bundle.
    pub(super) fn files(&self) -> Vec<[u8; 32]> {
        self.sizes.keys().copied().collect()
    }

    /// The bytes of a photo file, hashed once more: the source may have changed since it was checked.
    pub(super) fn file(&mut self, hash: &[u8; 32]) -> Result<Vec<u8>, BundleProblem> {
        let name = name::of_photo(hash);
        let size = self.sizes.get(hash).copied().unwrap_or_default();
        let bytes = unpack(&mut self.archive, &name, size)?;
        if files::sha256(&bytes) == *hash { Ok(bytes) } else { Err(BundleProblem::WrongHash { name }) }
    }

    /// The bundle's manifest.
    pub fn manifest(&self) -> &Manifest {
        &self.manifest
    }

    /// The names of its bikes, for confirmation by the user before anything is written.
    pub fn bikes(&self) -> impl Iterator<Item = &str> {
        self.bikes.iter().map(|bike| bike.bike.name.as_str())
    }
}

/// Most bytes of a bundle's file; a longer one is refused without reading it.
pub const MOST_BUNDLE_BYTES: u64 = limits::FILE;
