//! Damaged books without a backup: set aside, never deleted, and readable content is in a new one.

use proptest::prelude::*;
use rusqlite::Connection;
use rusqlite::config::DbConfig;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use steerwright_core::bike::Bike;
use steerwright_core::book::{
    Archived, BikeEdit, BikeQuery, BookError, CatalogueImport, FieldBook, LogEntry, MeasurementId, Op,
    Opened, Recovery,
};
use steerwright_core::catalogue::demo_catalogue_json;
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::{RepeatableClock, TempBook, bike, dump, reading};

/// 120 bikes with ten readings each, tags, notes and a catalogue; closed.
fn fleet(temp_book: &TempBook) {
    let mut book = temp_book.open();
    book.transact(Op::Import, |work| {
        for number in 0..120 {
            let note = |row: u32| row.is_multiple_of(4).then(|| format!("reading {row} of bike {number}"));
            let rows = (0..10u32).map(|row| steerwright_core::bike::Measurement {
                note: note(row),
                ..reading(Quantity::HeadTubeLength, 100.0 + f64::from(row), Instrument::SteelRule)
            });
            let id =
                work.add_bike(&Bike { measured: rows.collect(), ..bike(&format!("Bike {number}")) }, None)?;
            let edit = BikeEdit {
                tags: Some(vec![format!("row{}", number % 4)]),
                notes: Some("A line of notes that takes up some room. ".repeat(8)),
                ..BikeEdit::default()
            };
            work.edit_bike(id, &edit)?;
        }
        let bytes = demo_catalogue_json().as_bytes();
        work.import_catalogue(&CatalogueImport { bytes, file: "demo", signature: None, allow_older: false })
    })
    .unwrap();
}

/// Leaf pages of a table, and the page size.
fn leaves(path: &Path, table: &str) -> (Vec<usize>, usize) {
    let conn = Connection::open(path).unwrap();
    let mut rows = conn
        .prepare("SELECT pageno FROM dbstat WHERE name = ?1 AND pagetype = 'leaf' ORDER BY pageno")
        .unwrap();
    let pages = rows.query_map([table], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
    (pages, conn.pragma_query_value(None, "page_size", |row| row.get(0)).unwrap())
}

fn spoil(path: &Path, page: usize, size: usize, with: u8) {
    let mut bytes = fs::read(path).unwrap();
    bytes[(page - 1) * size..page * size].fill(with);
    fs::write(path, bytes).unwrap();
}

/// Every row of every log, by id.
fn logs(book: &FieldBook) -> Result<BTreeMap<MeasurementId, LogEntry>, BookError> {
    let query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
    let mut logs = BTreeMap::new();
    for row in book.read().bikes(&query)?.rows {
        logs.extend(book.read().bike_screen(row.id)?.log.into_iter().map(|row| (row.id, row)));
    }
    Ok(logs)
}

/// Every row of every log of a book that is closed again, with its backups removed.
fn logs_of(temp_book: &TempBook) -> BTreeMap<MeasurementId, LogEntry> {
    let rows = logs(&temp_book.open()).unwrap();
    temp_book.remove_backups();
    rows
}

fn recovered(opened: Opened) -> Recovery {
    match opened {
        Opened::Recovered(recovery) => recovery,
        other => panic!("{other:?}"),
    }
}

fn saved(recovery: &Recovery, table: &str) -> u64 {
    recovery.saved.iter().find(|saved| saved.table == table).unwrap().rows
}

fn lost(recovery: &Recovery, table: &str) -> Option<u64> {
    recovery.lost.iter().find(|lost| lost.table == table).map_or(Some(0), |lost| lost.rows)
}

/// One page of the log is lost. The daily backup finds it, and every other row is saved.
#[test]
fn a_page_of_the_log_is_lost_and_all_else_is_saved() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let path = temp_book.path();
    let before = logs_of(&temp_book);
    let (pages, size) = leaves(&path, "measurements");
    assert!(pages.len() > 10, "{pages:?}");
    spoil(&path, pages[pages.len() / 2], size, 0xEE);
    let damaged = fs::read(&path).unwrap();

    // Ids different from the existing ones.
    let (mut book, opened) = FieldBook::open(&path, Box::new(RepeatableClock::new(1))).unwrap();
    let recovery = recovered(opened);
    let after = logs(&book).unwrap();
    // A page holds some fifteen of these rows.
    let gone = before.len() - after.len();
    assert!((1..80).contains(&gone), "{gone}");
    assert_eq!(saved(&recovery, "measurements"), after.len() as u64);
    assert_eq!(lost(&recovery, "measurements"), Some(gone as u64));
    assert_eq!(recovery.lost.len(), 1, "{recovery:?}");
    assert_eq!(saved(&recovery, "bikes"), 120);
    for (id, row) in &after {
        let was = &before[id];
        assert_eq!(
            (&row.measurement, &row.who, row.recorded_at),
            (&was.measurement, &was.who, was.recorded_at)
        );
    }
    assert!(
        recovery.description().contains("Saved into a new one: bikes: 120"),
        "{}",
        recovery.description()
    );
    // The damaged file is kept byte for byte.
    assert_eq!(fs::read(&recovery.set_aside).unwrap(), damaged);
    assert_eq!(recovery.set_aside.parent(), path.parent());
    // The new book is sound, searchable, has the recovery report, and can be written to.
    assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
    let query = BikeQuery { text: "row3 notes".into(), ..BikeQuery::default() };
    assert_eq!(book.read().bikes(&query).unwrap().rows.len(), 30);
    assert_eq!(book.read().recoveries().unwrap(), [recovery]);
    assert!(book.read().catalogue("Tarn & Tiller Components", None).is_ok());
    book.transact(Op::AddBike, |work| work.add_bike(&bike("New"), None)).unwrap();
    book.undo().unwrap().unwrap();
    drop(book);
    assert_eq!(temp_book.try_open().unwrap().1, Opened::Existing);
}

/// Damage that SQLite cannot detect, since only letters changed: a row that cannot be parsed is lost, a name keeps its
/// legible part, and nothing else is affected.
#[test]
fn letters_that_changed_cost_their_row_at_most() {
    for (sql, rows_lost) in [
        ("UPDATE measurements SET tool = 'steel_rulf' WHERE key = 600", 1),
        ("UPDATE measurements SET what = CAST(x'68ff' AS TEXT) WHERE key = 7", 1),
        ("UPDATE measurements SET note = CAST(x'68ff' AS TEXT) WHERE key = 7", 0),
        ("UPDATE bikes SET name = CAST(x'42696b6520ff' AS TEXT) WHERE key = 3", 0),
        ("UPDATE bikes SET observed = '{\"upper_seat\": \"dropin\"}' WHERE key = 3", 0),
        ("UPDATE bikes SET fitted = '{\"sku\": 4}' WHERE key = 3", 0),
    ] {
        let temp_book = TempBook::new();
        fleet(&temp_book);
        let conn = Connection::open(temp_book.path()).unwrap();
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
        assert_eq!(conn.execute(sql, []).unwrap(), 1);
        drop(conn);
        let (book, opened) = temp_book.try_open().unwrap();
        let recovery = recovered(opened);
        assert_eq!(lost(&recovery, "measurements"), Some(rows_lost), "{sql}");
        assert_eq!(logs(&book).unwrap().len() as u64, 1200 - rows_lost, "{sql}");
        assert_eq!(recovery.lost.len() as u64, rows_lost, "{sql}");
        let all = BikeQuery { limit: 500, ..BikeQuery::default() };
        let names: Vec<String> =
            book.read().bikes(&all).unwrap().rows.into_iter().map(|row| row.name).collect();
        assert_eq!(names.len(), 120);
        assert_eq!(names.contains(&"Bike \u{FFFD}".to_owned()), sql.contains("name"), "{sql}");
    }
}

/// Readings of bikes whose own page is lost are kept, under a placeholder bike.
#[test]
fn readings_outlive_the_row_of_their_bike() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let path = temp_book.path();
    let before: BTreeSet<MeasurementId> = logs_of(&temp_book).into_keys().collect();
    let (pages, size) = leaves(&path, "bikes");
    spoil(&path, pages[3], size, 0x00);
    let (book, opened) = temp_book.try_open().unwrap();
    let recovery = recovered(opened);
    let gone = lost(&recovery, "bikes").unwrap();
    assert!(gone > 0 && saved(&recovery, "bikes") + gone == 120, "{recovery:?}");
    assert_eq!(lost(&recovery, "measurements"), Some(0));
    let after: BTreeSet<MeasurementId> = logs(&book).unwrap().into_keys().collect();
    assert_eq!(after, before);
    let query = BikeQuery { text: "could not be read".into(), ..BikeQuery::default() };
    assert_eq!(book.read().bikes(&query).unwrap().rows.len() as u64, gone);
}

/// Not even the first page is legible: nothing is saved, nothing is deleted, and there is a usable book.
#[test]
fn a_file_of_nothing_legible_is_kept() {
    for length in [1, 99, 4096, 100_000] {
        let temp_book = TempBook::new();
        let rubbish: Vec<u8> = (0..length).map(|at: u32| (at * 7 % 251) as u8).collect();
        fs::write(temp_book.path(), &rubbish).unwrap();
        let (mut book, opened) = temp_book.try_open().unwrap();
        let recovery = recovered(opened);
        assert!(recovery.saved.iter().all(|saved| saved.rows == 0));
        assert!(recovery.lost.iter().all(|lost| lost.rows.is_none()) && !recovery.lost.is_empty());
        assert!(
            recovery.description().contains("Saved into a new one: nothing."),
            "{}",
            recovery.description()
        );
        assert_eq!(fs::read(&recovery.set_aside).unwrap(), rubbish);
        book.transact(Op::AddBike, |work| work.add_bike(&bike("New"), None)).unwrap();
    }
}

/// Without its first bytes SQLite reads nothing of a file. Without a backup the new book is empty.
#[test]
fn a_file_without_its_header_is_kept() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let mut file = fs::read(temp_book.path()).unwrap();
    file[..60].fill(0xA5);
    fs::write(temp_book.path(), &file).unwrap();
    let (book, opened) = temp_book.try_open().unwrap();
    let recovery = recovered(opened);
    assert!(recovery.backup.is_none() && recovery.saved.iter().all(|saved| saved.rows == 0), "{recovery:?}");
    assert_eq!(lost(&recovery, "bikes"), None);
    assert_eq!(fs::read(&recovery.set_aside).unwrap(), file);
    assert_eq!(book.read().recoveries().unwrap(), [recovery]);
}

/// A file with another extension that is not a book belongs to another program.
#[test]
fn another_program_s_file_is_left_alone() {
    let temp_book = TempBook::new();
    let photo = temp_book.folder().join("photo.jpg");
    fs::write(&photo, b"\xFF\xD8\xFF\xE0 not a book").unwrap();
    let database = temp_book.folder().join("other.steerbook");
    let conn = Connection::open(&database).unwrap();
    conn.execute_batch("CREATE TABLE t (a); INSERT INTO t VALUES (1);").unwrap();
    drop(conn);
    let marked = temp_book.folder().join("marked.steerbook");
    let conn = Connection::open(&marked).unwrap();
    conn.execute_batch("PRAGMA application_id = 1; CREATE TABLE t (a);").unwrap();
    drop(conn);
    let names = temp_book.names();
    for path in [&photo, &database, &marked, &temp_book.folder().to_owned()] {
        let before = fs::read(path).ok();
        let clock = Box::new(RepeatableClock::default());
        let error = FieldBook::open(path, clock).map(|_| ()).unwrap_err();
        assert_eq!(error, BookError::NotABook { path: path.clone() });
        assert_eq!(fs::read(path).ok(), before);
    }
    assert_eq!(temp_book.names(), names);
}

/// Killed before the damaged book was renamed: it is recovered again. Killed after: the last steps are repeated.
#[test]
fn a_recovery_cut_short_is_finished() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let path = temp_book.path();
    let (pages, size) = leaves(&path, "measurements");
    spoil(&path, pages[2], size, 0xEE);
    // Partial and unusable.
    fs::write(temp_book.folder().join("book.steerbook.recovering"), b"half").unwrap();
    fs::write(temp_book.folder().join("book.steerbook.recovering-journal"), b"half").unwrap();
    let (book, opened) = temp_book.try_open().unwrap();
    let recovery = recovered(opened);
    let rows = logs(&book).unwrap();
    drop(book);
    let whole = dump(&path);
    let aside = recovery.set_aside.clone();
    // Each state between the last steps: the book renamed but not its log, the new one not moved yet.
    for log_left in [false, true] {
        fs::rename(&path, temp_book.folder().join("book.steerbook.recovering")).unwrap();
        if log_left {
            fs::write(temp_book.folder().join("book.steerbook-wal"), b"of the damaged book").unwrap();
        }
        let (book, opened) = temp_book.try_open().unwrap();
        assert_eq!(recovered(opened), recovery);
        assert_eq!(logs(&book).unwrap(), rows);
        drop(book);
        assert_eq!(dump(&path), whole);
        assert!(aside.exists());
        let log = temp_book.folder().join(format!("{}-wal", aside.file_name().unwrap().to_str().unwrap()));
        assert_eq!(log.exists(), log_left);
    }
    assert_eq!(temp_book.try_open().unwrap().1, Opened::Existing);
    assert!(!temp_book.names().iter().any(|name| name.contains("recovering") || name.contains("suspect")));
}

/// Table definitions are stored as text: a changed letter in one of their constraints costs nothing but a recovery.
#[test]
fn a_letter_that_changed_in_a_table_s_rules_costs_nothing() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let whole = fs::read(temp_book.path()).unwrap();
    let rows = logs(&temp_book.open()).unwrap();
    let places: Vec<usize> =
        whole.windows(7).enumerate().filter(|(_, it)| it == b"length(").map(|(at, _)| at).collect();
    assert!(places.len() >= 5, "{places:?}");
    let mut recoveries = 0;
    for at in places.into_iter().step_by(3) {
        let mut bytes = whole.clone();
        bytes[at + 1] = b'0';
        fs::write(temp_book.path(), &bytes).unwrap();
        fs::write(temp_book.folder().join("book.steerbook-suspect"), b"").unwrap();
        let (book, opened) = temp_book.try_open().unwrap();
        if let Opened::Recovered(recovery) = opened {
            recoveries += 1;
            assert!(recovery.lost.is_empty(), "{at}: {recovery:?}");
            assert!(recovery.why.contains("l0ngth"), "{}", recovery.why);
            fs::remove_file(recovery.set_aside).unwrap();
        }
        assert_eq!(book.read().examine().unwrap(), Vec::<String>::new(), "{at}");
        assert_eq!(logs(&book).unwrap(), rows, "{at}");
    }
    assert!(recoveries >= 2, "{recoveries} recovered");
}

/// The same if it is not suspected: a write fails and changes nothing, and reopening repairs it, whether it was a
/// table's constraint or a trigger.
#[test]
fn what_a_write_makes_no_sense_of_is_mended_by_opening_again() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let whole = fs::read(temp_book.path()).unwrap();
    let rows = logs(&temp_book.open()).unwrap();
    // Ids different from the existing ones.
    let open = |series| FieldBook::open(&temp_book.path(), Box::new(RepeatableClock::new(series))).unwrap();
    let write = |book: &mut FieldBook| {
        book.transact(Op::Import, |work| {
            let id = work.add_bike(&bike("Another"), None)?;
            work.edit_bike(id, &BikeEdit { name: Some("Renamed".into()), ..BikeEdit::default() })
        })
    };
    for (word, letter) in [("length(", 1), ("rowid = NEW.key", 13)] {
        let places: Vec<usize> = whole
            .windows(word.len())
            .enumerate()
            .filter(|(_, it)| *it == word.as_bytes())
            .map(|(at, _)| at + letter)
            .collect();
        assert!(!places.is_empty(), "{word}");
        let mut mended = 0;
        for at in places {
            let mut bytes = whole.clone();
            bytes[at] = b'0';
            fs::write(temp_book.path(), &bytes).unwrap();
            let (mut book, opened) = open(1);
            assert_eq!(opened, Opened::Existing);
            let Err(error) = write(&mut book) else { continue };
            assert!(matches!(error, BookError::Internal { .. }), "{error}");
            assert_eq!(logs(&book).unwrap(), rows, "{at}");
            drop(book);
            let (mut book, opened) = open(2);
            let recovery = recovered(opened);
            assert!(recovery.lost.is_empty(), "{at}: {recovery:?}");
            assert_eq!(logs(&book).unwrap(), rows, "{at}");
            write(&mut book).unwrap();
            drop(book);
            fs::remove_file(recovery.set_aside).unwrap();
            mended += 1;
        }
        assert!(mended >= 1, "{word}");
    }
}

/// A false suspicion costs nothing.
#[test]
fn a_sound_book_under_suspicion_stays() {
    let temp_book = TempBook::new();
    fleet(&temp_book);
    let before = dump(&temp_book.path());
    fs::write(temp_book.folder().join("book.steerbook-suspect"), b"").unwrap();
    let (book, opened) = temp_book.try_open().unwrap();
    assert_eq!(opened, Opened::Existing);
    drop(book);
    assert_eq!(dump(&temp_book.path()), before);
    assert_eq!(temp_book.names(), ["book.steerbook", "book.steerbook.backup-20260501T080001Z"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Arbitrary bytes anywhere: opening and reading never panic, and after at most one recovery the book is sound,
    /// while the damaged file is still there.
    #[test]
    fn damage_anywhere_ends_in_a_sound_book(
        hits in proptest::collection::vec((0.0..1.0f64, 1usize..600, any::<u8>()), 1..8),
    ) {
        thread_local! {
            static WHOLE: Vec<u8> = {
                let temp_book = TempBook::new();
                fleet(&temp_book);
                fs::read(temp_book.path()).unwrap()
            };
        }
        let temp_book = TempBook::new();
        let mut bytes = WHOLE.with(Clone::clone);
        let length = bytes.len();
        for (place, count, with) in hits {
            // The application id in the header identifies the file, so it is kept.
            let start = ((length as f64 * place) as usize).max(100);
            bytes[start..(start + count).min(length)].fill(with);
        }
        fs::write(temp_book.path(), &bytes).unwrap();
        fs::write(temp_book.folder().join("book.steerbook-suspect"), b"").unwrap();
        let (book, opened) = temp_book.try_open().unwrap();
        if let Opened::Recovered(recovery) = opened {
            prop_assert_eq!(fs::read(&recovery.set_aside).unwrap(), bytes);
        }
        // Sound with every screen readable, or damage that shows only in a value: then reopened once more.
        let book = match logs(&book) {
            Ok(_) => book,
            Err(BookError::Corrupt { .. }) => {
                drop(book);
                temp_book.try_open().unwrap().0
            }
            Err(other) => return Err(TestCaseError::fail(other.to_string())),
        };
        prop_assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
        let read = logs(&book);
        prop_assert!(read.is_ok(), "{:?}", read.err());
    }
}
