//! Arbitrary bytes as a table: accepted or refused, never a panic, with every problem in an existing row. An accepted
//! table is imported into a book and exported in both styles, and importing the exports changes nothing.
#![no_main]

#[path = "../common/books.rs"]
mod books;

use libfuzzer_sys::fuzz_target;
use steerwright_core::book::{CsvStyle, CsvTable};

fuzz_target!(|bytes: &[u8]| {
    let Ok(table) = CsvTable::read(bytes) else { return };
    let rows = bytes.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count() as u64 + 1;
    assert!(table.errors.errors().iter().all(|error| error.row.is_some_and(|row| row > 1 && row <= rows)));
    assert!(table.rows.iter().all(|row| row.row > 1 && row.row <= rows));
    assert_eq!(table.errors.is_empty(), table.bad_rows == 0);
    if table.rows.is_empty() {
        return;
    }
    books::with(|book, _| {
        let read = book.read_csv(bytes, None, true).expect("sound rows are taken in");
        for style in [CsvStyle::Comma, CsvStyle::Semicolon] {
            let text = book.read().csv_of_all(style).expect("a table");
            let again = book.read_csv(text.as_bytes(), None, false).expect("our own table");
            assert!(again.changes.is_empty());
            assert_eq!(again.output.measurements_known, read.output.measurements_added);
        }
        !read.changes.is_empty()
    });
});
