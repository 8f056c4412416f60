//! Photos in the book: files named by hash and written before their rows; orphans removed, missing files
//! indicated.

use sha2::{Digest, Sha256};
use std::fs;
use std::path::Path;
use steerwright_core::book::{
    BikeId, BookError, BundleAcceptance, BundleScope, FieldBook, NewPhoto, Op, PhotoAdded, PhotoEdit,
    PhotoFile, PhotoId, Screen,
};
use steerwright_core::photo::{BuiltIn, Limits, PhotoError};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::{TempBook, bike, reading};

/// 40 x 30 pixels as stored, on its side.
fn sample(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo").join(name)).unwrap()
}

fn add(book: &mut FieldBook, bytes: &[u8], new: &NewPhoto<'_>) -> Result<PhotoAdded, BookError> {
    book.add_photo(bytes, &Limits::default(), &BuiltIn, new).map(|outcome| outcome.output)
}

fn with_bike(book: &mut FieldBook) -> BikeId {
    book.transact(Op::AddBike, |work| work.add_bike(&bike("Hire bike 07"), None)).unwrap().output
}

fn files(temp_book: &TempBook) -> Vec<String> {
    let entries = fs::read_dir(temp_book.folder().join("book.steerbook-photos")).into_iter().flatten();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_photo_comes_with_its_files_named_by_what_is_in_them() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bike = with_bike(&mut book);
    let bytes = sample("progressive-turned.jpg");
    let new = NewPhoto { bike: Some(bike), note: "upper seat", forget_original: false };
    let outcome = book.add_photo(&bytes, &Limits::default(), &BuiltIn, &new).unwrap();
    assert!(outcome.changes.contains(Screen::Photos) && outcome.changes.contains(Screen::Bike(bike)));
    let shown = book.read().bike_screen(bike).unwrap().photos;
    let [photo] = shown.as_slice() else { panic!("{shown:?}") };
    assert_eq!((photo.row.id, photo.row.kind.as_str()), (outcome.output.id, "jpeg"));
    assert_eq!((photo.row.note.as_str(), photo.row.bytes), ("upper seat", bytes.len() as u64));

    // Three files, each named by the hash of its content, and each found through the row.
    let names = files(&temp_book);
    assert_eq!(names.len(), 3, "{names:?}");
    let folder = book.read().photos_folder();
    for name in &names {
        assert_eq!(digest(&fs::read(folder.join(name)).unwrap()), *name);
    }
    let read = |which| book.read().photo_bytes(photo.row.id, which).unwrap().unwrap();
    assert_eq!(read(PhotoFile::Original), bytes);
    assert_eq!(fs::read(photo.working_file.as_ref().unwrap()).unwrap(), read(PhotoFile::Working));
    assert_eq!(fs::read(photo.thumbnail_file.as_ref().unwrap()).unwrap(), read(PhotoFile::Thumbnail));
    // The copies are upright: their size matches the row.
    let working = image::load_from_memory(&read(PhotoFile::Working)).unwrap();
    assert_eq!((working.width(), working.height()), (photo.row.width, photo.row.height));
}

#[test]
fn the_same_file_is_there_once_with_a_bike_and_its_bytes_once_in_the_book() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let (one, other) = (with_bike(&mut book), with_bike(&mut book));
    let bytes = sample("grey.jpg");
    let with = |bike| NewPhoto { bike: Some(bike), ..NewPhoto::default() };
    let first = add(&mut book, &bytes, &with(one)).unwrap();
    assert_eq!(add(&mut book, &bytes, &with(one)).unwrap(), PhotoAdded { id: first.id, known: true });
    let names = files(&temp_book);
    assert!(!add(&mut book, &bytes, &with(other)).unwrap().known);
    assert_eq!(files(&temp_book), names);
    assert_eq!(book.read().bike_screen(one).unwrap().photos.len(), 1);
    // Removing one keeps the other's files.
    book.transact(Op::RemovePhoto, |work| work.remove_photo(first.id)).unwrap();
    drop(book);
    let book = temp_book.open();
    let shown = book.read().bike_screen(other).unwrap().photos;
    assert!(shown.iter().all(|photo| photo.thumbnail_file.is_some() && photo.original_file.is_some()));
}

#[test]
fn what_is_no_photo_leaves_nothing() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bike = with_bike(&mut book);
    let new = NewPhoto { bike: Some(bike), ..NewPhoto::default() };
    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";
    assert_eq!(add(&mut book, heic, &new).unwrap_err(), BookError::Photo(PhotoError::Heic));
    assert_eq!(add(&mut book, b"GIF89a", &new).unwrap_err(), BookError::Photo(PhotoError::NotAPhoto));
    let mut torn = sample("baseline-444-turned.jpg");
    torn.truncate(torn.len() / 2);
    assert!(matches!(add(&mut book, &torn, &new), Err(BookError::Photo(_))));
    // A valid photo whose row is refused: the files are removed at once.
    let long = "n".repeat(501);
    let refused = add(&mut book, &sample("plain.png"), &NewPhoto { note: &long, ..new });
    assert!(matches!(refused, Err(BookError::Refused(_))), "{refused:?}");
    let stranger = NewPhoto { bike: Some(BikeId(uuid::Uuid::nil())), ..NewPhoto::default() };
    let refused = add(&mut book, &sample("plain.png"), &stranger);
    assert!(matches!(refused, Err(BookError::NotFound { .. })), "{refused:?}");
    assert_eq!(files(&temp_book), Vec::<String>::new());
    assert_eq!(book.read().bike_screen(bike).unwrap().photos, Vec::new());
}

#[test]
fn files_of_a_transaction_that_failed_later_go_with_it() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bytes = sample("lossy.webp");
    let intake = steerwright_core::photo::ingest(&bytes, &Limits::default(), &BuiltIn).unwrap();
    let failed = book.transact(Op::AddPhoto, |work| {
        work.add_photo(&intake, &bytes, &NewPhoto::default())?;
        assert_eq!(files(&temp_book).len(), 3);
        work.archive_bike(BikeId(uuid::Uuid::nil()))
    });
    assert!(matches!(failed, Err(BookError::NotFound { .. })), "{failed:?}");
    assert_eq!(files(&temp_book), Vec::<String>::new());
}

#[test]
fn an_original_is_kept_unless_the_user_says_not_to() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let new = NewPhoto { forget_original: true, ..NewPhoto::default() };
    let bytes = sample("palette.png");
    let id = add(&mut book, &bytes, &new).unwrap().id;
    assert!(!files(&temp_book).contains(&digest(&bytes)));
    assert_eq!(book.read().photo_bytes(id, PhotoFile::Original).unwrap(), None);
    let loose = book.read().loose_photos().unwrap();
    let [photo] = loose.as_slice() else { panic!("{loose:?}") };
    assert!(!photo.row.original_kept && photo.original_file.is_none() && photo.working_file.is_some());
}

#[test]
fn removing_can_be_undone_as_long_as_undo_reaches_and_then_the_files_go() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bike = with_bike(&mut book);
    let new = NewPhoto { bike: Some(bike), ..NewPhoto::default() };
    let id = add(&mut book, &sample("restarts.jpg"), &new).unwrap().id;
    let names = files(&temp_book);
    book.transact(Op::RemovePhoto, |work| work.remove_photo(id)).unwrap();
    assert!(matches!(book.read().photo(id), Err(BookError::NotFound { what: "photo", .. })));
    drop(book);
    let mut book = temp_book.open();
    assert_eq!(files(&temp_book), names, "still wanted for undoing");
    book.undo().unwrap().unwrap();
    assert!(book.read().photo(id).unwrap().working_file.is_some());
    book.redo().unwrap().unwrap();
    // Adding it undone and redone: the files are kept.
    for _ in 0..2 {
        book.undo().unwrap().unwrap();
    }
    drop(book);
    let mut book = temp_book.open();
    assert_eq!(files(&temp_book), names);
    for _ in 0..2 {
        book.redo().unwrap().unwrap();
    }
    assert!(book.read().photo(id).is_err());
    // Far beyond the hundred actions that can be undone, it cannot be restored.
    for value in 0..140 {
        let row = reading(Quantity::HeadTubeLength, 100.0 + f64::from(value) / 10.0, Instrument::Caliper);
        book.transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, None)).unwrap();
    }
    drop(book);
    drop(temp_book.open());
    assert_eq!(files(&temp_book), Vec::<String>::new());
}

#[test]
fn orphans_and_half_files_are_swept_and_nothing_else() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = add(&mut book, &sample("clear.png"), &NewPhoto::default()).unwrap().id;
    let (folder, mut kept) = (book.read().photos_folder(), files(&temp_book));
    drop(book);
    let orphan = digest(b"a file whose row never came");
    for name in [orphan.clone(), format!("{orphan}.4711.part"), "notes of the user.txt".to_owned()] {
        fs::write(folder.join(name), "x").unwrap();
    }
    fs::create_dir(folder.join("a folder")).unwrap();
    let book = temp_book.open();
    kept.extend(["a folder".to_owned(), "notes of the user.txt".to_owned()]);
    kept.sort();
    assert_eq!(files(&temp_book), kept);
    assert!(book.read().photo(id).unwrap().original_file.is_some());
}

#[test]
fn a_missing_or_damaged_file_is_shown_as_missing() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bike = with_bike(&mut book);
    let new = NewPhoto { bike: Some(bike), ..NewPhoto::default() };
    let id = add(&mut book, &sample("interlaced-turned.png"), &new).unwrap().id;
    let photo = book.read().photo(id).unwrap();
    fs::remove_file(photo.thumbnail_file.unwrap()).unwrap();
    let working = photo.working_file.unwrap();
    fs::write(&working, b"not what it was").unwrap();
    drop(book);
    let mut book = temp_book.open();
    let shown = &book.read().bike_screen(bike).unwrap().photos;
    assert!(matches!(shown.as_slice(), [photo] if photo.thumbnail_file.is_none()));
    assert_eq!(book.read().photo_bytes(id, PhotoFile::Thumbnail).unwrap(), None);
    assert_eq!(book.read().photo_bytes(id, PhotoFile::Working).unwrap(), None);
    // A bundle reports it too; adding the same photo elsewhere repairs the damaged copy.
    let told = book.write_bundle(BundleScope::Book, &temp_book.folder().join("all.zip")).unwrap();
    assert_eq!(told.missing, [id]);
    add(&mut book, &sample("interlaced-turned.png"), &NewPhoto::default()).unwrap();
    assert!(book.read().photo_bytes(id, PhotoFile::Working).unwrap().is_some());
}

#[test]
fn a_photo_goes_to_another_bike_and_belongs_to_readings() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let bike = with_bike(&mut book);
    let id = add(&mut book, &sample("grey.png"), &NewPhoto::default()).unwrap().id;
    let change = PhotoEdit { bike: Some(Some(bike)), note: Some("steerer".to_owned()) };
    let changes = book.transact(Op::EditPhoto, |work| work.edit_photo(id, &change)).unwrap().changes;
    assert!(changes.contains(Screen::Bike(bike)));
    let row = reading(Quantity::HeadAngle, 66.4, Instrument::Photo);
    book.transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, Some(id))).unwrap();
    let screen = book.read().bike_screen(bike).unwrap();
    assert_eq!(screen.photos.first().map(|photo| photo.row.note.as_str()), Some("steerer"));
    assert_eq!(screen.log.first().and_then(|row| row.photo), Some(id));
    // An edit that changes nothing adds no undo step.
    book.transact(Op::EditPhoto, |work| work.edit_photo(id, &change)).unwrap();
    assert_eq!(book.read().next_undo().unwrap().map(|it| it.op), Some(Op::AddMeasurement));
    let stranger = PhotoId(uuid::Uuid::nil());
    let missing = book.transact(Op::EditPhoto, |work| work.edit_photo(stranger, &change));
    assert!(matches!(missing, Err(BookError::NotFound { what: "photo", .. })));
}

#[test]
fn a_bundle_takes_the_copies_along_and_never_the_original() {
    let (from, to) = (TempBook::new(), TempBook::new());
    let mut book = from.open();
    let bike = with_bike(&mut book);
    let bytes = sample("baseline-444-turned.jpg");
    let new = NewPhoto { bike: Some(bike), ..NewPhoto::default() };
    let id = add(&mut book, &bytes, &new).unwrap().id;
    let path = from.folder().join("bike.zip");
    book.write_bundle(BundleScope::Bike(bike), &path).unwrap();
    let mut other = to.open();
    assert_eq!(other.read_bundle(&path, BundleAcceptance::ALL).unwrap().output.photos_added, 1);
    let photo = other.read().photo(id).unwrap();
    assert!(photo.working_file.is_some() && photo.thumbnail_file.is_some() && !photo.row.original_kept);
    assert!(!files(&to).contains(&digest(&bytes)));
    // Undone, the rows are removed; the files are kept for a redo and removed when it is no longer possible.
    other.undo().unwrap().unwrap();
    assert!(other.read().photo(id).is_err());
}

/// A book whose photos' rows are lost to damage: the pictures themselves are not removed.
#[test]
fn pictures_outlive_the_loss_of_their_rows() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    add(&mut book, &sample("plain.png"), &NewPhoto::default()).unwrap();
    let names = files(&temp_book);
    let working = book.read().loose_photos().unwrap().remove(0).row.working;
    drop(book);
    // Overwrite the table's page.
    let conn = rusqlite::Connection::open(temp_book.path()).unwrap();
    let (page, size): (u64, u64) = conn
        .query_row("SELECT rootpage, (SELECT page_size FROM pragma_page_size) FROM sqlite_schema WHERE name = 'photos'", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    drop(conn);
    let mut bytes = fs::read(temp_book.path()).unwrap();
    let start = usize::try_from((page - 1) * size).unwrap();
    bytes[start..start + usize::try_from(size).unwrap()].fill(0xA5);
    fs::write(temp_book.path(), &bytes).unwrap();
    let (_, opened) = temp_book.try_open().unwrap();
    assert!(matches!(opened, steerwright_core::book::Opened::Recovered(_)), "{opened:?}");
    drop(temp_book.open());
    let aside = temp_book.folder().join("book.steerbook-photos/unclaimed");
    let saved: Vec<_> =
        fs::read_dir(aside).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(saved.len(), names.len(), "{saved:?}");
    let hash: String = working.iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(saved.iter().any(|name| name.ends_with(&format!("{hash}.jpg"))), "{saved:?}");
}
