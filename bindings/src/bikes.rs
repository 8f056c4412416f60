//! Bikes: list, add, edit, archive, delete.

use crate::{Archived, Book, Observed, Screen, Sort, SteerwrightError};
use steerwright_core::bike::{Bike, BikeSchema};
use steerwright_core::book::{self, BikeId, Cursor, Op, Outcome, Timestamp};

/// The screens whose data a change made stale.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Changes {
    /// The stale screens.
    pub screens: Vec<Screen>,
}

impl From<book::Changes> for Changes {
    fn from(changes: book::Changes) -> Self {
        Self { screens: changes.0.into_iter().collect() }
    }
}

/// Filter, order and page of a bike list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeQuery {
    /// Search words. Each has to be a prefix of a word in name, owner, tags or notes. Empty matches every bike.
    #[uniffi(default = "")]
    pub text: String,
    /// Only bikes with this tag.
    #[uniffi(default = None)]
    pub tag: Option<String>,
    /// Whether archived bikes are listed.
    pub archived: Archived,
    /// Sort order.
    pub sort: Sort,
    /// Cursor from the previous page.
    #[uniffi(default = None)]
    pub after: Option<Cursor>,
    /// Page size, 1 to 500.
    #[uniffi(default = 50)]
    pub limit: u32,
}

/// One row of the bike list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeRow {
    /// Id in the book.
    pub id: BikeId,
    /// The bike's name.
    pub name: String,
    /// The owner's name.
    pub owner: Option<String>,
    /// Its tags.
    pub tags: Vec<String>,
    /// Number of readings in the log that are not struck out.
    pub measured: u32,
    /// When the bike or anything that belongs to it last changed.
    pub touched_at: Timestamp,
    /// When it was archived; absent if it is not archived.
    pub archived_at: Option<Timestamp>,
}

/// One page of the bike list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikePage {
    /// The bikes.
    pub lines: Vec<BikeRow>,
    /// Cursor for the next page; absent on the last page.
    pub next: Option<Cursor>,
}

/// A tag with the number of bikes that have it.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct TagCount {
    /// The tag.
    pub tag: String,
    /// Number of bikes with this tag.
    pub bikes: u64,
}

/// An edit of a bike. An absent field stays unchanged.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeEdit {
    /// New name.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// New owner; an empty string removes the owner.
    #[uniffi(default = None)]
    pub owner: Option<String>,
    /// New observations; replaces all of them.
    #[uniffi(default = None)]
    pub observed: Option<Observed>,
    /// New notes; replaces all of them.
    #[uniffi(default = None)]
    pub notes: Option<String>,
    /// New tags; replaces all of them.
    #[uniffi(default = None)]
    pub tags: Option<Vec<String>>,
}

/// Result of adding a bike.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeAdded {
    /// Id in the book.
    pub id: BikeId,
    /// Stale screens.
    pub changes: Changes,
}

impl From<Outcome<BikeId>> for BikeAdded {
    fn from(Outcome { output, changes }: Outcome<BikeId>) -> Self {
        Self { id: output, changes: changes.into() }
    }
}

impl From<BikeQuery> for book::BikeQuery {
    fn from(query: BikeQuery) -> Self {
        let BikeQuery { text, tag, archived, sort, after, limit } = query;
        Self { text, tag, archived, sort, after, limit: limit as usize }
    }
}

impl From<book::BikeRow> for BikeRow {
    fn from(row: book::BikeRow) -> Self {
        let book::BikeRow { id, name, owner, tags, measured, touched_at, archived_at } = row;
        Self { id, name, owner, tags, measured, touched_at, archived_at }
    }
}

/// Result of emptying the trash.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Purged {
    /// Number of deleted bikes that are gone for good.
    pub bikes: u64,
    /// Whether no trace of them is left in the file. While another program reads the book, it cannot be rewritten; a later
    /// call does it.
    pub complete: bool,
}

#[uniffi::export]
impl Book {
    /// One page of the bike list. No search text is an error.
    pub fn bikes(&self, query: BikeQuery) -> Result<BikePage, SteerwrightError> {
        self.read(|reader| {
            let book::BikePage { rows, next } = reader.bikes(&query.into())?;
            Ok(BikePage { lines: rows.into_iter().map(Into::into).collect(), next })
        })
    }

    /// Every tag with its number of bikes.
    pub fn tags(&self) -> Result<Vec<TagCount>, SteerwrightError> {
        self.read(|reader| {
            Ok(reader.tags()?.into_iter().map(|(tag, bikes)| TagCount { tag, bikes }).collect())
        })
    }

    /// Adds a bike without measurements.
    #[uniffi::method(default(owner = None, observed))]
    pub fn add_bike(
        &self,
        name: String,
        owner: Option<String>,
        observed: Observed,
    ) -> Result<BikeAdded, SteerwrightError> {
        let bike = Bike { schema: BikeSchema::V1, name, owner, observed, fitted: None, measured: Vec::new() };
        Ok(self.change(Op::AddBike, |work| work.add_bike(&bike, None))?.into())
    }

    /// Adds a bike and its readings from the text of a bike file (`steerwright.bike/1`). Error messages refer
    /// to the text as `file`.
    #[uniffi::method(default(who = None))]
    pub fn add_bike_file(
        &self,
        json: String,
        file: String,
        who: Option<String>,
    ) -> Result<BikeAdded, SteerwrightError> {
        let bike = Bike::from_json(json.as_bytes(), &file)?;
        Ok(self.change(Op::AddBike, |work| work.add_bike(&bike, who.as_deref()))?.into())
    }

    /// Changes a bike's name, owner, observations, notes or tags.
    pub fn edit_bike(&self, id: BikeId, edit: BikeEdit) -> Result<Changes, SteerwrightError> {
        let BikeEdit { name, owner, observed, notes, tags } = edit;
        let edit = book::BikeEdit { name, owner, observed, notes, tags, wanted: None };
        Ok(self.change(Op::EditBike, |work| work.edit_bike(id, &edit))?.changes.into())
    }

    /// Archives a bike: it leaves the list and keeps all of its data.
    pub fn archive_bike(&self, id: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ArchiveBike, |work| work.archive_bike(id))?.changes.into())
    }

    /// Deletes a bike with its log, checks and photos. Undoing brings it back, until `purge_deleted` or a hundred later
    /// actions. Order requests for it stay.
    pub fn delete_bike(&self, id: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::DeleteBike, |work| work.delete_bike(id))?.changes.into())
    }

    /// Names of the bikes in the trash, the latest deleted first.
    pub fn deleted_bikes(&self) -> Result<Vec<String>, SteerwrightError> {
        self.read(|reader| Ok(reader.deleted_bikes()?))
    }

    /// Empties the trash: nothing that was done so far can be undone afterwards, and deleted bikes are neither in the file
    /// nor in a backup.
    pub fn purge_deleted(&self) -> Result<Purged, SteerwrightError> {
        let (bikes, complete) = self.writer().purge_deleted()?;
        Ok(Purged { bikes: bikes as u64, complete })
    }

    /// Restores a bike from the archive.
    pub fn restore_bike(&self, id: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RestoreBike, |work| work.restore_bike(id))?.changes.into())
    }
}
