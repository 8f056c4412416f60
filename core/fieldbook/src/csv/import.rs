//! Importing a table into the book.

use super::observation::merge_observed;
use super::table::{CsvRow, CsvTable, CsvValue};
use crate::error::Inner;
use crate::{BikeEdit, BikeId, BookError, FieldBook, Op, Outcome, Work, log};
use rusqlite::Connection;
use serde::Serialize;
use std::collections::BTreeMap;
use steerwright_fit::bike::{Bike, BikeSchema, Measurement, Observed};
use steerwright_input::{CsvError, CsvErrors};

/// The result of importing a table.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct CsvImported {
    /// Bikes that were not in the book.
    pub bikes_added: usize,
    /// Bikes that were in the book already, by name and owner.
    pub bikes_known: usize,
    /// Readings that were added.
    pub measurements_added: usize,
    /// Readings that were in the log already, including struck out ones, and were not added again.
    pub measurements_known: usize,
    /// Bikes with an observation that was not in the book.
    pub observed: usize,
    /// Rows that were skipped, if requested.
    pub left_out: u64,
    /// The problems of those rows.
    pub errors: CsvErrors,
}

impl From<CsvErrors> for Inner {
    fn from(errors: CsvErrors) -> Self {
        Self::Caller(BookError::Table(errors))
    }
}

/// A bike of the table with the data of its rows.
#[derive(Default)]
struct Subject<'t> {
    rows: Vec<(u64, &'t Measurement)>,
    observed: Observed,
}

type Subjects<'t> = BTreeMap<(&'t str, Option<&'t str>), Subject<'t>>;

/// A bike of the book, with the contents of its log.
struct Known {
    id: BikeId,
    observed: Observed,
    log: Vec<Measurement>,
}

/// Every bike of the book by name and owner: id, and whether it is archived.
type Names = BTreeMap<(String, Option<String>), Vec<(BikeId, bool)>>;

fn names(conn: &Connection) -> Result<Names, Inner> {
    let mut names = Names::new();
    let mut rows =
        conn.prepare_cached("SELECT name, owner, id, archived_at IS NOT NULL FROM bikes ORDER BY key")?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let (name, owner): (String, Option<String>) = (row.get(0)?, row.get(1)?);
        // A table's cells are trimmed.
        let owner = owner.map(|owner| owner.trim().to_owned());
        names.entry((name.trim().to_owned(), owner)).or_default().push((row.get(2)?, row.get(3)?));
    }
    Ok(names)
}

/// The bike with a name and owner: the only one, or the only one that is not archived. `Err` if it is ambiguous.
fn meant(bikes: &[(BikeId, bool)]) -> Result<Option<BikeId>, ()> {
    let mut out = bikes.iter().filter(|(_, archived)| !archived);
    match (bikes, out.next(), out.next()) {
        ([], ..) => Ok(None),
        ([(only, _)], ..) | (_, Some((only, _)), None) => Ok(Some(*only)),
        _ => Err(()),
    }
}

fn known(conn: &Connection, id: BikeId) -> Result<Known, Inner> {
    let (key, record) = crate::bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, None)?;
    let log = log.into_iter().map(|row| row.measurement).collect();
    Ok(Known { id, observed: record.bike.observed, log })
}

fn trouble(row: u64, column: &str, found: String, expected: &str) -> CsvError {
    let (row, column) = (Some(row), Some(column.to_owned()));
    CsvError { row, column, found, expected: expected.to_owned(), did_you_mean: None }
}

/// The rows by bike. Adds the errors that can be found only in the table as a whole, or in the book.
fn sorted<'t>(rows: &'t [CsvRow], names: &Names, errors: &mut CsvErrors, bad: &mut u64) -> Subjects<'t> {
    let mut subjects = Subjects::new();
    let mut refuse = |error| {
        errors.push(error);
        *bad += 1;
    };
    for row in rows {
        let key = (row.bike.clone(), row.owner.clone());
        if meant(names.get(&key).map_or(&[], Vec::as_slice)).is_err() {
            let found = format!("the book has several bikes called {:?}", row.bike);
            refuse(trouble(row.row, "bike", found, "a name and owner that only one bike has"));
            continue;
        }
        let subject = subjects.entry((row.bike.as_str(), row.owner.as_deref())).or_default();
        match &row.what {
            CsvValue::Bike => {}
            CsvValue::Reading(reading) => subject.rows.push((row.row, reading)),
            CsvValue::Seen(seen) => {
                let after = merge_observed(&subject.observed, seen);
                // The order does not matter: both rows agree, or only one has a value.
                if merge_observed(seen, &subject.observed) == after {
                    subject.observed = after;
                } else {
                    let found = "another value than in a row before".to_owned();
                    refuse(trouble(row.row, "value", found, "one value for each thing that is looked at"));
                }
            }
        }
    }
    subjects
}

/// The readings that are not in the log yet. A reading that is in the table twice must be in the log twice.
fn fresh<'t>(rows: &[(u64, &'t Measurement)], log: &[Measurement]) -> Vec<(u64, &'t Measurement)> {
    let mut left: Vec<&Measurement> = log.iter().collect();
    let mut fresh = rows.to_vec();
    fresh.retain(|(_, row)| match left.iter().position(|known| same(known, row)) {
        Some(place) => {
            left.swap_remove(place);
            false
        }
        None => true,
    });
    fresh
}

/// Whether two readings are equal except for white space around the note, which a cell does not preserve.
fn same(one: &Measurement, other: &Measurement) -> bool {
    let plain = |it: &Measurement| {
        let note = it.note.as_deref().map(str::trim).map(str::to_owned);
        Measurement { note, ..it.clone() }
    };
    plain(one) == plain(other)
}

fn import(
    work: &mut Work<'_>,
    mut table: CsvTable,
    who: Option<&str>,
    partial: bool,
) -> Result<CsvImported, Inner> {
    let rows = std::mem::take(&mut table.rows);
    work.back_up_before_import(rows.len())?;
    let names = names(work.tx())?;
    let mut told = CsvImported::default();
    let subjects = sorted(&rows, &names, &mut table.errors, &mut table.bad_rows);
    let mut plans = Vec::new();
    for ((name, owner), subject) in subjects {
        let key = (name.to_owned(), owner.map(str::to_owned));
        let id = meant(names.get(&key).map_or(&[], Vec::as_slice)).ok().flatten();
        let known = id.map(|id| known(work.tx(), id)).transpose()?;
        let log = known.as_ref().map_or(&[][..], |known| &known.log);
        let mut new = fresh(&subject.rows, log);
        told.measurements_known += subject.rows.len() - new.len();
        let room = Bike::MOST_MEASURED.saturating_sub(log.len());
        for (row, _) in new.iter().skip(room) {
            let expected = format!("at most {} readings of one bike", Bike::MOST_MEASURED);
            table.errors.push(trouble(*row, "bike", "the bike's log is full".to_owned(), &expected));
            table.bad_rows += 1;
        }
        new.truncate(room);
        plans.push((name, owner, known, new, subject.observed));
    }
    table.errors.sort();
    if !table.errors.is_empty() && !partial {
        return Err(table.errors.into());
    }
    for (name, owner, known, new, observed) in plans {
        told.measurements_added += new.len();
        match known {
            None => {
                let bike = Bike {
                    schema: BikeSchema::V1,
                    name: name.to_owned(),
                    owner: owner.map(str::to_owned),
                    observed,
                    fitted: None,
                    measured: new.into_iter().map(|(_, reading)| reading.clone()).collect(),
                };
                told.bikes_added += 1;
                told.observed += usize::from(!bike.observed.is_empty());
                work.add_bike(&bike, who)?;
            }
            Some(known) => {
                told.bikes_known += 1;
                let after = merge_observed(&known.observed, &observed);
                told.observed += usize::from(after != known.observed);
                work.edit_bike(known.id, &BikeEdit { observed: Some(after), ..BikeEdit::default() })?;
                for (_, reading) in new {
                    work.add_measurement(known.id, reading, who, None)?;
                }
            }
        }
    }
    told.left_out = table.bad_rows;
    told.errors = table.errors;
    Ok(told)
}

impl FieldBook {
    /// Imports a table as one step to undo; `who` took the readings. A bike of the same name and owner is the same
    /// bike: existing data is not added again, so a table can be imported twice.
    ///
    /// # Errors
    /// [`BookError::Table`] with every problem, cell by cell, and nothing is written. With `partial` the valid rows are
    /// written and the others reported in the result, unless the first line cannot be read.
    pub fn read_csv(
        &mut self,
        bytes: &[u8],
        who: Option<&str>,
        partial: bool,
    ) -> Result<Outcome<CsvImported>, BookError> {
        let table = CsvTable::read(bytes).map_err(BookError::Table)?;
        self.transact(Op::Import, |work| work.step(|work| import(work, table, who, partial)))
    }
}
