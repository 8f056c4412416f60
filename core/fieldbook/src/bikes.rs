//! Bikes: adding, changing, archiving.

use super::error::Inner;
use super::sort_key::{LAST, sort_key};
use super::stored::JsonText;
use super::text::{self, Lines};
use super::{BikeId, BookError, Timestamp, Work, log};
use crate::error::Missing as _;
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use steerwright_fit::bike::{Bike, BikeSchema, FittedKit, Observed};
use steerwright_fit::judgement::Wanted;

/// Most tags on one bike.
pub(super) const MOST_TAGS: usize = 50;

/// A bike as stored in the book.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BikeRecord {
    /// Its id in the book.
    pub id: BikeId,
    /// Its present state in the form of a bike file: with the valid readings.
    pub bike: Bike,
    /// Tags of the user, in alphabetical order.
    pub tags: Vec<String>,
    /// Free text; may have several lines.
    pub notes: String,
    /// What the rider wants of the steering.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted: Option<Wanted>,
    /// When it was added.
    pub created_at: Timestamp,
    /// When it last changed in any way.
    pub touched_at: Timestamp,
    /// When it was archived, if it is.
    pub archived_at: Option<Timestamp>,
}

/// An edit of a bike; `None` leaves a field unchanged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BikeEdit {
    /// Its name.
    pub name: Option<String>,
    /// Its owner; an empty text for none.
    pub owner: Option<String>,
    /// All observations.
    pub observed: Option<Observed>,
    /// The complete notes.
    pub notes: Option<String>,
    /// What the rider wants of the steering.
    pub wanted: Option<Wanted>,
    /// The complete list of tags.
    pub tags: Option<Vec<String>>,
}

/// The row key of a bike.
pub(super) fn key_of(conn: &Connection, id: BikeId) -> Result<i64, Inner> {
    let key = conn
        .prepare_cached("SELECT key FROM bikes WHERE id = ?1")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    key.ok_or_else(|| id.missing())
}

/// Sets the time when a bike last changed.
pub(super) fn touch(work: &Work<'_>, key: i64) -> Result<(), Inner> {
    work.tx()
        .prepare_cached("UPDATE bikes SET touched_at = ?2 WHERE key = ?1")?
        .execute(params![key, work.now()])?;
    Ok(())
}

/// A bike without its readings, and its row key; of kits only the one that it was added with.
pub(super) fn record(conn: &Connection, id: BikeId) -> Result<(i64, BikeRecord), Inner> {
    let row = conn
        .prepare_cached(
            "SELECT key, name, owner, observed, notes, created_at, touched_at, archived_at, fitted, wanted FROM bikes
             WHERE id = ?1",
        )?
        .query_row([id], |row| {
            let JsonText(observed) = row.get(3)?;
            let fitted: Option<JsonText<FittedKit>> = row.get(8)?;
            let bike = Bike {
                schema: BikeSchema::V1,
                name: row.get(1)?,
                owner: row.get(2)?,
                observed,
                fitted: fitted.map(|JsonText(kit)| kit),
                measured: Vec::new(),
            };
            let record = BikeRecord {
                id,
                bike,
                tags: Vec::new(),
                notes: row.get(4)?,
                wanted: row.get::<_, Option<JsonText<Wanted>>>(9)?.map(|JsonText(wanted)| wanted),
                created_at: row.get(5)?,
                touched_at: row.get(6)?,
                archived_at: row.get(7)?,
            };
            Ok((row.get(0)?, record))
        })
        .optional()?;
    let (key, mut record): (i64, BikeRecord) = row.ok_or_else(|| id.missing())?;
    record.tags = tags(conn, key)?;
    Ok((key, record))
}

pub(super) fn tags(conn: &Connection, bike: i64) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare_cached("SELECT tag FROM bike_tags WHERE bike = ?1 ORDER BY tag")?;
    let rows = rows.query_map([bike], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

pub(super) fn owner_sort(owner: Option<&str>) -> String {
    owner.map_or_else(|| LAST.to_owned(), sort_key)
}

fn add(work: &mut Work<'_>, bike: &Bike, who: Option<&str>) -> Result<BikeId, Inner> {
    bike.check("the bike")?;
    let who = text::who(who)?;
    let id = BikeId(work.fresh_id());
    work.tx()
        .prepare_cached(
            "INSERT INTO bikes (id, name, owner, observed, notes, name_sort, owner_sort, created_at, touched_at,
                 observed_at, fitted)
             VALUES (?1, ?2, ?3, ?4, '', ?5, ?6, ?7, ?7, ?7, ?8)",
        )?
        .execute(params![
            id,
            bike.name,
            bike.owner,
            JsonText(&bike.observed),
            sort_key(&bike.name),
            owner_sort(bike.owner.as_deref()),
            work.now(),
            bike.fitted.as_ref().map(JsonText)
        ])?;
    let key = work.tx().last_insert_rowid();
    for measurement in &bike.measured {
        log::insert(work, key, measurement, who, None)?;
    }
    Ok(id)
}

fn edit(work: &mut Work<'_>, id: BikeId, edit: &BikeEdit) -> Result<(), Inner> {
    let (key, before) = record(work.tx(), id)?;
    // Unedited fields stay unchanged, including white space around a text from a bike file.
    let name = match &edit.name {
        Some(name) => text::needed("the bike's name", name, text::NAME, Lines::One)?,
        None => &before.bike.name,
    };
    let owner = match &edit.owner {
        Some(owner) => {
            text::check("the owner", owner, text::NAME, Lines::One)?;
            Some(owner.trim()).filter(|owner| !owner.is_empty())
        }
        None => before.bike.owner.as_deref(),
    };
    let observed = edit.observed.as_ref().unwrap_or(&before.bike.observed);
    let notes = edit.notes.as_deref().unwrap_or(&before.notes);
    text::check("the notes", notes, text::NOTES, Lines::Many)?;
    let wanted = edit.wanted.or(before.wanted);
    let tags = match &edit.tags {
        Some(tags) => normalize_tags(tags)?,
        None => before.tags.clone(),
    };
    let same = name == before.bike.name
        && owner == before.bike.owner.as_deref()
        && *observed == before.bike.observed
        && notes == before.notes
        && wanted == before.wanted;
    if same && tags == before.tags {
        return Ok(());
    }
    work.tx()
        .prepare_cached(
            "UPDATE bikes SET name = ?2, owner = ?3, observed = ?4, notes = ?5, name_sort = ?6, owner_sort = ?7,
                 touched_at = ?8, observed_at = iif(observed IS ?4, observed_at, ?8), wanted = ?9
             WHERE key = ?1",
        )?
        .execute(params![
            key,
            name,
            owner,
            JsonText(observed),
            notes,
            sort_key(name),
            owner_sort(owner),
            work.now(),
            wanted.as_ref().map(JsonText)
        ])?;
    let gone = before.tags.iter().filter(|tag| !tags.contains(tag));
    for tag in gone {
        // Compared byte by byte: a tag of which only the case changes is replaced.
        work.tx()
            .prepare_cached("DELETE FROM bike_tags WHERE bike = ?1 AND tag = ?2 COLLATE BINARY")?
            .execute(params![key, tag])?;
    }
    for tag in tags.iter().filter(|tag| !before.tags.contains(tag)) {
        work.tx()
            .prepare_cached("INSERT INTO bike_tags (bike, tag) VALUES (?1, ?2)")?
            .execute(params![key, tag])?;
    }
    Ok(())
}

/// Tags without surrounding white space, unique regardless of case, in storage order.
pub(super) fn normalize_tags(tags: &[String]) -> Result<Vec<String>, Inner> {
    let mut tidy: Vec<String> = Vec::new();
    for tag in tags {
        let tag = text::needed("a tag", tag, text::TAG, Lines::One)?;
        if !tidy.iter().any(|other| other.eq_ignore_ascii_case(tag)) {
            tidy.push(tag.to_owned());
        }
    }
    if tidy.len() > MOST_TAGS {
        return Err(
            Inner::rule("bike.tags", format!("a bike has at most {MOST_TAGS} tags")).with("most", MOST_TAGS)
        );
    }
    tidy.sort_by_key(|tag| tag.to_ascii_lowercase());
    Ok(tidy)
}

fn set_archived(work: &mut Work<'_>, id: BikeId, archived: bool) -> Result<(), Inner> {
    let (key, before) = record(work.tx(), id)?;
    if before.archived_at.is_some() == archived {
        let (rule, place) = if archived {
            ("bike.archived_already", "already in the archive")
        } else {
            ("bike.not_archived", "not in the archive")
        };
        let name = before.bike.name;
        return Err(Inner::rule(rule, format!("{name} is {place}")).with("bike", name));
    }
    let at = archived.then(|| work.now());
    work.tx()
        .prepare_cached("UPDATE bikes SET archived_at = ?2, touched_at = ?3 WHERE key = ?1")?
        .execute(params![key, at, work.now()])?;
    Ok(())
}

impl Work<'_> {
    /// Adds a bike with its readings and the kit that is in it; `who` took the readings.
    ///
    /// # Errors
    /// What [`Bike::check`] refuses.
    pub fn add_bike(&mut self, bike: &Bike, who: Option<&str>) -> Result<BikeId, BookError> {
        self.step(|work| add(work, bike, who))
    }

    /// Changes a bike's name, owner, observations, notes or tags. An edit that changes nothing is not
    /// recorded.
    ///
    /// # Errors
    /// No such bike, no name, or text too long.
    pub fn edit_bike(&mut self, id: BikeId, change: &BikeEdit) -> Result<(), BookError> {
        self.step(|work| edit(work, id, change))
    }

    /// Archives a bike: it is hidden from the list and keeps its data.
    ///
    /// # Errors
    /// No such bike, or it is archived already.
    pub fn archive_bike(&mut self, id: BikeId) -> Result<(), BookError> {
        self.step(|work| set_archived(work, id, true))
    }

    /// Restores a bike from the archive.
    ///
    /// # Errors
    /// No such bike, or it is not archived.
    pub fn restore_bike(&mut self, id: BikeId) -> Result<(), BookError> {
        self.step(|work| set_archived(work, id, false))
    }
}
