//! Arbitrary bytes as a bundle: the file itself, and the content of entries with correct hashes. Accepted or refused,
//! never a panic. An accepted bundle is merged into an empty book and exported again, and importing that export changes
//! nothing.
#![no_main]

#[path = "../common/books.rs"]
mod books;
#[path = "../../src/parcel.rs"]
#[allow(dead_code)]
mod parcel;

use libfuzzer_sys::fuzz_target;
use std::io::Cursor;
use steerwright_core::book::{Bundle, BundleAcceptance, BundleScope};

/// Entries as text: each begins with a line `--NAME`.
fn entries(text: &str) -> Vec<(String, Vec<u8>)> {
    let parts = text.strip_prefix("--").unwrap_or_default().split("\n--");
    parts
        .filter_map(|part| part.split_once('\n'))
        .map(|(name, text)| (name.to_owned(), text.into()))
        .collect()
}

fuzz_target!(|bytes: &[u8]| {
    let packed = match std::str::from_utf8(bytes) {
        Ok(text) if text.starts_with("--") => parcel::zip(&parcel::bundle(&entries(text))),
        _ => bytes.to_vec(),
    };
    match Bundle::check(Cursor::new(&packed)) {
        Err(problem) => assert!(!problem.to_string().contains(char::is_control)),
        Ok(bundle) => books::with(|book, folder| {
            let merged =
                book.merge(bundle, BundleAcceptance::ALL).expect("what is sound goes into an empty book");
            let path = folder.join("again.zip");
            let written = book.write_bundle(BundleScope::Book, &path).expect("and out again");
            assert_eq!(written.bikes, merged.output.bikes_added);
            assert_eq!(written.measurements, merged.output.measurements_added);
            let again = book.read_bundle(&path, BundleAcceptance::ALL).expect("and in again");
            assert!(again.changes.is_empty());
            !merged.changes.is_empty()
        }),
    }
});
