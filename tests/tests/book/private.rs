//! The book's files are for its user alone.
#![cfg(unix)]

use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use steerwright_core::book::{BundleScope, NewPhoto, Op};
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_tests::{TempBook, bike};

fn mode(path: &Path) -> u32 {
    fs::symlink_metadata(path).unwrap().permissions().mode() & 0o777
}

/// Every file and folder below, with its mode.
fn modes(folder: &Path) -> Vec<(String, u32)> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        all.push((path.file_name().unwrap().to_string_lossy().into_owned(), mode(&path)));
        if path.is_dir() {
            all.extend(modes(&path));
        }
    }
    all
}

fn filled(book: &TempBook) {
    let mut open = book.open();
    open.transact(Op::AddBike, |work| work.add_bike(&bike("Ash"), None)).unwrap();
    let photo = fs::read("data/photo/baseline-444-turned.jpg").unwrap();
    open.add_photo(&photo, &Limits::default(), &BuiltIn, &NewPhoto::default()).unwrap();
    // The log and its index exist while the book is open.
    for suffix in ["-wal", "-shm"] {
        let mut path = book.path().into_os_string();
        path.push(suffix);
        assert_eq!(mode(Path::new(&path)), 0o600, "{suffix}");
    }
}

#[test]
fn files_are_made_for_the_user_alone() {
    let book = TempBook::new();
    filled(&book);
    // Opened again, it has a backup.
    drop(book.open());
    let all = modes(book.folder());
    assert!(all.iter().any(|(name, _)| name.contains(".backup-")), "{all:?}");
    assert!(all.iter().any(|(name, _)| name.len() == 64), "{all:?}");
    for (name, mode) in all {
        assert_eq!(mode, if name.ends_with("-photos") { 0o700 } else { 0o600 }, "{name}");
    }
}

#[test]
fn what_was_open_to_others_is_closed_when_the_book_is_opened() {
    let book = TempBook::new();
    filled(&book);
    drop(book.open());
    for (name, _) in modes(book.folder()).iter().filter(|(name, _)| name.starts_with("book.steerbook")) {
        let path = book.folder().join(name);
        let open = if path.is_dir() { 0o755 } else { 0o644 };
        fs::set_permissions(path, Permissions::from_mode(open)).unwrap();
    }
    // A file of the user's beside it is the user's, whatever its name.
    let mine = book.folder().join("book.steerbook.zip");
    fs::write(&mine, "mine").unwrap();
    fs::set_permissions(&mine, Permissions::from_mode(0o644)).unwrap();
    drop(book.open());
    for (name, mode) in modes(book.folder()) {
        let expected = match name.as_str() {
            "book.steerbook.zip" => 0o644,
            name if name.ends_with("-photos") => 0o700,
            _ => 0o600,
        };
        assert_eq!(mode, expected, "{name}");
    }
}

#[test]
fn a_folder_that_is_made_for_the_book_is_the_users_alone() {
    let folder = tempfile::TempDir::new().unwrap();
    let deep = folder.path().join("data").join("steerwright");
    let clock = Box::new(steerwright_tests::RepeatableClock::default());
    drop(steerwright_core::book::FieldBook::open(&deep.join("field.steerbook"), clock).unwrap());
    assert_eq!((mode(&deep), mode(deep.parent().unwrap())), (0o700, 0o700));
}

/// An exported file is made to be passed on: it has the mode that the user's other files have.
#[test]
fn an_exported_bundle_follows_the_users_own_setting() {
    let book = TempBook::new();
    let mut open = book.open();
    open.transact(Op::AddBike, |work| work.add_bike(&bike("Ash"), None)).unwrap();
    let (bundle, other) = (book.folder().join("all.zip"), book.folder().join("other"));
    open.write_bundle(BundleScope::Book, &bundle).unwrap();
    fs::write(&other, "").unwrap();
    assert_eq!(mode(&bundle), mode(&other));
}
