//! Parsing a table, independent of a book.

use super::column::Column;
use super::{formula, observation};
use csv::{ByteRecord, ReaderBuilder};
use std::collections::BTreeMap;
use steerwright_fit::bike::{Measurement, Observed};
use steerwright_input::nearest;
use steerwright_input::{CsvError, CsvErrors, first_hidden, printable, shown};
use steerwright_mechanics::geometry::TyreSize;
use steerwright_metrology::quantity::{Instrument, Quantity, Unit};

/// The content of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum CsvValue {
    /// A bike without data.
    Bike,
    /// A reading.
    Reading(Measurement),
    /// An observation.
    Seen(Observed),
}

/// A valid row.
#[derive(Debug, Clone, PartialEq)]
pub struct CsvRow {
    /// The row's number as in a spreadsheet, from 1.
    pub row: u64,
    /// The bike's name.
    pub bike: String,
    /// The bike's owner.
    pub owner: Option<String>,
    /// The row's content.
    pub what: CsvValue,
}

/// A parsed table: the valid rows, and the problems of the others.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CsvTable {
    /// The valid rows, in the order of the table.
    pub rows: Vec<CsvRow>,
    /// The problems of the others.
    pub errors: CsvErrors,
    /// Number of invalid rows.
    pub bad_rows: u64,
}

/// The separators that are recognised.
const SEPARATORS: [u8; 3] = *b",;\t";

/// The separator with which the first line has the most known column names.
fn separator(bytes: &[u8]) -> u8 {
    let known = |separator: u8| {
        let mut record = ByteRecord::new();
        let mut reader = builder(separator).from_reader(bytes);
        let read = reader.read_byte_record(&mut record);
        let names = record.iter().filter_map(|name| std::str::from_utf8(name).ok());
        if read.is_ok() { names.filter(|name| Column::of(name).is_some()).count() } else { 0 }
    };
    // Ties go to the first separator.
    SEPARATORS.into_iter().rev().max_by_key(|separator| known(*separator)).unwrap_or(b',')
}

fn builder(separator: u8) -> ReaderBuilder {
    let mut builder = ReaderBuilder::new();
    builder.has_headers(false).flexible(true).delimiter(separator);
    builder
}

/// Number of empty rows before the start of a row. The reader skips them; a spreadsheet counts them.
fn empty_rows(bytes: &[u8], start: u64) -> u64 {
    let start = usize::try_from(start).unwrap_or(usize::MAX);
    let (before, after) = bytes.split_at_checked(start).unwrap_or_default();
    let breaks = after.iter().position(|byte| !matches!(byte, b'\r' | b'\n')).unwrap_or(after.len());
    // A line feed after a carriage return belongs to it, also if the carriage return ended the previous row.
    let mut last = before.last();
    let mut rows = 0;
    for byte in after.iter().take(breaks) {
        rows += u64::from(*byte == b'\r' || last != Some(&b'\r'));
        last = Some(byte);
    }
    rows
}

/// One row's cells by column, and its problems.
struct Cells<'t> {
    row: u64,
    cells: BTreeMap<Column, &'t str>,
    comma: bool,
    errors: Vec<CsvError>,
}

impl<'t> Cells<'t> {
    fn cell(&self, column: Column) -> &'t str {
        self.cells.get(&column).copied().unwrap_or_default()
    }

    /// Free text; `None` if the cell is empty.
    fn text(&self, column: Column) -> Option<&'t str> {
        let text = formula::bare(self.cell(column));
        (!text.is_empty()).then_some(text)
    }

    fn wrong(&mut self, column: Column, found: String, expected: impl Into<String>, meant: Option<String>) {
        let (row, column) = (Some(self.row), Some(column.name().to_owned()));
        self.errors.push(CsvError { row, column, found, expected: expected.into(), did_you_mean: meant });
    }

    /// A number with a decimal point, or with a decimal comma if commas do not separate the cells.
    fn number(&mut self, column: Column) -> Option<f64> {
        let cell = self.cell(column);
        let plain = |text: &str| {
            let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E');
            let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
            number.filter(|_| text.chars().all(digits))
        };
        let with_point =
            (cell.matches(',').count() == 1 && !cell.contains('.')).then(|| cell.replace(',', "."));
        let with_point = with_point.filter(|text| plain(text).is_some());
        let found = match &with_point {
            Some(text) if !self.comma => plain(text),
            _ => plain(cell),
        };
        if found.is_none() {
            let expected = if self.comma { "a number such as 41.8" } else { "a number such as 41.8 or 41,8" };
            self.wrong(column, shown(cell), expected, with_point);
        }
        found
    }

    /// One of a list of words.
    fn word<T: Copy>(&mut self, column: Column, all: &[(&'static str, T)]) -> Option<T> {
        let cell = self.cell(column);
        let found = all.iter().find(|(name, _)| name.eq_ignore_ascii_case(cell)).map(|(_, it)| *it);
        if found.is_none() {
            let names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
            self.not_one_of(column, &names);
        }
        found
    }

    /// Adds the problem that a cell has none of the words that its column accepts.
    fn not_one_of(&mut self, column: Column, words: &[&str]) {
        let cell = self.cell(column);
        let expected = match words {
            [one, other] => format!("{one} or {other}"),
            words => format!("one of {}", words.join(", ")),
        };
        self.wrong(column, shown(cell), expected, nearest(cell, words).map(str::to_owned));
    }

    fn name(&mut self, column: Column) -> Option<String> {
        const MOST: usize = crate::text::NAME;
        let text = self.text(column)?;
        if text.chars().count() <= MOST && first_hidden(text).is_none() {
            return Some(text.to_owned());
        }
        self.wrong(column, shown(text), format!("1 to {MOST} plain characters"), None);
        None
    }

    /// A tyre's diameter by the size on its side. A size has no unit, and no tool reads it.
    fn tyre(&mut self, what: Quantity) -> Option<Measurement> {
        let text = self.cell(Column::Value);
        let size = TyreSize::read(text).map_err(|error| {
            self.wrong(Column::Value, shown(text), error.expected(), None);
        });
        for (column, allowed) in
            [(Column::Unit, Unit::Mm.name()), (Column::With, Instrument::MakerSheet.name())]
        {
            let cell = self.cell(column);
            if !cell.is_empty() && !cell.eq_ignore_ascii_case(allowed) {
                self.wrong(
                    column,
                    shown(cell),
                    format!("nothing or {allowed}, since the value is a size"),
                    None,
                );
            }
        }
        let plus_minus = match self.cell(Column::PlusMinus) {
            "" => None,
            _ => self.number(Column::PlusMinus),
        };
        let reading = size.ok()?.reading(what, text, plus_minus, self.text(Column::Note));
        let at = self.cell(Column::At);
        Some(Measurement { at: (!at.is_empty()).then(|| at.to_owned()), ..reading })
    }

    fn reading(&mut self, what: Quantity) -> Option<Measurement> {
        let is_tyre = matches!(what, Quantity::FrontTyreDiameter | Quantity::RearTyreDiameter);
        if is_tyre && TyreSize::is_written_as_one(self.cell(Column::Value)) {
            let reading = self.tyre(what)?;
            self.check(&reading);
            return Some(reading);
        }
        let units = [Unit::Mm, Unit::Cm, Unit::In, Unit::Deg].map(|unit| (unit.name(), unit));
        let tools = Instrument::ALL.map(|tool| (tool.name(), tool));
        let value = self.number(Column::Value);
        let unit = self.word(Column::Unit, &units);
        let with = self.word(Column::With, &tools);
        let plus_minus = match self.cell(Column::PlusMinus) {
            "" => None,
            _ => self.number(Column::PlusMinus),
        };
        let (at, note) = (self.cell(Column::At), self.text(Column::Note));
        let reading = Measurement {
            what,
            value: value?,
            unit: unit?,
            with: with?,
            plus_minus,
            at: (!at.is_empty()).then(|| at.to_owned()),
            note: note.map(str::to_owned),
        };
        self.check(&reading);
        Some(reading)
    }

    /// The bike file's own checks decide whether a reading is valid.
    fn check(&mut self, reading: &Measurement) {
        if let Err(errors) = reading.check("the row") {
            for error in &errors {
                if let Some(column) = Column::of(&error.field) {
                    let found = error.found.clone().unwrap_or_else(|| "nothing".to_owned());
                    self.wrong(column, found, error.expected.clone(), error.did_you_mean.clone());
                }
            }
        }
    }

    fn seen(&mut self, field: &str) -> Option<Observed> {
        for column in [Column::Unit, Column::With, Column::PlusMinus, Column::At, Column::Note] {
            if !self.cell(column).is_empty() {
                let found = shown(self.cell(column));
                self.wrong(
                    column,
                    found,
                    format!("nothing, since {field} is looked at and not measured"),
                    None,
                );
            }
        }
        let observed = observation::read(field, self.cell(Column::Value));
        observed.map_err(|words| self.not_one_of(Column::Value, words)).ok()
    }

    fn what(&mut self) -> Option<CsvValue> {
        let what = self.cell(Column::What).to_ascii_lowercase();
        if what.is_empty() {
            let after =
                [Column::Value, Column::Unit, Column::With, Column::PlusMinus, Column::At, Column::Note];
            if after.into_iter().all(|column| self.cell(column).is_empty()) {
                return Some(CsvValue::Bike);
            }
        }
        if let Some(field) = observation::FIELDS.into_iter().find(|field| *field == what) {
            return self.seen(field).map(CsvValue::Seen);
        }
        if let Some(quantity) = Quantity::from_name(&what) {
            return self.reading(quantity).map(CsvValue::Reading);
        }
        let names: Vec<&str> =
            Quantity::ALL.iter().map(|quantity| quantity.name()).chain(observation::FIELDS).collect();
        let meant = nearest(&what, &names).map(str::to_owned);
        let expected = "a quantity of the measuring guide such as head_tube_length, or a field of `observed`";
        self.wrong(Column::What, shown(self.cell(Column::What)), expected, meant);
        None
    }

    fn read(&mut self) -> Option<CsvRow> {
        let bike = self.name(Column::Bike);
        if bike.is_none() && self.cell(Column::Bike).is_empty() {
            self.wrong(Column::Bike, "nothing".to_owned(), "the bike's name", None);
        }
        let owner = self.name(Column::Owner);
        let what = self.what();
        if self.errors.is_empty() {
            Some(CsvRow { row: self.row, bike: bike?, owner, what: what? })
        } else {
            None
        }
    }
}

/// The column at each position of the first line.
fn header(cells: &[&str]) -> Result<Vec<Column>, CsvErrors> {
    let (mut columns, mut errors) = (Vec::new(), CsvErrors::default());
    let names = Column::ALL.map(Column::name);
    let mut note = |column: &str, found: String, expected: String, meant: Option<&str>| {
        let (row, column) =
            (Some(1), Some(printable(&column.chars().take(60).collect::<String>()).into_owned()));
        errors.push(CsvError { row, column, found, expected, did_you_mean: meant.map(str::to_owned) });
    };
    for cell in cells {
        match Column::of(cell) {
            Some(column) if columns.contains(&column) => {
                note(cell, "is there twice".to_owned(), "each column once".to_owned(), None);
            }
            Some(column) => columns.push(column),
            None => {
                let expected = format!("one of {}", names.join(", "));
                note(cell, "is no column of this table".to_owned(), expected, nearest(cell, &names));
            }
        }
    }
    for column in Column::NEEDED.into_iter().filter(|column| !columns.contains(column)) {
        note(column.name(), "is missing".to_owned(), "it in the first line".to_owned(), None);
    }
    if errors.is_empty() { Ok(columns) } else { Err(errors) }
}

impl CsvTable {
    /// Most bytes of a table.
    pub const MOST_BYTES: usize = 64 << 20;
    /// Most rows of a table.
    pub const MOST_ROWS: usize = 200_000;

    /// Reads a table.
    ///
    /// # Errors
    /// A table that is too large, is not UTF-8, or whose first line does not name the columns. Problems of single rows
    /// are in the result.
    pub fn read(bytes: &[u8]) -> Result<Self, CsvErrors> {
        if bytes.len() > Self::MOST_BYTES {
            let expected = format!("at most {}", Self::MOST_BYTES);
            return Err(CsvErrors::whole(format!("the table has {} bytes", bytes.len()), expected));
        }
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        if let Err(error) = std::str::from_utf8(bytes) {
            let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = good.iter().filter(|byte| **byte == b'\n').count() + 1;
            return Err(CsvErrors::whole(
                format!("line {line} is no UTF-8 text"),
                "a table saved as CSV UTF-8",
            ));
        }
        let separator = separator(bytes);
        let mut reader = builder(separator).from_reader(bytes);
        let mut record = ByteRecord::new();
        let (mut columns, mut table) = (None, Self::default());
        let (mut row, mut count) = (0, 0usize);
        loop {
            let start = reader.position().byte();
            let more = reader.read_byte_record(&mut record);
            if !more
                .map_err(|error| CsvErrors::whole(error.to_string(), "a table of comma-separated values"))?
            {
                break;
            }
            row += 1 + empty_rows(bytes, start);
            let cells: Vec<&str> =
                record.iter().map(|cell| std::str::from_utf8(cell).unwrap_or_default().trim()).collect();
            let Some(columns) = &columns else {
                columns = Some(header(&cells)?);
                continue;
            };
            // Spreadsheets write trailing rows of empty cells.
            if cells.iter().all(|cell| cell.is_empty()) {
                continue;
            }
            count += 1;
            if count > Self::MOST_ROWS {
                let expected = format!("at most {}", Self::MOST_ROWS);
                return Err(CsvErrors::whole("the table has more rows", expected));
            }
            table.take(row, &cells, columns, separator == b',');
        }
        if columns.is_none() {
            return Err(CsvErrors::whole(
                "there is nothing in the table",
                "a first line with the columns' names",
            ));
        }
        Ok(table)
    }

    fn take(&mut self, row: u64, cells: &[&str], columns: &[Column], comma: bool) {
        let beyond = cells.iter().skip(columns.len()).any(|cell| !cell.is_empty());
        let mut errors = Vec::new();
        if cells.len() < columns.len() || beyond {
            let found = format!("the row has {}", steerwright_input::count(cells.len(), "cell"));
            let expected = format!("{}, as the first line has", columns.len());
            errors.push(CsvError { row: Some(row), column: None, found, expected, did_you_mean: None });
        } else {
            let cells = columns.iter().copied().zip(cells.iter().copied()).collect();
            let mut cells = Cells { row, cells, comma, errors: Vec::new() };
            match cells.read() {
                Some(row) => self.rows.push(row),
                None => errors = cells.errors,
            }
        }
        self.bad_rows += u64::from(!errors.is_empty());
        errors.into_iter().for_each(|error| self.errors.push(error));
    }
}
