//! The entries of one bike in a bundle, and their checks.

use super::manifest::Manifest;
use super::{BundleProblem, json, name};
use crate::text::{self, Lines};
use crate::{
    BikeId, CheckId, KeptCheck, LogEntry, MarksId, MeasurementId, PhotoRow, Timestamp, bikes, marks,
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use steerwright_fit::bike::Bike;
use steerwright_fit::judgement::Wanted;
use uuid::Uuid;

/// Most photos of one bike, and most of no bike.
const MOST_PHOTOS: usize = 20_000;
/// Most characters of the time and of the version in the manifest.
const MOST_WORDS: usize = 64;
/// Most stored checks of one bike.
const MOST_CHECKS: usize = 5_000;

/// The entry `bikes/ID.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BundleBike {
    pub(super) id: BikeId,
    /// The bike file, `steerwright.bike/1`, without readings: those are in the log. Its kit is the one that the bike was
    /// added with, not one of a check.
    pub(super) bike: Bike,
    pub(super) tags: Vec<String>,
    pub(super) notes: String,
    /// What the rider wants of the steering.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) wanted: Option<Wanted>,
    pub(super) created_at: Timestamp,
    pub(super) touched_at: Timestamp,
    pub(super) observed_at: Timestamp,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) archived_at: Option<Timestamp>,
    /// Oldest first.
    pub(super) log: Vec<LogEntry>,
    /// Oldest first, including removed ones.
    pub(super) photos: Vec<PhotoRow>,
    /// Oldest first; each has an entry `checks/ID.json`.
    pub(super) checks: Vec<CheckId>,
}

/// Ids that must be unique within a bundle.
#[derive(Default)]
pub(super) struct UniqueIds {
    measurements: BTreeSet<MeasurementId>,
    photos: BTreeSet<Uuid>,
    checks: BTreeSet<CheckId>,
    marks: BTreeSet<MarksId>,
}

/// Collects the first problem of one entry.
struct Entry<'n> {
    name: &'n str,
}

impl Entry<'_> {
    fn hold(&self, holds: bool, why: impl FnOnce() -> String) -> Result<(), BundleProblem> {
        if holds { Ok(()) } else { Err(BundleProblem::content(self.name, why())) }
    }

    fn text(&self, field: &str, text: &str, most: usize, lines: Lines) -> Result<(), BundleProblem> {
        text::check(field, text, most, lines).map_err(|error| BundleProblem::content(self.name, error))
    }

    fn who(&self, who: Option<&str>) -> Result<(), BundleProblem> {
        text::who(who).map(|_| ()).map_err(|error| BundleProblem::content(self.name, error))
    }

    /// Ids of rows are UUIDs of version 7, as this program makes them.
    fn id(&self, what: &str, id: Uuid) -> Result<(), BundleProblem> {
        self.hold(id.get_version_num() == 7, || format!("the {what} {id} is no UUID of version 7"))
    }
}

/// Checks the entry of a bike.
pub(super) fn check_bike(name: &str, it: &BundleBike, once: &mut UniqueIds) -> Result<(), BundleProblem> {
    let entry = Entry { name };
    entry.id("bike", it.id.0)?;
    it.bike.check("the bike").map_err(|errors| BundleProblem::content(name, errors))?;
    entry.hold(it.bike.measured.is_empty(), || {
        "`measured` is not empty; readings are in the log".to_owned()
    })?;
    entry.text("the notes", &it.notes, text::NOTES, Lines::Many)?;
    let tidy = bikes::normalize_tags(&it.tags).map_err(|error| BundleProblem::content(name, error))?;
    entry.hold(tidy.len() == it.tags.len(), || "a tag is there twice".to_owned())?;
    entry.hold(it.log.len() <= Bike::MOST_MEASURED, || {
        format!("the log has {} rows; the most is {}", it.log.len(), Bike::MOST_MEASURED)
    })?;
    entry.hold(it.checks.len() <= MOST_CHECKS, || {
        format!("there are {} checks; the most is {MOST_CHECKS}", it.checks.len())
    })?;
    for check in &it.checks {
        entry.hold(once.checks.insert(*check), || format!("the check {check} is there twice"))?;
    }
    check_photos(name, &it.photos, Some(it.id), once)?;
    it.log.iter().try_for_each(|row| check_row(&entry, it, row, once))
}

fn check_row(
    entry: &Entry<'_>,
    it: &BundleBike,
    row: &LogEntry,
    once: &mut UniqueIds,
) -> Result<(), BundleProblem> {
    entry.id("measurement", row.id.0)?;
    entry.hold(once.measurements.insert(row.id), || format!("the measurement {} is there twice", row.id))?;
    let called = format!("the measurement {}", row.id);
    row.measurement.check(&called).map_err(|errors| BundleProblem::content(entry.name, errors))?;
    entry.who(row.who.as_deref())?;
    if let Some(struck) = &row.struck {
        entry.who(struck.who.as_deref())?;
        let why = text::needed("the reason", &struck.why, text::NOTE, Lines::One);
        why.map_err(|error| BundleProblem::content(entry.name, error))?;
    }
    let known = row.since.is_none_or(|since| it.checks.contains(&since));
    entry.hold(known, || format!("{called} belongs to a check that is not there"))
}

/// Checks a list of photos of one bike, or of none.
pub(super) fn check_photos(
    name: &str,
    photos: &[PhotoRow],
    bike: Option<BikeId>,
    once: &mut UniqueIds,
) -> Result<(), BundleProblem> {
    let entry = Entry { name };
    entry.hold(photos.len() <= MOST_PHOTOS, || {
        format!("there are {} photos; the most is {MOST_PHOTOS}", photos.len())
    })?;
    for photo in photos {
        entry.id("photo", photo.id.0)?;
        entry.hold(once.photos.insert(photo.id.0), || format!("the photo {} is there twice", photo.id))?;
        entry.hold(photo.bike == bike, || format!("the photo {} is another bike's", photo.id))?;
        entry.hold(!photo.original_kept, || {
            format!("the photo {} says that its original came along; bundles have none", photo.id)
        })?;
        entry.hold(matches!(photo.kind.as_str(), "jpeg" | "png" | "webp" | "heic"), || {
            format!("the photo {} is of no kind that is known", photo.id)
        })?;
        let sound = photo.width > 0 && photo.height > 0 && i64::try_from(photo.bytes).is_ok();
        entry.hold(sound, || format!("the photo {} has a size that makes no sense", photo.id))?;
        let focal = [photo.focal_length_mm, photo.focal_length_35mm];
        entry.hold(focal.into_iter().flatten().all(|mm| mm > 0.0 && mm < 1e5), || {
            format!("the photo {} has a focal length that makes no sense", photo.id)
        })?;
        entry.text("a photo's note", &photo.note, text::NOTE, Lines::Many)?;
        check_marks(&entry, photo, once)?;
        for words in [&photo.taken_at, &photo.camera].into_iter().flatten() {
            entry.text("a photo's camera or time", words, text::NAME, Lines::One)?;
        }
    }
    Ok(())
}

fn check_marks(entry: &Entry<'_>, photo: &PhotoRow, once: &mut UniqueIds) -> Result<(), BundleProblem> {
    entry.hold(photo.marks.len() <= marks::MOST_SETS, || {
        format!("the photo {} has more than {} sets of marks", photo.id, marks::MOST_SETS)
    })?;
    for it in &photo.marks {
        entry.id("set of marks", it.id.0)?;
        entry.hold(once.marks.insert(it.id), || format!("the set of marks {} is there twice", it.id))?;
        entry.who(it.who.as_deref())?;
        let called = format!("the set of marks {}", it.id);
        it.marks.check(&called).map_err(|errors| BundleProblem::content(entry.name, errors))?;
    }
    Ok(())
}

/// Validates the entry of a stored check.
pub(super) fn check_check(name: &str, id: CheckId, it: &KeptCheck) -> Result<(), BundleProblem> {
    let entry = Entry { name };
    entry.id("check", id.0)?;
    entry.hold(it.id == id, || "its name is another".to_owned())?;
    entry.who(it.who.as_deref())?;
    entry.text("the maker", &it.maker, 500, Lines::One)?;
    entry.text("the engine", &it.engine, 64, Lines::One)?;
    entry.text("the order code", it.sku.as_deref().unwrap_or_default(), 500, Lines::One)?;
    entry.text("the note", &it.note, text::NOTE, Lines::Many)?;
    entry.hold(it.predicted.is_none_or(|it| it.u >= 0.0), || "an uncertainty is negative".to_owned())?;
    entry.hold(it.fitted_at.is_none() || it.sku.is_some(), || {
        "no kit was chosen, yet one went in".to_owned()
    })?;
    entry.hold(it.removed_at.is_none() || it.fitted_at.is_some(), || {
        "the kit came out and never went in".to_owned()
    })?;
    for (what, text) in [("the frozen bike", &it.bike_json), ("the report", &it.report_json)] {
        if let Some(fault) = json::fault(text) {
            return Err(BundleProblem::content(name, format!("{what} {fault}")));
        }
    }
    Ok(())
}

/// Checks the texts of the manifest and its length.
pub(super) fn check_manifest(it: &Manifest) -> Result<(), BundleProblem> {
    let entry = Entry { name: name::MANIFEST };
    entry.text("the time", &it.made_at, MOST_WORDS, Lines::One)?;
    entry.text("the version", &it.made_by, MOST_WORDS, Lines::One)
}
