//! Bundles with progress reports and cancellation.

use std::fs;
use std::io::Cursor;
use steerwright_core::book::{BookError, Bundle, BundleScope, Op, Progress, Timestamp};
use steerwright_tests::{TempBook, bike};

/// Records every step, and cancels the work at one.
#[derive(Default)]
struct Noting {
    steps: Vec<(u64, u64)>,
    ends_at: Option<usize>,
}

impl Progress for Noting {
    fn should_continue(&mut self, done: u64, of: u64) -> bool {
        self.steps.push((done, of));
        self.ends_at != Some(self.steps.len())
    }
}

#[test]
fn steps_are_told_and_an_end_at_any_of_them_leaves_no_trace() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    for name in ["Larch", "Hollow", "Crew"] {
        book.transact(Op::AddBike, |work| work.add_bike(&bike(name), None)).unwrap();
    }
    let path = temp_book.folder().join("all.steerbundle");
    let mut progress = Noting::default();
    let told = book.read().write_bundle(BundleScope::Book, &path, Timestamp(0), &mut progress).unwrap();
    assert_eq!(told.bikes, 3);
    assert_eq!(progress.steps, [(0, 3), (1, 3), (2, 3), (3, 3)]);
    let whole = fs::read(&path).unwrap();

    let names = temp_book.names();
    for ends_at in 1..=progress.steps.len() {
        let mut progress = Noting { ends_at: Some(ends_at), ..Noting::default() };
        let told = book.read().write_bundle(BundleScope::Book, &path, Timestamp(9), &mut progress);
        assert_eq!(told, Err(BookError::Cancelled));
        assert_eq!(fs::read(&path).unwrap(), whole, "the file that was there");
        assert_eq!(temp_book.names(), names, "nothing half-made is left");
    }

    let mut progress = Noting::default();
    assert!(Bundle::check_with_progress(Cursor::new(&whole), &mut progress).is_ok());
    let steps = progress.steps.len();
    assert!(progress.steps.is_sorted() && progress.steps.iter().all(|(done, of)| done <= of));
    for ends_at in 1..=steps {
        let mut progress = Noting { ends_at: Some(ends_at), ..Noting::default() };
        let checked = Bundle::check_with_progress(Cursor::new(&whole), &mut progress);
        assert!(matches!(checked, Err(BookError::Cancelled)), "{ends_at}");
    }
}

#[test]
fn a_book_is_not_written_over() {
    let temp_book = TempBook::new();
    let book = temp_book.open();
    let told =
        book.read().write_bundle(BundleScope::Book, &temp_book.path(), Timestamp(0), &mut Noting::default());
    assert!(matches!(told, Err(BookError::Refused(_))), "{told:?}");
}
