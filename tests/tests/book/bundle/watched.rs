//! Bundles that somebody looks on at, and ends.

use std::fs;
use std::io::Cursor;
use steerwright_core::book::{BookError, Bundle, Bundled, Moment, Op, Watch};
use steerwright_tests::{Shelf, bike};

/// Notes every step, and ends the work at one.
#[derive(Default)]
struct Noting {
    steps: Vec<(u64, u64)>,
    ends_at: Option<usize>,
}

impl Watch for Noting {
    fn goes_on(&mut self, done: u64, of: u64) -> bool {
        self.steps.push((done, of));
        self.ends_at != Some(self.steps.len())
    }
}

#[test]
fn steps_are_told_and_an_end_at_any_of_them_leaves_no_trace() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    for name in ["Larch", "Hollow", "Crew"] {
        book.transact(Op::AddBike, |work| work.add_bike(&bike(name), None)).unwrap();
    }
    let path = shelf.folder().join("all.steerbundle");
    let mut watch = Noting::default();
    let told = book.read().write_bundle(Bundled::Book, &path, Moment(0), &mut watch).unwrap();
    assert_eq!(told.bikes, 3);
    assert_eq!(watch.steps, [(0, 3), (1, 3), (2, 3), (3, 3)]);
    let whole = fs::read(&path).unwrap();

    let names = shelf.names();
    for ends_at in 1..=watch.steps.len() {
        let mut watch = Noting { ends_at: Some(ends_at), ..Noting::default() };
        let told = book.read().write_bundle(Bundled::Book, &path, Moment(9), &mut watch);
        assert_eq!(told, Err(BookError::Stopped));
        assert_eq!(fs::read(&path).unwrap(), whole, "the file that was there");
        assert_eq!(shelf.names(), names, "nothing half-made is left");
    }

    let mut watch = Noting::default();
    assert!(Bundle::check_watched(Cursor::new(&whole), &mut watch).is_ok());
    let steps = watch.steps.len();
    assert!(watch.steps.is_sorted() && watch.steps.iter().all(|(done, of)| done <= of));
    for ends_at in 1..=steps {
        let mut watch = Noting { ends_at: Some(ends_at), ..Noting::default() };
        let checked = Bundle::check_watched(Cursor::new(&whole), &mut watch);
        assert!(matches!(checked, Err(BookError::Stopped)), "{ends_at}");
    }
}

#[test]
fn a_book_is_not_written_over() {
    let shelf = Shelf::new();
    let book = shelf.open();
    let told = book.read().write_bundle(Bundled::Book, &shelf.path(), Moment(0), &mut Noting::default());
    assert!(matches!(told, Err(BookError::Refused(_))), "{told:?}");
}
