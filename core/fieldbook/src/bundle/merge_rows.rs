//! Merging the rows of a bundle: kept checks, photos with their marks, and readings.

use super::BundleProblem;
use super::change::BundleChangeKind::{Removal, Replacement};
use super::merge::Merge;
use crate::error::Inner;
use crate::{BikeId, KeptCheck, LogEntry, PhotoRow, Struck, Timestamp, Work, checks, marks, photos};
use rusqlite::params;
use steerwright_metrology::sentence::Sentence;

fn conflict(what: &'static str, id: impl ToString) -> Inner {
    BundleProblem::Conflict { what, id: id.to_string() }.into()
}

/// When a kit was fitted and removed, ordered by the later event of each side.
fn fitted(check: &KeptCheck) -> (Option<Timestamp>, Option<Timestamp>, Option<Timestamp>) {
    (check.fitted_at.max(check.removed_at), check.fitted_at, check.removed_at)
}

/// The bike under whose log and checks something is merged.
pub(super) struct Of {
    pub(super) key: i64,
    pub(super) id: BikeId,
    pub(super) name: String,
    /// Whether the book had it before.
    pub(super) known: bool,
}

pub(super) fn merge_check(
    work: &Work<'_>,
    merge: &mut Merge,
    bike: &Of,
    mut it: KeptCheck,
) -> Result<bool, Inner> {
    let kit = it.sku.clone().unwrap_or_default();
    let mut ask = |kind, id: &'static str, text: String, at| {
        let text = Sentence::new(id, text).with("bike", bike.name.as_str()).with("kit", kit.as_str());
        merge.changes.ask(kind, Some(bike.id), None, at, text)
    };
    let goes_in = || ("bundle.kit_in", format!("the kit {kit} is in {} there", bike.name));
    if let Some((of, known)) = checks::stored(work.tx(), it.id)? {
        // These may differ: when it was made, by another clock, when its kit was fitted and removed, and the comparison,
        // which is computed from the log.
        let fixed = KeptCheck {
            made_at: known.made_at,
            fitted_at: known.fitted_at,
            removed_at: known.removed_at,
            comparison: known.comparison.clone(),
            ..it.clone()
        };
        if of != bike.key || fixed != known {
            return Err(conflict("check", it.id));
        }
        let (at, fitted_at, removed_at) = fitted(&it);
        let is_in = fitted_at.is_some() && removed_at.is_none();
        // A time that was set to now says nothing where the kit is in, or out, on both sides.
        let again = at >= Some(work.now()) && known.fitted_at.is_some() && known.is_fitted() == is_in;
        if again || (at, fitted_at, removed_at) <= fitted(&known) {
            return Ok(false);
        }
        let (kind, (id, text)) = match (known.is_fitted(), is_in) {
            (true, false) => {
                (Removal, ("bundle.kit_out", format!("the kit {kit} is out of {} again there", bike.name)))
            }
            (false, true) => (Replacement, goes_in()),
            _ => (
                Replacement,
                ("bundle.kit_times", format!("the kit {kit} went into {} at another time there", bike.name)),
            ),
        };
        // Both times of a kit that was never fitted here are past: nothing that is here changes.
        let past = known.fitted_at.is_none() && !is_in;
        if past || ask(kind, id, text, at) {
            work.tx()
                .prepare_cached("UPDATE checks SET fitted_at = ?2, removed_at = ?3 WHERE id = ?1")?
                .execute(params![it.id, fitted_at, removed_at])?;
        }
        return Ok(false);
    }
    if bike.known && it.is_fitted() {
        let (id, text) = goes_in();
        if !ask(Replacement, id, text, it.fitted_at) {
            it.fitted_at = None;
        }
    }
    merge.changes.from(it.who.as_deref());
    let bike = bike.key;
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

/// A bike has one kit at a time: if each side fitted a different one, the earlier one was removed when the later one
/// was fitted.
pub(super) fn one_kit(work: &Work<'_>, bike: i64) -> Result<(), Inner> {
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

pub(super) fn merge_photo(work: &Work<'_>, merge: &mut Merge, it: &PhotoRow) -> Result<bool, Inner> {
    let Some((key, known)) = photos::find(work.tx(), it.id)? else {
        photos::insert(work.tx(), it)?;
        merge_marks(work, work.tx().last_insert_rowid(), it)?;
        return Ok(true);
    };
    // These may differ: when it was added, by another clock, whether the original was kept, and the fields that are merged
    // below.
    let fixed = PhotoRow {
        bike: known.bike,
        note: known.note.clone(),
        added_at: known.added_at,
        removed_at: known.removed_at,
        original_kept: known.original_kept,
        marks: known.marks.clone(),
        ..it.clone()
    };
    if fixed != known {
        return Err(conflict("photo", it.id));
    }
    let mut ask = |kind, id: &'static str, text: String, at| {
        let text = Sentence::new(id, text).with("photo", it.id.to_string());
        merge.changes.ask(kind, known.bike, None, at, text)
    };
    let called = format!("the photo of {}", known.added_at);
    // A photo may be assigned to a bike later than it was taken; of two notes the longer one is kept.
    let mut bike = known.bike;
    if it.bike > bike {
        let text = format!("{called} shows another bike there");
        if bike.is_none() || ask(Replacement, "bundle.photo_bike", text, None) {
            bike = it.bike;
        }
    }
    let length = |note: &str| (note.chars().count(), note.to_owned());
    let mut note = known.note.clone();
    if length(&it.note) > length(&note) {
        let text = format!("the note on {called} reads otherwise there");
        if note.is_empty() || ask(Replacement, "bundle.photo_note", text, None) {
            note.clone_from(&it.note);
        }
    }
    let mut removed_at = known.removed_at;
    if let Some(at) = it.removed_at.filter(|_| removed_at.is_none()) {
        if ask(Removal, "bundle.photo_removed", format!("{called} is removed there"), Some(at)) {
            removed_at = it.removed_at;
        }
    } else if it.removed_at > removed_at && it.removed_at < Some(work.now()) {
        // It is removed here too; a time that was set to now says nothing.
        removed_at = it.removed_at;
    }
    if (bike, &note, removed_at) != (known.bike, &known.note, known.removed_at) {
        work.tx()
            .prepare_cached(
                "UPDATE photos SET bike = (SELECT key FROM bikes WHERE id = ?2), note = ?3, removed_at = ?4
                 WHERE key = ?1",
            )?
            .execute(params![key, bike, note, removed_at])?;
    }
    merge_marks(work, key, it)?;
    Ok(false)
}

/// Merges a row that the book has.
fn merge_known_row(
    work: &Work<'_>,
    merge: &mut Merge,
    bike: &Of,
    it: &LogEntry,
    known: &LogEntry,
) -> Result<(), Inner> {
    // These may differ: when it was recorded, by another clock, whether it is struck out, its photo, and its place.
    let fixed = LogEntry {
        recorded_at: known.recorded_at,
        struck: known.struck.clone(),
        photo: known.photo,
        place: known.place,
        ..it.clone()
    };
    if fixed != *known {
        return Err(conflict("measurement", it.id));
    }
    let of = &known.measurement;
    let called = format!("the {} {} {} of {}", words(of.what.name()), of.value, of.unit, bike.name);
    let mut ask = |kind, id: &'static str, text: String, who: Option<&str>, at| {
        let text = Sentence::new(id, text).with("bike", bike.name.as_str()).with("row", it.id.to_string());
        merge.changes.ask(kind, Some(bike.id), who, at, text)
    };
    let mut struck: Option<&Struck> = known.struck.as_ref();
    // The same words at a time that was set to now are nothing new.
    let again = |there: &Struck| {
        there.at >= work.now()
            && struck.is_some_and(|here| (&here.who, &here.why) == (&there.who, &there.why))
    };
    if let Some(there) = it.struck.as_ref().filter(|there| Some(*there) > struck && !again(there)) {
        let why = &there.why;
        let (kind, id, text) = match struck {
            None => (Removal, "bundle.struck", format!("{called} is struck out there: {why}")),
            Some(_) => (
                Replacement,
                "bundle.struck_why",
                format!("{called} is struck out for another reason there: {why}"),
            ),
        };
        if ask(kind, id, text, there.who.as_deref(), Some(there.at)) {
            struck = Some(there);
        }
    }
    let mut photo = known.photo;
    if it.photo > photo {
        let text = format!("{called} is from another photo there");
        if photo.is_none() || ask(Replacement, "bundle.row_photo", text, None, None) {
            photo = it.photo;
        }
    }
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
    Ok(())
}

fn words(name: &str) -> String {
    name.replace('_', " ")
}

pub(super) fn merge_row(
    work: &Work<'_>,
    merge: &mut Merge,
    bike: &Of,
    it: &LogEntry,
    here: &[LogEntry],
) -> Result<bool, Inner> {
    if let Some(known) = here.iter().find(|known| known.id == it.id) {
        merge_known_row(work, merge, bike, it, known)?;
        return Ok(false);
    }
    merge.changes.from(it.who.as_deref());
    let bike = bike.key;
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
