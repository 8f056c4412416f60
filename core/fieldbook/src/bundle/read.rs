//! Reading a bundle: all of it is checked before any of it is used.

use super::directory::{self, Entry};
use super::manifest::Manifest;
use super::name::{self, Kind};
use super::record::{self, BundleBike, UniqueIds};
use super::{BundleProblem, json, limits};
use crate::files;
use crate::{BikeId, BookError, CheckId, KeptCheck, NoProgress, PhotoId, PhotoRow, Progress};
use data_encoding::HEXLOWER;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Seek};
use steerwright_photo::Format;
use zip::ZipArchive;
use zip::result::ZipError;

/// A bundle that was read completely and is valid: structure, names, sizes, hashes and content.
///
/// Its bikes, checks and photos stay in the file and are read again one by one, so that a large bundle takes no more memory
/// than its largest entry.
pub struct Bundle<R> {
    archive: ZipArchive<R>,
    photos: BTreeMap<[u8; 32], u64>,
    manifest: Manifest,
    bikes: Vec<(BikeId, Place)>,
    names: Vec<String>,
    checks: BTreeMap<CheckId, Place>,
    loose: Option<Place>,
    rows: usize,
}

/// An entry's length and hash, with which it is read again.
#[derive(Debug, Clone, Copy)]
struct Place {
    size: u64,
    hash: [u8; 32],
}

/// What entries say of one another.
#[derive(Default)]
struct References {
    /// Checks that bikes have.
    checks: BTreeSet<CheckId>,
    /// Photos' rows.
    photos: BTreeSet<PhotoId>,
    /// Files of photos.
    files: BTreeSet<[u8; 32]>,
    /// Photos that logs name.
    named: BTreeSet<(PhotoId, BikeId)>,
}

impl References {
    fn photos(&mut self, photos: &[PhotoRow]) {
        self.photos.extend(photos.iter().map(|photo| photo.id));
        self.files.extend(photos.iter().flat_map(|photo| [photo.working, photo.thumbnail]));
    }

    fn bike(&mut self, bike: &BundleBike) {
        self.checks.extend(&bike.checks);
        self.photos(&bike.photos);
        self.named.extend(bike.log.iter().filter_map(|row| Some((row.photo?, bike.id))));
    }
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
    // The size was held against the limits.
    let mut bytes = Vec::with_capacity(usize::try_from(size).unwrap_or_default().saturating_add(1));
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
    match json::schema(&bytes) {
        None => {}
        Some(schema) if schema == "steerwright.bundle/1" => {}
        Some(found) => {
            return Err(BundleProblem::OtherFormat { found: found.chars().take(80).collect() });
        }
    }
    let manifest: Manifest = json::parse(name::MANIFEST, &bytes)?;
    record::check_manifest(&manifest)?;
    Ok(manifest)
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
        let mut bundle = Self {
            archive,
            photos: BTreeMap::new(),
            manifest: Manifest::default(),
            bikes: Vec::new(),
            names: Vec::new(),
            checks: BTreeMap::new(),
            loose: None,
            rows: 0,
        };
        let (mut references, mut once) = (References::default(), UniqueIds::default());
        for (done, entry) in entries.iter().filter(|entry| entry.kind != Kind::Manifest).enumerate() {
            if !progress.should_continue(done as u64, entries.len() as u64) {
                return Ok(None);
            }
            let bytes = unpack(&mut bundle.archive, &entry.name, entry.size)?;
            let hash = files::sha256(&bytes);
            if expected.get(entry.name.as_str()) != Some(&HEXLOWER.encode(&hash).as_str()) {
                return Err(BundleProblem::WrongHash { name: entry.name.clone() });
            }
            let place = Place { size: entry.size, hash };
            bundle.take(entry, bytes, place, &mut references, &mut once)?;
        }
        if !progress.should_continue(entries.len() as u64, entries.len() as u64) {
            return Ok(None);
        }
        bundle.agrees(&references)?;
        drop(expected);
        bundle.manifest = manifest;
        Ok(Some(bundle))
    }

    /// Checks one entry and notes where it is.
    fn take(
        &mut self,
        entry: &Entry,
        bytes: Vec<u8>,
        place: Place,
        references: &mut References,
        once: &mut UniqueIds,
    ) -> Result<(), BundleProblem> {
        match entry.kind {
            Kind::Manifest => {}
            Kind::Bike(id) => {
                json::count(&entry.name, &bytes, limits::VALUES)?;
                let bike: BundleBike = json::parse(&entry.name, &bytes)?;
                drop(bytes);
                if bike.id != id {
                    return Err(BundleProblem::content(&entry.name, "its name is another"));
                }
                record::check_bike(&entry.name, &bike, once)?;
                references.bike(&bike);
                self.count_rows(1 + bike.log.len(), &bike.photos)?;
                self.bikes.push((id, place));
                self.names.push(bike.bike.name);
            }
            Kind::Check(id) => {
                let check: KeptCheck = json::parse(&entry.name, &bytes)?;
                drop(bytes);
                record::check_check(&entry.name, id, &check)?;
                self.count_rows(1, &[])?;
                self.checks.insert(id, place);
            }
            Kind::Loose => {
                json::count(&entry.name, &bytes, limits::VALUES)?;
                let photos: Vec<PhotoRow> = json::parse_any(&entry.name, &bytes)?;
                record::check_photos(&entry.name, &photos, None, once)?;
                references.photos(&photos);
                self.count_rows(0, &photos)?;
                self.loose = Some(place);
            }
            Kind::Photo(named) => {
                if named != place.hash {
                    return Err(BundleProblem::WrongHash { name: entry.name.clone() });
                }
                // Only the format of a copy is checked here; its content is decoded when it is displayed.
                if !matches!(Format::sniff(&bytes), Some(Format::Jpeg | Format::Png | Format::WebP)) {
                    return Err(BundleProblem::content(&entry.name, "it is no picture"));
                }
                self.photos.insert(named, entry.size);
            }
        }
        Ok(())
    }

    fn count_rows(&mut self, rows: usize, photos: &[PhotoRow]) -> Result<(), BundleProblem> {
        self.rows += rows + photos.iter().map(|photo| 1 + photo.marks.len()).sum::<usize>();
        if self.rows > limits::ROWS {
            return Err(BundleProblem::TooManyRows { most: limits::ROWS });
        }
        Ok(())
    }

    /// Entries must reference one another: each check belongs to a bike, each photo file to a photo, and each photo of
    /// a log exists.
    fn agrees(&self, references: &References) -> Result<(), BundleProblem> {
        if let Some(id) = references.checks.iter().find(|id| !self.checks.contains_key(id)) {
            return Err(BundleProblem::Missing { name: name::of_check(*id) });
        }
        if let Some(id) = self.checks.keys().find(|id| !references.checks.contains(id)) {
            return Err(BundleProblem::content(&name::of_check(*id), "no bike of the bundle has this check"));
        }
        let lacking = references.named.iter().find(|(photo, _)| !references.photos.contains(photo));
        if let Some((photo, bike)) = lacking {
            let why = format!("its log names the photo {photo}, which is not there");
            return Err(BundleProblem::content(&name::of_bike(*bike), why));
        }
        match self.photos.keys().find(|hash| !references.files.contains(*hash)) {
            Some(hash) => {
                Err(BundleProblem::content(&name::of_photo(hash), "no photo of the bundle has this file"))
            }
            None => Ok(()),
        }
    }

    /// The bytes of an entry, hashed once more: the source may have changed since it was checked.
    fn again(&mut self, name: &str, place: Place) -> Result<Vec<u8>, BundleProblem> {
        let bytes = unpack(&mut self.archive, name, place.size)?;
        if files::sha256(&bytes) == place.hash {
            Ok(bytes)
        } else {
            Err(BundleProblem::WrongHash { name: name.to_owned() })
        }
    }

    /// How many bikes there are.
    pub(super) fn bike_count(&self) -> usize {
        self.bikes.len()
    }

    /// How many rows there are: bikes, readings, checks, photos, sets of marks.
    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    /// A bike by its place in the bundle; `None` after the last.
    pub(super) fn bike(&mut self, at: usize) -> Result<Option<BundleBike>, BundleProblem> {
        let Some((id, place)) = self.bikes.get(at).copied() else { return Ok(None) };
        let name = name::of_bike(id);
        let bytes = self.again(&name, place)?;
        json::parse(&name, &bytes).map(Some)
    }

    /// A kept check; `None` if there is none of this id.
    pub(super) fn kept_check(&mut self, id: CheckId) -> Result<Option<KeptCheck>, BundleProblem> {
        let Some(place) = self.checks.get(&id).copied() else { return Ok(None) };
        let name = name::of_check(id);
        let bytes = self.again(&name, place)?;
        json::parse(&name, &bytes).map(Some)
    }

    /// The photos of no bike.
    pub(super) fn loose(&mut self) -> Result<Vec<PhotoRow>, BundleProblem> {
        let Some(place) = self.loose else { return Ok(Vec::new()) };
        let bytes = self.again(name::LOOSE, place)?;
        json::parse_any(name::LOOSE, &bytes)
    }

    /// The photo files in the bundle.
    pub(super) fn files(&self) -> Vec<[u8; 32]> {
        self.photos.keys().copied().collect()
    }

    /// The bytes of a photo file.
    pub(super) fn file(&mut self, hash: &[u8; 32]) -> Result<Vec<u8>, BundleProblem> {
        let size = self.photos.get(hash).copied().unwrap_or_default();
        self.again(&name::of_photo(hash), Place { size, hash: *hash })
    }

    /// The bundle's manifest.
    pub fn manifest(&self) -> &Manifest {
        &self.manifest
    }

    /// The names of its bikes, for confirmation by the user before anything is written.
    pub fn bikes(&self) -> impl Iterator<Item = &str> {
        self.names.iter().map(String::as_str)
    }
}

/// Most bytes of a bundle's file; a longer one is refused without reading it.
pub const MOST_BUNDLE_BYTES: u64 = limits::FILE;
