//! Merging what a bundle says of one bike: its name, owner, notes, tags, and what was seen on it.

use super::change::BundleChangeKind::{self, Removal, Replacement};
use super::merge::Merge;
use super::record::BundleBike;
use crate::error::Inner;
use crate::sort_key::sort_key;
use crate::stored::JsonText;
use crate::{BikeId, Timestamp, Work, bikes};
use rusqlite::{Connection, OptionalExtension, params};
use steerwright_fit::bike::{Bike, Observed};
use steerwright_metrology::sentence::Sentence;

/// The single-valued fields of a bike, in the order that decides which side is kept.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Said {
    touched_at: Timestamp,
    archived_at: Option<Timestamp>,
    name: String,
    owner: Option<String>,
    notes: String,
    /// As JSON.
    wanted: Option<String>,
}

fn json(value: &impl serde::Serialize) -> Result<String, Inner> {
    serde_json::to_string(value).map_err(|error| Inner::Stored(error.to_string()))
}

/// What is stored as JSON about a bike: when it was written, the observations, and the kit that it was added with. At
/// the same time no kit counts more than one: it was taken out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Seen {
    at: Timestamp,
    observed: String,
    is_without_kit: bool,
    fitted: Option<String>,
}

impl Seen {
    fn new(at: Timestamp, bike: &Bike) -> Result<Self, Inner> {
        let fitted = bike.fitted.as_ref().map(json).transpose()?;
        Ok(Self { at, observed: json(&bike.observed)?, is_without_kit: fitted.is_none(), fitted })
    }

    fn is_same(&self, other: &Self) -> bool {
        self.observed == other.observed && self.fitted == other.fitted
    }
}

/// Tags of both sides; of two spellings of one tag the first in byte order is kept, if the user accepts it.
fn tags(
    merge: &mut Merge,
    bike: &Shown<'_>,
    here: &[String],
    there: &[String],
) -> Result<Vec<String>, Inner> {
    let mut all = here.to_vec();
    for tag in there {
        match all.iter_mut().find(|known| known.eq_ignore_ascii_case(tag)) {
            None => all.push(tag.clone()),
            Some(known) if tag < known => {
                let text = format!("the tag {known} of {} is spelt {tag} there", bike.name);
                let text = Sentence::new("bundle.tag", text).with("tag", tag.as_str());
                if bike.ask(merge, Replacement, text) {
                    known.clone_from(tag);
                }
            }
            Some(_) => {}
        }
    }
    bikes::normalize_tags(&all)
}

/// A bike of the book, as sentences name it.
struct Shown<'b> {
    id: BikeId,
    name: &'b str,
    /// When the bundle wrote its fields.
    at: Timestamp,
}

impl Shown<'_> {
    fn ask(&self, merge: &mut Merge, kind: BundleChangeKind, text: Sentence) -> bool {
        merge.changes.ask(kind, Some(self.id), None, Some(self.at), text.with("bike", self.name))
    }
}

pub(super) fn add_bike(work: &Work<'_>, it: &BundleBike) -> Result<i64, Inner> {
    let bike = &it.bike;
    work.tx()
        .prepare_cached(
            "INSERT INTO bikes (id, name, owner, observed, notes, name_sort, owner_sort, created_at, touched_at,
                 observed_at, archived_at, fitted, wanted)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
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
            bike.fitted.as_ref().map(JsonText),
            it.wanted.as_ref().map(JsonText)
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

/// The fields of a bike that the other side wrote later, as far as they are taken. A field that is empty here is filled.
fn later(merge: &mut Merge, bike: &Shown<'_>, ours: &Said, theirs: &Said, ahead: bool) -> Said {
    if theirs <= ours {
        return ours.clone();
    }
    let mut after = ours.clone();
    let name = ours.name.as_str();
    if theirs.name != ours.name {
        let text = format!("{name} is called {} there", theirs.name);
        if bike.ask(
            merge,
            Replacement,
            Sentence::new("bundle.renamed", text).with("name", theirs.name.as_str()),
        ) {
            after.name.clone_from(&theirs.name);
        }
    }
    if theirs.owner != ours.owner {
        let text = match (&ours.owner, &theirs.owner) {
            (None, _) => None,
            (Some(owner), Some(other)) => Some(format!("{name} is {other}'s there, not {owner}'s")),
            (Some(owner), None) => Some(format!("{name} is nobody's there, not {owner}'s")),
        };
        if text.is_none_or(|text| bike.ask(merge, Replacement, Sentence::new("bundle.owner", text))) {
            after.owner.clone_from(&theirs.owner);
        }
    }
    if theirs.notes != ours.notes {
        let text = format!("the notes on {name} read otherwise there");
        if ours.notes.is_empty() || bike.ask(merge, Replacement, Sentence::new("bundle.notes", text)) {
            after.notes.clone_from(&theirs.notes);
        }
    }
    if theirs.wanted != ours.wanted {
        let text = format!("what is wanted of {name} reads otherwise there");
        if ours.wanted.is_none() || bike.ask(merge, Replacement, Sentence::new("bundle.wanted", text)) {
            after.wanted.clone_from(&theirs.wanted);
        }
    }
    if theirs.archived_at != ours.archived_at {
        let taken = match (ours.archived_at, theirs.archived_at) {
            (None, _) => {
                let text = format!("{name} is in the archive there");
                bike.ask(merge, Removal, Sentence::new("bundle.archived", text))
            }
            (Some(_), None) => {
                let text = format!("{name} is out of the archive there");
                bike.ask(merge, Replacement, Sentence::new("bundle.restored", text))
            }
            // It is in the archive on both sides.
            (Some(_), Some(_)) => !ahead,
        };
        if taken {
            after.archived_at = theirs.archived_at;
        }
    }
    // Only where all was taken did the other side write these fields last, and a time that was set to now says nothing.
    let same = Said { touched_at: theirs.touched_at, ..after.clone() } == *theirs;
    if same && !(ahead && Said { touched_at: ours.touched_at, ..theirs.clone() } == *ours) {
        after.touched_at = theirs.touched_at;
    }
    after
}

/// Whether every field of one observation is in the other with the same value.
fn is_within(one: &Observed, other: &Observed) -> Result<bool, Inner> {
    let fields = |observed: &Observed| {
        serde_json::to_value(observed).map_err(|error| Inner::Stored(error.to_string()))
    };
    let (one, other) = (fields(one)?, fields(other)?);
    let mut fields = one.as_object().into_iter().flatten();
    Ok(fields.all(|(name, value)| other.get(name) == Some(value)))
}

pub(super) fn merge_bike(
    work: &Work<'_>,
    merge: &mut Merge,
    it: &BundleBike,
    ahead: bool,
) -> Result<i64, Inner> {
    let (key, here) = bikes::record(work.tx(), it.id)?;
    let here_at: Timestamp =
        work.tx().query_row("SELECT observed_at FROM bikes WHERE key = ?1", [key], |row| row.get(0))?;
    let seen_before = Seen::new(here_at, &here.bike)?;
    let before = Said {
        touched_at: here.touched_at,
        archived_at: here.archived_at,
        name: here.bike.name,
        owner: here.bike.owner,
        notes: here.notes,
        wanted: here.wanted.as_ref().map(json).transpose()?,
    };
    let theirs = Said {
        touched_at: it.touched_at,
        archived_at: it.archived_at,
        name: it.bike.name.clone(),
        owner: it.bike.owner.clone(),
        notes: it.notes.clone(),
        wanted: it.wanted.as_ref().map(json).transpose()?,
    };
    let shown = Shown { id: it.id, name: &before.name, at: it.touched_at };
    let after = later(merge, &shown, &before, &theirs, ahead);
    let mut seen = seen_before.clone();
    let seen_there = Seen::new(it.observed_at, &it.bike)?;
    if seen_there.is_same(&seen) && !ahead {
        seen.at = seen.at.max(seen_there.at);
    } else if seen_there > seen && !seen_there.is_same(&seen) {
        let text = format!("what was seen on {} reads otherwise there", shown.name);
        let asked = Shown { at: it.observed_at, ..shown };
        let only_adds = is_within(&here.bike.observed, &it.bike.observed)?
            && (seen.fitted.is_none() || seen.fitted == seen_there.fitted);
        if only_adds || asked.ask(merge, Replacement, Sentence::new("bundle.observed", text)) {
            seen = seen_there;
        }
    }
    let mut created_at = here.created_at;
    if it.created_at < created_at {
        let text = format!("{} was begun at {} there", before.name, it.created_at);
        let shown = Shown { id: it.id, name: &before.name, at: it.created_at };
        if shown.ask(merge, Replacement, Sentence::new("bundle.created", text)) {
            created_at = it.created_at;
        }
    }
    if after != before || seen != seen_before || created_at != here.created_at {
        work.tx()
            .prepare_cached(
                "UPDATE bikes SET name = ?2, owner = ?3, observed = ?4, notes = ?5, name_sort = ?6, owner_sort = ?7,
                     created_at = ?8, touched_at = ?9, observed_at = ?10, archived_at = ?11, fitted = ?12,
                     wanted = ?13
                 WHERE key = ?1",
            )?
            .execute(params![
                key,
                after.name,
                after.owner,
                seen.observed,
                after.notes,
                sort_key(&after.name),
                bikes::owner_sort(after.owner.as_deref()),
                created_at,
                after.touched_at,
                seen.at,
                after.archived_at,
                seen.fitted,
                after.wanted
            ])?;
    }
    let shown = Shown { id: it.id, name: &before.name, at: it.touched_at };
    let all = tags(merge, &shown, &here.tags, &it.tags)?;
    set_tags(work, key, &here.tags, &all)?;
    Ok(key)
}

pub(super) fn bike_key(conn: &Connection, id: BikeId) -> Result<Option<i64>, Inner> {
    let mut row = conn.prepare_cached("SELECT key FROM bikes WHERE id = ?1")?;
    Ok(row.query_row([id], |row| row.get(0)).optional()?)
}
