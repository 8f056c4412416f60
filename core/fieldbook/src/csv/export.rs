//! Writing a table.

use super::column::Column;
use super::{formula, observation};
use crate::error::Inner;
use crate::{BikeId, BikeRecord, BookError, Reader, bikes, checks, log};
use csv::{Terminator, Writer, WriterBuilder};
use rusqlite::Connection;
use steerwright_fit::bike::Measurement;
use steerwright_input::{number, printable};

/// The style in which a table is written; the reader accepts both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CsvStyle {
    /// Commas between cells, decimal points.
    #[default]
    Comma,
    /// Semicolons between cells, decimal commas, as most European spreadsheets expect.
    Semicolon,
}

struct Table {
    writer: Writer<Vec<u8>>,
    style: CsvStyle,
}

impl Table {
    fn row(&mut self, cells: [&str; 9]) -> Result<(), Inner> {
        self.writer.write_record(cells).map_err(|error| Inner::rule("table.not_written", error.to_string()))
    }

    fn number(&self, value: f64) -> String {
        let text = number(value);
        match self.style {
            CsvStyle::Comma => text,
            CsvStyle::Semicolon => text.replace('.', ","),
        }
    }

    fn reading(&mut self, bike: &str, owner: &str, it: &Measurement) -> Result<(), Inner> {
        let value = self.number(it.value);
        let plus_minus = it.plus_minus.map(|width| self.number(width)).unwrap_or_default();
        let note = it.note.as_deref().map(cell).unwrap_or_default();
        let at = it.at.as_deref().unwrap_or_default();
        let (what, unit, with) = (it.what.name(), it.unit.name(), it.with.name());
        self.row([bike, owner, what, &value, unit, with, &plus_minus, at, &note])
    }

    fn bike(&mut self, record: &BikeRecord) -> Result<(), Inner> {
        let name = cell(&record.bike.name);
        let owner = record.bike.owner.as_deref().map(cell).unwrap_or_default();
        let seen = observation::field_words(&record.bike.observed);
        if seen.is_empty() && record.bike.measured.is_empty() {
            return self.row([&name, &owner, "", "", "", "", "", "", ""]);
        }
        for (field, word) in seen {
            self.row([&name, &owner, field, &word, "", "", "", "", ""])?;
        }
        record.bike.measured.iter().try_for_each(|reading| self.reading(&name, &owner, reading))
    }
}

/// A text for a cell: neither a formula nor with characters that a reader does not see.
fn cell(text: &str) -> String {
    formula::safe(&printable(text))
}

fn record(conn: &Connection, id: BikeId) -> Result<BikeRecord, Inner> {
    let (key, mut record) = bikes::record(conn, id)?;
    let log = log::of_bike(conn, key, checks::fitted(conn, key)?)?;
    record.bike.measured = log::valid_measurements(&log);
    Ok(record)
}

fn write(conn: &Connection, ids: &[BikeId], style: CsvStyle) -> Result<String, Inner> {
    let separator = if style == CsvStyle::Comma { b',' } else { b';' };
    // Without a byte order mark common spreadsheets assume another encoding.
    let start = "\u{feff}".as_bytes().to_vec();
    let writer = WriterBuilder::new().delimiter(separator).terminator(Terminator::CRLF).from_writer(start);
    let mut table = Table { writer, style };
    table.row(Column::ALL.map(Column::name))?;
    for id in ids {
        table.bike(&record(conn, *id)?)?;
    }
    let bytes =
        table.writer.into_inner().map_err(|error| Inner::rule("table.not_written", error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| Inner::Stored(error.to_string()))
}

impl Reader {
    /// Bikes with their observations and valid readings, as a table for a spreadsheet. Struck out rows, checks and
    /// photos are not included; a bundle has them all.
    ///
    /// # Errors
    /// No such bike.
    pub fn csv(&self, bikes: &[BikeId], style: CsvStyle) -> Result<String, BookError> {
        self.read(|conn| write(conn, bikes, style))
    }

    /// All bikes that are not archived, by name; see [`Reader::csv`].
    ///
    /// # Errors
    /// Only those of reading.
    pub fn csv_of_all(&self, style: CsvStyle) -> Result<String, BookError> {
        self.read(|conn| {
            let mut rows = conn
                .prepare_cached("SELECT id FROM bikes WHERE archived_at IS NULL ORDER BY name_sort, key")?;
            let rows = rows.query_map([], |row| row.get(0))?;
            let ids: Vec<BikeId> = rows.collect::<Result<_, _>>()?;
            write(conn, &ids, style)
        })
    }
}
