//! Merging a bundle into a book.
//!
//! Every rule is symmetric, so two books that exchange bundles end with the same content. Rows are the union by id. A
//! row that is struck out or removed on either side stays so, with the later reason. Single-valued fields of a bike
//! come from the side that wrote them later.

use super::record::BundleBike;
use super::{Bundle, BundleProblem};
use crate::error::Inner;
use crate::sort_key::sort_key;
use crate::stored::JsonText;
use crate::{
    BikeId, BookError, CheckId, FieldBook, KeptCheck, LogEntry, Op, Outcome, PhotoRow, Struck, Timestamp,
    Work, bikes, log, marks, photos,
};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use std::fs::File;
use std::io::{Read, Seek};
use std::path::Path;
use steerwright_fit::bike::Bike;

/// The result of merging a bundle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct BundleMerged {
    /// Bikes that were not in the book.
    pub bikes_added: usize,
    /// Bikes that were in the book already.
    pub bikes_known: usize,
    /// Measurements that were not in the book.
    pub measurements_added: usize,
    /// Measurements that were in the book already.
    pub measurements_known: usize,
    /// Checks that were not in the book.
    pub checks_added: usize,
    /// Photos that were not in the book.
    pub photos_added: usize,
}

impl From<BundleProblem> for Inner {
    fn from(problem: BundleProblem) -> Self {
        Self::Caller(BookError::Bundle(problem))
    }
}

fn conflict(what: &'static str, id: impl ToString) -> Inner {
    BundleProblem::Conflict { what, id: id.to_string() }.into()
}

/// The single-valued fields of a bike, in the order that decides which side is kept.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Said {
    touched_at: Timestamp,
    archived_at: Option<Timestamp>,
    name: String,
    owner: Option<String>,
    notes: String,
}

/// What is stored as JSON about a bike: when it was written, the observations, and the kit that it was added with. At
/// the same time no kit counts more than one: it was taken out.
fn seen(at: Timestamp, bike: &Bike) -> Result<(Timestamp, String, bool, Option<String>), Inner> {
    let stored = |error: serde_json::Error| Inner::Stored(error.to_string());
    let observed = serde_json::to_string(&bike.observed).map_err(stored)?;
    let fitted = bike.fitted.as_ref().map(serde_json::to_string).transpose().map_err(stored)?;
    Ok((at, observed, fitted.is_none(), fitted))
}

/// Tags of both sides; of two spellings of one tag the first in byte order is kept.
fn tags(mut one: Vec<String>, other: Vec<String>) -> Result<Vec<String>, Inner> {
    one.extend(other);
    one.sort_by(|a, b| a.to_ascii_lowercase().cmp(&b.to_ascii_lowercase()).then(a.cmp(b)));
    one.dedup_by(|later, earlier| later.eq_ignore_ascii_case(earlier));
    bikes::normalize_tags(&one)
}

fn add_bike(work: &Work<'_>, it: &BundleBike) -> Result<i64, Inner> {
    let bike = &it.bike;
    work.tx()
        .prepare_cached(
            "INSERT INTO bikes (id, name, owner, observed, notes, name_sort, owner_sort, created_at, touched_at,
                 observed_at, archived_at, fitted)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        )?
        .execute(params![
            it.id,
            bike.name,
            bike.owner,
            JsonText(&bike.observed),
            it.notes,
            sort_key(&bike.name),
            bikes::owner_sort(bike.owner.as_deref()),
            it.created_at,
            it.touched_at,
            it.observed_at,
            it.archived_at,
            bike.fitted.as_ref().map(JsonText)
        ])?;
    let key = work.tx().last_insert_rowid();
    set_tags(work, key, &[], &bikes::normalize_tags(&it.tags)?)?;
    Ok(key)
}

fn set_tags(work: &Work<'_>, key: i64, before: &[String], after: &[String]) -> Result<(), Inner> {
    for tag in before.iter().filter(|tag| !after.contains(tag)) {
        work.tx()
            .prepare_cached("DELETE FROM bike_tags WHERE bike = ?1 AND tag = ?2 COLLATE BINARY")?
            .execute(params![key, tag])?;
    }
    for tag in after.iter().filter(|tag| !before.contains(tag)) {
        work.tx()
            .prepare_cached("INSERT INTO bike_tags (bike, tag) VALUES (?1, ?2)")?
            .execute(params![key, tag])?;
    }
    Ok(())
}

fn merge_bike(work: &Work<'_>, it: &BundleBike) -> Result<i64, Inner> {
    let (key, here) = bikes::record(work.tx(), it.id)?;
    let here_at: Timestamp =
        work.tx().query_row("SELECT observed_at FROM bikes WHERE key = ?1", [key], |row| row.get(0))?;
    let seen_before = seen(here_at, &here.bike)?;
    let before = Said {
        touched_at: here.touched_at,
        archived_at: here.archived_at,
        name: here.bike.name,
        owner: here.bike.owner,
        notes: here.notes,
    };
    let theirs = Said {
        touched_at: it.touched_at,
        archived_at: it.archived_at,
        name: it.bike.name.clone(),
        owner: it.bike.owner.clone(),
        notes: it.notes.clone(),
    };
    let after = before.clone().max(theirs);
    let seen_after = seen_before.clone().max(seen(it.observed_at, &it.bike)?);
    let created_at = here.created_at.min(it.created_at);
    if after != before || seen_after != seen_before || created_at != here.created_at {
        work.tx()
            .prepare_cached(
                "UPDATE bikes SET name = ?2, owner = ?3, observed = ?4, notes = ?5, name_sort = ?6, owner_sort = ?7,
                     created_at = ?8, touched_at = ?9, observed_at = ?10, archived_at = ?11, fitted = ?12
                 WHERE key = ?1",
            )?
            .execute(params![
                key,
                after.name,
                after.owner,
                seen_after.1,
                after.notes,
                sort_key(&after.name),
                bikes::owner_sort(after.owner.as_deref()),
                created_at,
                after.touched_at,
                seen_after.0,
                after.archived_at,
                seen_after.3
            ])?;
    }
    set_tags(work, key, &here.tags, &tags(here.tags.clone(), it.tags.clone())?)?;
    Ok(key)
}

fn bike_key(conn: &Connection, id: BikeId) -> Result<Option<i64>, Inner> {
    let mut row = conn.prepare_cached("SELECT key FROM bikes WHERE id = ?1")?;
    Ok(row.query_row([id], |row| row.get(0)).optional()?)
}

/// When a kit was fitted and removed, ordered by the later event of each side.
fn fitted(check: &KeptCheck) -> (Option<Timestamp>, Option<Timestamp>, Option<Timestamp>) {
    (check.fitted_at.max(check.removed_at), check.fitted_at, check.removed_at)
}

fn merge_check(work: &Work<'_>, bike: i64, it: &KeptCheck, here: &[KeptCheck]) -> Result<bool, Inner> {
    if let Some(known) = here.iter().find(|known| known.id == it.id) {
        // These may differ: when its kit was fitted and removed, and the comparison computed from the log.
        let fixed = KeptCheck {
            fitted_at: known.fitted_at,
            removed_at: known.removed_at,
            comparison: known.comparison.clone(),
            ..it.clone()
        };
        if fixed != *known {
            return Err(conflict("check", it.id));
        }
        let (_, fitted_at, removed_at) = fitted(known).max(fitted(it));
        if (fitted_at, removed_at) != (known.fitted_at, known.removed_at) {
            work.tx()
                .prepare_cached("UPDATE checks SET fitted_at = ?2, removed_at = ?3 WHERE id = ?1")?
                .execute(params![it.id, fitted_at, removed_at])?;
        }
        return Ok(false);
    }
    if check_key(work.tx(), it.id)?.is_some() {
        return Err(conflict("check", it.id));
    }
    work.tx()
        .prepare_cached(
            "INSERT INTO checks (id, bike, made_at, who, maker, number, engine, sku, predicted, predicted_u,
                 bike_json, report_json, note, fitted_at, removed_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        )?
        .execute(params![
            it.id,
            bike,
            it.made_at,
            it.who,
            it.maker,
            it.number,
            it.engine,
            it.sku,
            it.predicted.map(|it| it.value),
            it.predicted.map(|it| it.u),
            it.bike_json,
            it.report_json,
            it.note,
            it.fitted_at,
            it.removed_at
        ])?;
    Ok(true)
}

fn check_key(conn: &Connection, id: CheckId) -> Result<Option<i64>, Inner> {
    let mut row = conn.prepare_cached("SELECT key FROM checks WHERE id = ?1")?;
    Ok(row.query_row([id], |row| row.get(0)).optional()?)
}

/// A bike has one kit at a time: if each side fitted a different one, the earlier one was removed when the later one
/// was fitted.
fn one_kit(work: &Work<'_>, bike: i64) -> Result<(), Inner> {
    work.tx()
        .prepare_cached(
            "UPDATE checks AS c SET removed_at = (
                 SELECT min(later.fitted_at) FROM checks later WHERE later.bike = c.bike
                 AND (later.fitted_at, later.id) > (c.fitted_at, c.id))
             WHERE bike = ?1 AND fitted_at IS NOT NULL AND removed_at IS NULL
             AND EXISTS (SELECT 1 FROM checks later WHERE later.bike = c.bike AND later.fitted_at IS NOT NULL
                 AND later.removed_at IS NULL AND (later.fitted_at, later.id) > (c.fitted_at, c.id))",
        )?
        .execute([bike])?;
    // The kit that the bike was added with had to be removed before that of a check was fitted.
    work.tx()
        .prepare_cached(
            "UPDATE bikes SET fitted = NULL WHERE key = ?1 AND fitted IS NOT NULL AND EXISTS
                 (SELECT 1 FROM checks WHERE bike = ?1 AND fitted_at IS NOT NULL AND removed_at IS NULL)",
        )?
        .execute([bike])?;
    Ok(())
}

/// Marks of both sides are kept, without duplicates.
fn merge_marks(work: &Work<'_>, photo: i64, it: &PhotoRow) -> Result<(), Inner> {
    for row in &it.marks {
        marks::insert(work.tx(), photo, row)?.ok_or_else(|| conflict("set of marks", row.id))?;
    }
    Ok(())
}

fn merge_photo(work: &Work<'_>, it: &PhotoRow) -> Result<bool, Inner> {
    if let Some((key, known)) = photos::find(work.tx(), it.id)? {
        // These may differ: whether the original was kept, and the fields that are merged below.
        let fixed = PhotoRow {
            bike: known.bike,
            note: known.note.clone(),
            removed_at: known.removed_at,
            original_kept: known.original_kept,
            marks: known.marks.clone(),
            ..it.clone()
        };
        if fixed != known {
            return Err(conflict("photo", it.id));
        }
        // A photo may be assigned to a bike later than it was taken; of two notes the longer one is kept.
        let bike = known.bike.max(it.bike);
        let length = |note: &str| (note.chars().count(), note.to_owned());
        let (_, note) = length(&known.note).max(length(&it.note));
        let removed_at = known.removed_at.max(it.removed_at);
        if (bike, &note, removed_at) != (known.bike, &known.note, known.removed_at) {
            work.tx()
                .prepare_cached(
                    "UPDATE photos SET bike = (SELECT key FROM bikes WHERE id = ?2), note = ?3, removed_at = ?4
                     WHERE key = ?1",
                )?
                .execute(params![key, bike, note, removed_at])?;
        }
        merge_marks(work, key, it)?;
        return Ok(false);
    }
    photos::insert(work.tx(), it)?;
    merge_marks(work, work.tx().last_insert_rowid(), it)?;
    Ok(true)
}

fn merge_row(work: &Work<'_>, bike: i64, it: &LogEntry, here: &[LogEntry]) -> Result<bool, Inner> {
    if let Some(known) = here.iter().find(|known| known.id == it.id) {
        // These may differ: whether it is struck out, its photo, and its place.
        let fixed =
            LogEntry { struck: known.struck.clone(), photo: known.photo, place: known.place, ..it.clone() };
        if fixed != *known {
            return Err(conflict("measurement", it.id));
        }
        let struck: Option<&Struck> = known.struck.as_ref().max(it.struck.as_ref());
        let photo = known.photo.max(it.photo);
        if struck != known.struck.as_ref() || photo != known.photo {
            work.tx()
                .prepare_cached(
                    "UPDATE measurements SET struck_at = ?2, struck_by = ?3, struck_why = ?4,
                         photo = (SELECT key FROM photos WHERE id = ?5)
                     WHERE id = ?1",
                )?
                .execute(params![
                    it.id,
                    struck.map(|it| it.at),
                    struck.and_then(|it| it.who.as_deref()),
                    struck.map(|it| it.why.as_str()),
                    photo
                ])?;
        }
        return Ok(false);
    }
    let elsewhere: bool = work
        .tx()
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM measurements WHERE id = ?1)")?
        .query_row([it.id], |row| row.get(0))?;
    if elsewhere {
        return Err(conflict("measurement", it.id));
    }
    let reading = &it.measurement;
    let struck = it.struck.as_ref();
    work.tx()
        .prepare_cached(
            "INSERT INTO measurements (id, bike, what, value, unit, tool, plus_minus, taken_at, note, who, recorded_at,
                 photo, since, struck_at, struck_by, struck_why)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, (SELECT key FROM photos WHERE id = ?12),
                 (SELECT key FROM checks WHERE id = ?13), ?14, ?15, ?16)",
        )?
        .execute(params![
            it.id,
            bike,
            reading.what.name(),
            reading.value,
            reading.unit.name(),
            reading.with.name(),
            reading.plus_minus,
            reading.at,
            reading.note,
            it.who,
            it.recorded_at,
            it.photo,
            it.since,
            struck.map(|it| it.at),
            struck.and_then(|it| it.who.as_deref()),
            struck.map(|it| it.why.as_str())
        ])?;
    Ok(true)
}

fn merge<R: Read + Seek>(work: &mut Work<'_>, bundle: &Bundle<R>) -> Result<BundleMerged, Inner> {
    let rows = bundle.bikes.iter().map(|it| 1 + it.log.len()).sum::<usize>();
    work.back_up_before_import(rows + bundle.checks.len() + bundle.photos().count())?;
    let mut told = BundleMerged::default();
    let mut keys = Vec::new();
    for it in &bundle.bikes {
        let known = bike_key(work.tx(), it.id)?.is_some();
        let key = if known { merge_bike(work, it)? } else { add_bike(work, it)? };
        told.bikes_known += usize::from(known);
        told.bikes_added += usize::from(!known);
        keys.push((key, it));
    }
    // A log refers to photos, either of its bike or of none.
    for photo in bundle.photos() {
        told.photos_added += usize::from(merge_photo(work, photo)?);
    }
    for (key, it) in keys {
        let here = crate::checks::of_bike(
            work.tx(),
            key,
            &[],
            &steerwright_metrology::quantity::Instruments::default(),
        )?;
        for check in it.checks.iter().filter_map(|id| bundle.checks.get(id)) {
            told.checks_added += usize::from(merge_check(work, key, check, &here)?);
        }
        one_kit(work, key)?;
        let here = log::of_bike(work.tx(), key, None)?;
        let mut added = 0;
        for row in &it.log {
            let new = merge_row(work, key, row, &here)?;
            added += usize::from(new);
            told.measurements_known += usize::from(!new);
        }
        told.measurements_added += added;
        if here.len() + added > Bike::MOST_MEASURED {
            let most = Bike::MOST_MEASURED;
            let reason = format!("the log of {} would have more than {most} rows", it.bike.name);
            return Err(Inner::rule("bundle.log_full", reason)
                .with("bike", it.bike.name.as_str())
                .with("most", most));
        }
    }
    Ok(told)
}

impl Work<'_> {
    fn merge_bundle<R: Read + Seek>(&mut self, bundle: &Bundle<R>) -> Result<BundleMerged, BookError> {
        self.step(|work| merge(work, bundle))
    }
}

impl FieldBook {
    /// Merges a checked bundle as one step to undo. The files of its photos are synced to the disk before the rows that
    /// refer to them are written.
    ///
    /// # Errors
    /// A row that exists already with other data, a log that would become too long, and those of writing. Nothing is
    /// written then.
    pub fn merge<R: Read + Seek>(
        &mut self,
        mut bundle: Bundle<R>,
    ) -> Result<Outcome<BundleMerged>, BookError> {
        let files = bundle.files();
        self.transact(Op::Import, |work| {
            for hash in files {
                let bytes = bundle.file(&hash).map_err(BookError::Bundle)?;
                work.step(|work| work.put(&hash, &bytes))?;
            }
            work.merge_bundle(&bundle)
        })
    }

    /// Reads the bundle at `path` and merges it: [`Bundle::check`], then [`FieldBook::merge`].
    ///
    /// # Errors
    /// Theirs, and those of opening the file.
    pub fn read_bundle(&mut self, path: &Path) -> Result<Outcome<BundleMerged>, BookError> {
        let opening = || format!("opening {}", path.display());
        let file = File::open(path).map_err(Inner::io(opening()))?;
        if !file.metadata().map_err(Inner::io(opening()))?.is_file() {
            let why = "it is no plain file".to_owned();
            return Err(BookError::Bundle(BundleProblem::NotABundle { why }));
        }
        let bundle = Bundle::check(std::io::BufReader::new(file)).map_err(BookError::Bundle)?;
        self.merge(bundle)
    }
}
