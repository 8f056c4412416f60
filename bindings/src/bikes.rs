//! Bikes: the list, adding, changing, the archive.

use crate::{Archived, Book, Observed, Screen, Sort, SteerwrightError};
use steerwright_core::bike::{Bike, BikeSchema};
use steerwright_core::book::{self, BikeId, Cursor, Op, Outcome, Timestamp};

/// Which screens a change made stale.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Changes {
    /// Those screens.
    pub screens: Vec<Screen>,
}

impl From<book::Changes> for Changes {
    fn from(changes: book::Changes) -> Self {
        Self { screens: changes.0.into_iter().collect() }
    }
}

/// What to list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeQuery {
    /// Words that all have to begin a word of name, owner, tags or notes; empty lists everything.
    #[uniffi(default = "")]
    pub text: String,
    /// Only bikes with this tag.
    #[uniffi(default = None)]
    pub tag: Option<String>,
    /// Bikes in the archive.
    pub archived: Archived,
    /// The order.
    pub sort: Sort,
    /// Where the page before ended.
    #[uniffi(default = None)]
    pub after: Option<Cursor>,
    /// Bikes on a page, 1 to 500.
    #[uniffi(default = 50)]
    pub limit: u32,
}

/// A line of the list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeLine {
    /// Its name in the book.
    pub id: BikeId,
    /// What its people call it.
    pub name: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// Its tags.
    pub tags: Vec<String>,
    /// Readings in its log that are not struck out.
    pub measured: u32,
    /// When anything of it last changed.
    pub touched_at: Timestamp,
    /// When it was put in the archive, if it is there.
    pub archived_at: Option<Timestamp>,
}

/// A page of the list.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikePage {
    /// The bikes.
    pub lines: Vec<BikeLine>,
    /// Where to go on; absent on the last page.
    pub next: Option<Cursor>,
}

/// A tag with the number of bikes that have it.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct TagCount {
    /// The tag.
    pub tag: String,
    /// How many bikes have it.
    pub bikes: u64,
}

/// What to change of a bike; absent leaves as it is.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeEdit {
    /// What its people call it.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// Whose it is; an empty text for nobody's.
    #[uniffi(default = None)]
    pub owner: Option<String>,
    /// What was seen, all of it.
    #[uniffi(default = None)]
    pub observed: Option<Observed>,
    /// The notes, all of them.
    #[uniffi(default = None)]
    pub notes: Option<String>,
    /// The tags, all of them.
    #[uniffi(default = None)]
    pub tags: Option<Vec<String>>,
}

/// A bike that was added.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BikeAdded {
    /// Its name in the book.
    pub id: BikeId,
    /// Which screens are stale.
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

impl From<book::BikeRow> for BikeLine {
    fn from(row: book::BikeRow) -> Self {
        let book::BikeRow { id, name, owner, tags, measured, touched_at, archived_at } = row;
        Self { id, name, owner, tags, measured, touched_at, archived_at }
    }
}

#[uniffi::export]
impl Book {
    /// A page of the list of bikes. No text makes an error.
    pub fn bikes(&self, query: BikeQuery) -> Result<BikePage, SteerwrightError> {
        self.read(|reader| {
            let book::BikePage { rows, next } = reader.bikes(&query.into())?;
            Ok(BikePage { lines: rows.into_iter().map(Into::into).collect(), next })
        })
    }

    /// Every tag.
    pub fn tags(&self) -> Result<Vec<TagCount>, SteerwrightError> {
        self.read(|reader| {
            Ok(reader.tags()?.into_iter().map(|(tag, bikes)| TagCount { tag, bikes }).collect())
        })
    }

    /// Adds a bike of which nothing is measured yet.
    #[uniffi::method(default(owner = None, observed))]
    pub fn add_bike(
        &self,
        name: String,
        owner: Option<String>,
        observed: Observed,
    ) -> Result<BikeAdded, SteerwrightError> {
        let bike = Bike { schema: BikeSchema::V1, name, owner, observed, measured: Vec::new() };
        Ok(self.change(Op::AddBike, |work| work.add_bike(&bike, None))?.into())
    }

    /// Adds a bike from the text of a bike file (`steerwright.bike/1`) with the readings it holds; `file` is what messages
    /// call it.
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
        let edit = book::BikeEdit { name, owner, observed, notes, tags };
        Ok(self.change(Op::EditBike, |work| work.edit_bike(id, &edit))?.changes.into())
    }

    /// Puts a bike in the archive: out of the list, with all that is known of it.
    pub fn archive_bike(&self, id: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ArchiveBike, |work| work.archive_bike(id))?.changes.into())
    }

    /// Brings a bike back from the archive.
    pub fn restore_bike(&self, id: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RestoreBike, |work| work.restore_bike(id))?.changes.into())
    }
}
