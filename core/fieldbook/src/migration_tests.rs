//! Tests of migrations of a full book along a chain of steps that exists only here.

use super::error::Inner;
use super::migrate::{STEPS, Step, newest};
use super::open::sibling_path;
use super::{
    BikeEdit, BikeQuery, BookError, CatalogueImport, Clock, FieldBook, NewCheck, Op, Opened, PublicKey,
    Timestamp, journal, recover,
};
use rusqlite::Connection;
use rusqlite::types::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use steerwright_fit::bike::{Bike, demo_bikes_json};
use steerwright_fit::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_fit::report::{Options, check};
use steerwright_metrology::quantity::{Instruments, Quantity};
use tempfile::TempDir;

struct Ticks(u64);

impl Clock for Ticks {
    fn now(&mut self) -> Timestamp {
        self.0 += 1;
        Timestamp(1_777_622_400_000 + i64::try_from(self.0).unwrap())
    }

    fn random(&mut self) -> [u8; 10] {
        self.0 += 1;
        let mut bytes = [0; 10];
        bytes[2..].copy_from_slice(&self.0.to_be_bytes());
        bytes
    }
}

/// Adds a column with a value for every row, and a table filled from another.
const SECOND: Step = Step {
    sql: "ALTER TABLE bikes ADD COLUMN colour TEXT NOT NULL DEFAULT 'not known';
          CREATE TABLE owners (key INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
          INSERT INTO owners (name) SELECT DISTINCT owner FROM bikes WHERE owner IS NOT NULL ORDER BY owner;",
    undoable: journal::UNDOABLE,
};

/// Recreates a table that others refer to, so their references dangle temporarily.
const THIRD: Step = Step {
    sql: "CREATE TABLE photos_anew (
              key INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, bike INTEGER REFERENCES bikes (key),
              sha256 BLOB NOT NULL, kind TEXT NOT NULL, bytes INTEGER NOT NULL, width INTEGER NOT NULL,
              height INTEGER NOT NULL, taken_at TEXT, focal_length_mm REAL, focal_length_35mm REAL, camera TEXT,
              original_kept INTEGER NOT NULL, working BLOB NOT NULL, thumbnail BLOB NOT NULL, note TEXT NOT NULL,
              added_at INTEGER NOT NULL, removed_at INTEGER
          ) STRICT;
          INSERT INTO photos_anew SELECT * FROM photos;
          DROP TABLE photos;
          ALTER TABLE photos_anew RENAME TO photos;
          CREATE INDEX photos_of_bike ON photos (bike, key) WHERE bike IS NOT NULL;",
    undoable: journal::UNDOABLE,
};

const BROKEN: Step = Step {
    sql: "DELETE FROM measurements; ALTER TABLE bikes ADD COLUMN colour TEXT; INSERT INTO nowhere VALUES (1);",
    undoable: journal::UNDOABLE,
};

fn chain(more: impl IntoIterator<Item = Step>) -> Vec<Step> {
    STEPS.iter().map(|step| Step { sql: step.sql, undoable: step.undoable }).chain(more).collect()
}

fn open(path: &Path, steps: &[Step]) -> (FieldBook, Opened) {
    FieldBook::open_with(path, Box::new(Ticks(1 << 32)), steps).unwrap()
}

/// A book with rows in every table, some of them struck out, archived, fitted and undone.
fn full(path: &Path) {
    let mut book = FieldBook::open(path, Box::new(Ticks(0))).unwrap().0;
    let demo: Vec<Bike> = demo_bikes_json()
        .iter()
        .map(|(file, text)| Bike::from_json(text.as_bytes(), file).unwrap())
        .collect();
    let ids = book
        .transact(Op::Import, |work| {
            demo.iter().map(|bike| work.add_bike(bike, Some("Wren"))).collect::<Result<Vec<_>, _>>()
        })
        .unwrap()
        .output;
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    let instruments = Instruments::default();
    let report = check(&demo[6], &catalogue, &instruments, &Options::default()).unwrap();
    let checked = NewCheck {
        bike: &demo[6],
        report: &report,
        instruments: &instruments,
        sku: report.kits.first().map(|kit| kit.sku.as_str()),
        who: None,
        note: "kept",
    };
    let key = PublicKey::read("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a").unwrap();
    book.transact(Op::Import, |work| {
        let edit = BikeEdit {
            tags: Some(vec!["hire".into(), "alloy".into()]),
            notes: Some("Creaks.".into()),
            ..BikeEdit::default()
        };
        work.edit_bike(ids[0], &edit)?;
        work.archive_bike(ids[1])?;
        let kept = work.keep_check(ids[6], &checked)?;
        work.fit_kit(kept, None)?;
        let reading = demo[6].measured.iter().find(|row| row.what == Quantity::HeadAngle).unwrap();
        work.add_measurement(ids[6], reading, None, None)?;
        let wrong = work.add_measurement(ids[6], reading, None, None)?;
        work.strike_out(wrong, Some("Ash"), "twice")?;
        let bytes = demo_catalogue_json().as_bytes();
        work.import_catalogue(&CatalogueImport { bytes, file: "demo", signature: None, allow_older: false })?;
        work.pin_maker(&catalogue.maker, Some(&key))?;
        work.set_instruments(Some(&instruments))?;
        work.step(|work| {
            // Inserted as rows, without the API of the orders module.
            work.tx().execute_batch(
                "INSERT INTO shops (key, base, token, set_at) VALUES (1, 'https://shop.example', 'larch-hollow-1', 5);
                 INSERT INTO agreements (base, words, agreed_at) VALUES ('https://shop.example', 'Send them.', 6);
                 INSERT INTO orders (id, bike, kind, maker, number, sku, quantity, made_at, body, sha256)
                 VALUES (zeroblob(16), 7, 'question', 'Tarn & Tiller Components', 12, 'TT-4180-15', 1, 7, '{}',
                     x'44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a');
                 INSERT INTO order_shops (base, token) VALUES ('https://shop.example', 'larch-hollow-1');
                 INSERT INTO outbox (key, state, in_doubt, fault, tries, next_at, calls, in_flight, began_at, rechecked,
                     changed_at, shop)
                 VALUES (1, 'underway', 1, '{\"what\":\"timeout\"}', 2, 8, 3, '{\"step\":\"send\"}', 9, 12, 9, 1);
                 INSERT INTO order_photos (request, sha256, bytes, arrived, damaged)
                 VALUES (1, zeroblob(32), 10, 4, 1);
                 INSERT INTO order_messages (id, request, kind, made_at, state, in_doubt)
                 VALUES (zeroblob(16), 1, 'withdrawal', 8, 'queued', 0);
                 INSERT INTO catalogue_fetch (key, daily, asked, etag, sha256, calls, tries, next_at, fault, fetched_at)
                 VALUES (1, 1, 1, '\"12\"', zeroblob(32), 2, 1, 10, '{\"what\":\"timeout\"}', 9);",
            )?;
            Ok(())
        })
    })
    .unwrap();
    let id = [7u8; 16];
    let hash = [9u8; 32];
    book.transact(Op::AddPhoto, |work| {
        work.step(|work| {
            work.tx().execute(
                "INSERT INTO photos (id, bike, sha256, kind, bytes, width, height, original_kept, working, thumbnail,
                     note, added_at)
                 VALUES (?1, 7, ?2, 'jpeg', 10, 40, 30, 0, ?2, ?2, '', 0)",
                rusqlite::params![id, hash],
            )?;
            work.tx().execute(
                "INSERT INTO photo_marks (id, photo, marks, who, set_at) VALUES (?1, 1, ?2, 'Iri', 0)",
                rusqlite::params![id, include_str!("../../../tests/data/marks/example.json")],
            )?;
            work.tx().execute("INSERT INTO photo_drafts (photo, draft) VALUES (?1, '[]')", [id])?;
            work.tx().execute("UPDATE measurements SET photo = 1 WHERE key = 5", [])?;
            Ok(())
        })
    })
    .unwrap();
    book.transact(Op::EditBike, |work| {
        work.edit_bike(ids[2], &BikeEdit { notes: Some("taken back".into()), ..BikeEdit::default() })
    })
    .unwrap();
    book.undo().unwrap().unwrap();
}

/// Each table's rows in the columns of the first format.
fn rows(path: &Path, columns: &BTreeMap<String, String>) -> BTreeMap<String, Vec<Vec<Value>>> {
    let conn = Connection::open(path).unwrap();
    let read = |(table, columns): (&String, &String)| {
        let mut rows = conn.prepare(&format!("SELECT {columns} FROM {table} ORDER BY key")).unwrap();
        let count = rows.column_count();
        let rows = rows.query_map([], |row| (0..count).map(|at| row.get(at)).collect()).unwrap();
        (table.clone(), rows.collect::<Result<_, _>>().unwrap())
    };
    columns.iter().map(read).collect()
}

/// The columns of every table with rows worth keeping.
fn columns(path: &Path) -> BTreeMap<String, String> {
    let conn = Connection::open(path).unwrap();
    let tables = recover::tables(&conn).unwrap();
    tables
        .into_iter()
        .map(|table| {
            let names =
                conn.query_row("SELECT group_concat(name) FROM pragma_table_info(?1)", [&table], |row| {
                    row.get(0)
                });
            (table, names.unwrap())
        })
        .collect()
}

fn schema(path: &Path) -> Vec<(String, String, Option<String>)> {
    let conn = Connection::open(path).unwrap();
    let mut rows = conn.prepare("SELECT type, name, sql FROM sqlite_schema ORDER BY type, name").unwrap();
    rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn scene() -> (TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.steerbook");
    (folder, path)
}

/// Name and contents of every file in a folder.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    entries.map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap())).collect()
}

/// The one backup that was made before a migration.
fn backup_before_migration(folder: &Path) -> std::path::PathBuf {
    let mut names: Vec<_> =
        files(folder).into_keys().filter(|name| name.ends_with("-before-migration")).collect();
    assert_eq!(names.len(), 1, "{names:?}");
    folder.join(names.remove(0))
}

#[test]
fn a_full_book_keeps_every_row_along_the_chain() {
    let now = STEPS.len();
    for stops in [&[now + 2][..], &[now + 1, now + 2]] {
        let (folder, path) = scene();
        full(&path);
        let mut columns = columns(&path);
        let of_bikes = columns.get_mut("bikes").unwrap();
        *of_bikes = of_bikes.replace(",touched_at", "");
        let before = rows(&path, &columns);
        for (table, rows) in &before {
            assert!(
                !rows.is_empty() || matches!(table.as_str(), "recoveries" | "erasures"),
                "the full book has nothing in {table}"
            );
        }
        let mut from = newest(STEPS);
        for stop in stops {
            let steps: Vec<Step> = chain([SECOND, THIRD]).into_iter().take(*stop).collect();
            let (mut book, opened) = open(&path, &steps);
            // The book's previous state is next to it.
            let backup = backup_before_migration(folder.path());
            let found: i32 = Connection::open(&backup)
                .unwrap()
                .pragma_query_value(None, "user_version", |row| row.get(0))
                .unwrap();
            assert_eq!((found, rows(&backup, &columns)), (from, before.clone()));
            assert_eq!(opened, Opened::Migrated { from, to: newest(&steps) });
            from = newest(&steps);
            assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
            // The journal was restarted, and works on the new schema.
            assert_eq!(book.read().next_undo().unwrap(), None);
            let first = book.read().bikes(&BikeQuery::default()).unwrap().rows[0].id;
            let mut state = book.read().bike_screen(first).unwrap();
            let edit = BikeEdit { name: Some("Renamed".into()), ..BikeEdit::default() };
            book.transact(Op::EditBike, |work| work.edit_bike(first, &edit)).unwrap();
            book.undo().unwrap().unwrap();
            // An undo updates the touch time once more.
            let touched = book.read().bike_screen(first).unwrap();
            state.record.touched_at = touched.record.touched_at;
            assert_eq!(touched, state);
        }
        let conn = Connection::open(&path).unwrap();
        let dangling: i64 =
            conn.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| row.get(0)).unwrap();
        assert_eq!(dangling, 0);
        let owners: i64 = conn.query_row("SELECT count(*) FROM owners", [], |row| row.get(0)).unwrap();
        assert!(owners > 0);
        drop(conn);
        assert_eq!(rows(&path, &columns), before);

        // The schema is that of a book made in the newest format.
        let other = folder.path().join("fresh.steerbook");
        let (_, opened) = open(&other, &chain([SECOND, THIRD]));
        assert_eq!(opened, Opened::New);
        assert_eq!(schema(&path), schema(&other));
    }
}

#[test]
fn a_step_that_fails_changes_nothing() {
    let (_folder, path) = scene();
    full(&path);
    let columns = columns(&path);
    let (before, shape) = (rows(&path, &columns), schema(&path));
    for broken in [chain([BROKEN]), chain([SECOND, BROKEN])] {
        let done = i32::try_from(broken.len()).unwrap() - 1;
        let result = FieldBook::open_with(&path, Box::new(Ticks(0)), &broken);
        assert!(matches!(result, Err(Inner::Sqlite(_))), "{:?}", result.err());
        assert_eq!(rows(&path, &columns), before);
        let conn = Connection::open(&path).unwrap();
        // The previous steps are applied, each with its number.
        assert_eq!(conn.pragma_query_value(None, "user_version", |row| row.get::<_, i32>(0)).unwrap(), done);
        if done == newest(STEPS) {
            assert_eq!(schema(&path), shape);
            assert_eq!(open(&path, STEPS).1, Opened::Existing);
        }
    }
}

#[test]
fn a_newer_book_is_refused_and_left_byte_for_byte() {
    let (folder, path) = scene();
    full(&path);
    drop(open(&path, &chain([SECOND])));
    let before = files(folder.path());
    let error = FieldBook::open(&path, Box::new(Ticks(0))).map(|_| ()).unwrap_err();
    assert_eq!(
        error,
        BookError::NewerFile { path: path.clone(), found: newest(STEPS) + 1, known: newest(STEPS) }
    );
    assert!(error.to_string().ends_with("it was left as it is"), "{error}");
    assert_eq!(files(folder.path()), before);
}

/// The newer number may be only in the write-ahead log.
#[test]
fn a_newer_book_is_refused_whose_log_was_not_moved() {
    let (folder, path) = scene();
    full(&path);
    let (killed, there) = scene();
    {
        let newer = Connection::open(&path).unwrap();
        newer.pragma_update(None, "user_version", 99).unwrap();
        // The state that a program killed now would leave.
        for suffix in ["", "-wal"] {
            fs::copy(sibling_path(&path, suffix), sibling_path(&there, suffix)).unwrap();
        }
    }
    let before = files(killed.path());
    let header = before.get("book.steerbook").unwrap();
    assert_eq!(header.get(60..64).unwrap(), newest(STEPS).to_be_bytes(), "the number is in the log alone");
    let error = FieldBook::open(&there, Box::new(Ticks(0))).map(|_| ()).unwrap_err();
    assert_eq!(error, BookError::NewerFile { path: there, found: 99, known: newest(STEPS) });
    let mut after = files(killed.path());
    // SQLite's index of the log is not data and may be created.
    after.retain(|name, _| !name.ends_with("-shm"));
    assert_eq!(after, before);
    drop(folder);
}

/// Several programs may start at the same time after an update: each finds the newest format, and each step is applied
/// once.
#[test]
fn openings_at_the_same_time_take_each_step_once() {
    let (_folder, path) = scene();
    full(&path);
    let columns = columns(&path);
    let before = rows(&path, &columns);
    std::thread::scope(|scope| {
        let openers: Vec<_> =
            (0..4).map(|_| scope.spawn(|| open(&path, &chain([SECOND, THIRD])).1)).collect();
        for opener in openers {
            let opened = opener.join().unwrap();
            assert!(
                matches!(opened, Opened::Migrated { to, .. } if to == newest(STEPS) + 2)
                    || opened == Opened::Existing,
                "{opened:?}"
            );
        }
    });
    assert_eq!(rows(&path, &columns), before);
}

/// A damaged book of an older format is recovered in that format and then migrated, with a backup and without.
#[test]
fn a_damaged_book_of_an_older_format_is_recovered_and_migrated() {
    for with_backup in [true, false] {
        recovered_and_migrated(with_backup);
    }
}

fn recovered_and_migrated(with_backup: bool) {
    let (_folder, path) = scene();
    full(&path);
    if with_backup {
        drop(open(&path, STEPS));
    }
    let columns = columns(&path);
    let mut before = rows(&path, &columns);
    // An index is damaged: every row is still readable.
    let conn = Connection::open(&path).unwrap();
    let root: u64 = conn
        .query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'bikes_by_name'", [], |row| row.get(0))
        .unwrap();
    let size: u64 = conn.pragma_query_value(None, "page_size", |row| row.get(0)).unwrap();
    drop(conn);
    let mut bytes = fs::read(&path).unwrap();
    let start = usize::try_from((root - 1) * size).unwrap();
    bytes[start..start + usize::try_from(size).unwrap()].fill(0xEE);
    fs::write(&path, bytes).unwrap();
    fs::write(sibling_path(&path, "-suspect"), b"").unwrap();
    let (book, opened) = open(&path, &chain([SECOND, THIRD]));
    let Opened::Recovered(recovery) = opened else { panic!("{opened:?}") };
    assert_eq!((recovery.lost.len(), recovery.backup.is_some()), (0, with_backup));
    assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
    assert_eq!(book.read().recoveries().unwrap(), [recovery]);
    drop(book);
    let mut after = rows(&path, &columns);
    assert_eq!(after.remove("recoveries").unwrap().len(), 1);
    before.remove("recoveries");
    assert_eq!(after, before);
    let (_other, fresh) = scene();
    drop(open(&fresh, &chain([SECOND, THIRD])));
    assert_eq!(schema(&path), schema(&fresh));
}
