//! An empty field book for each run, without recreating it.

use std::cell::RefCell;
use std::path::Path;
use steerwright_core::book::{Clock, FieldBook, Timestamp};

/// A deterministic clock.
struct RepeatableClock(u64);

impl Clock for RepeatableClock {
    fn now(&mut self) -> Timestamp {
        self.0 += 1;
        Timestamp(1_777_622_400_000 + self.0 as i64)
    }

    fn random(&mut self) -> [u8; 10] {
        self.0 += 1;
        let mut bytes = [0; 10];
        bytes[2..].copy_from_slice(&self.0.to_be_bytes());
        bytes
    }
}

thread_local! {
    static BOOK: RefCell<(FieldBook, tempfile::TempDir)> = RefCell::new(open());
}

fn open() -> (FieldBook, tempfile::TempDir) {
    // In memory if the system supports it.
    let memory = Path::new("/dev/shm");
    let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    let folder = folder.expect("a temporary folder");
    let path = folder.path().join("book.steerbook");
    let (book, _) = FieldBook::open(&path, Box::new(RepeatableClock(0))).expect("a new book");
    (book, folder)
}

/// Runs a closure on the empty book. The closure returns whether the book was changed, as one step, which is
/// then undone.
pub fn with(run: impl FnOnce(&mut FieldBook, &Path) -> bool) {
    BOOK.with_borrow_mut(|(book, folder)| {
        if run(book, folder.path()) {
            book.undo().expect("it can be undone").expect("there is something to undo");
        }
        let left = book.read().bikes(&Default::default()).expect("a list").rows;
        assert!(left.is_empty());
    });
}
