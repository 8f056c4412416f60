//! Every page of a book overwritten in turn, and the file truncated at every page: the recovery report is correct.

use rusqlite::Connection;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use steerwright_core::book::{FieldBook, Opened, Recovery};
use steerwright_tests::crash::{CrashFixture, Step, StepClock, unsound};
use tempfile::TempDir;

const BOOK: &str = "book.steerbook";

/// Tables covered by a recovery report, with their rows by key as text.
type Rows = BTreeMap<String, BTreeMap<i64, String>>;

/// A closed book with rows of every kind, with its photos.
fn seasoned(folder: &Path) {
    let clock = StepClock::default();
    let desk_folder = TempDir::new().unwrap();
    let desk = CrashFixture::new(desk_folder.path());
    desk.lay();
    fs::create_dir(folder.join("out")).unwrap();
    let (mut book, _) = FieldBook::open(&folder.join(BOOK), Box::new(clock.clone())).unwrap();
    let more = [Step::AddPhoto, Step::Measure, Step::KeepCheck, Step::Settings, Step::ReadCsv];
    for (step, number) in [Step::AddBike].into_iter().chain(Step::ALL).chain(more).zip(0..) {
        desk.take(step, number, &mut book, &clock).unwrap();
    }
}

fn rows(path: &Path, tables: impl IntoIterator<Item = String>) -> Rows {
    let conn = Connection::open(path).unwrap();
    let read = |table: String| {
        let mut rows = conn.prepare(&format!("SELECT * FROM {table} ORDER BY key")).unwrap();
        let columns = rows.column_count();
        let rows = rows.query_map([], |row| {
            let values: Result<Vec<_>, _> =
                (0..columns).map(|at| row.get_ref(at).map(|it| format!("{it:?}"))).collect();
            Ok((row.get("key")?, values?.join("|")))
        });
        let rows = rows.unwrap().collect::<Result<_, _>>().unwrap();
        (table, rows)
    };
    tables.into_iter().map(read).collect()
}

const TABLES: [&str; 9] = [
    "bikes",
    "bike_tags",
    "photos",
    "checks",
    "measurements",
    "makers",
    "catalogues",
    "catalogue_files",
    "settings",
];

/// Page numbers with their content, according to SQLite's own tables; all other pages are free.
fn pages(path: &Path) -> (BTreeMap<usize, String>, usize) {
    let conn = Connection::open(path).unwrap();
    let mut rows = conn.prepare("SELECT pageno, name || ' ' || pagetype FROM dbstat").unwrap();
    let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
    let pages = rows.unwrap().collect::<Result<_, _>>().unwrap();
    (pages, conn.pragma_query_value(None, "page_size", |row| row.get(0)).unwrap())
}

fn lost(recovery: &Recovery, table: &str) -> Option<u64> {
    recovery.lost.iter().find(|it| it.table == table).map_or(Some(0), |it| it.rows)
}

/// Opens a damaged copy and compares its content with the original and with the report. Returns whether it was
/// recovered.
fn opens(bytes: &[u8], photos: &Path, before: &Rows, about: &str) -> bool {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join(BOOK);
    fs::write(&path, bytes).unwrap();
    fs::create_dir(folder.path().join("book.steerbook-photos")).unwrap();
    for entry in fs::read_dir(photos).unwrap().flatten() {
        fs::copy(entry.path(), folder.path().join("book.steerbook-photos").join(entry.file_name())).unwrap();
    }
    fs::write(folder.path().join("book.steerbook-suspect"), b"").unwrap();
    let clock = StepClock::default();
    clock.begin(9_999);
    let opened = FieldBook::open(&path, Box::new(clock.clone()));
    let (book, opened) = opened.unwrap_or_else(|error| panic!("{about}: {error}"));
    drop(book);
    let recovery = match opened {
        Opened::Existing => None,
        Opened::Recovered(recovery) => Some(recovery),
        other => panic!("{about}: {other:?}"),
    };
    let after = rows(&path, before.keys().cloned());
    let Some(recovery) = recovery else {
        // The page contained nothing that is read.
        assert_eq!(after, *before, "{about}");
        assert_eq!(unsound(&path), Vec::<String>::new(), "{about}");
        return false;
    };
    assert_eq!(fs::read(&recovery.set_aside).unwrap(), bytes, "{about}");
    for (table, was) in before {
        let now = &after[table];
        let kept = now.iter().filter(|(key, _)| was.contains_key(*key)).count();
        // A placeholder bike is not a saved row.
        let unchanged = now.iter().filter(|(key, row)| was.get(*key) == Some(*row)).count();
        let told = recovery.saved.iter().find(|it| it.table == *table).map_or(0, |it| it.rows);
        let gone = lost(&recovery, table);
        if table == "bikes" {
            assert!(unchanged as u64 <= told && told <= kept as u64, "{about}: {recovery:?}");
        } else {
            assert_eq!(told, kept as u64, "{about}: {table} {recovery:?}");
        }
        assert!(gone.is_none_or(|gone| gone + told == was.len() as u64), "{about}: {table} {recovery:?}");
        assert!(now.keys().all(|key| was.contains_key(key)), "{about}: {table} has rows from nowhere");
    }
    clock.begin(10_000);
    let (again, opened) = FieldBook::open(&path, Box::new(clock)).unwrap();
    assert_eq!(opened, Opened::Existing, "{about}");
    assert_eq!(again.read().examine().unwrap(), Vec::<String>::new(), "{about}");
    drop(again);
    // Pictures whose rows are lost are set aside, which is not an error.
    let wrong: Vec<_> = unsound(&path).into_iter().filter(|it| !it.contains("no file: unclaimed")).collect();
    assert_eq!(wrong, Vec::<String>::new(), "{about}");
    true
}

#[test]
fn each_page_spoiled() {
    let folder = TempDir::new().unwrap();
    seasoned(folder.path());
    let path = folder.path().join(BOOK);
    let (pages, size) = pages(&path);
    let kinds: BTreeSet<&str> = pages.values().map(|it| it.rsplit(' ').next().unwrap()).collect();
    assert_eq!(kinds, BTreeSet::from(["internal", "leaf", "overflow"]), "{pages:?}");
    let before = rows(&path, TABLES.map(String::from));
    assert!(before.values().all(|rows| !rows.is_empty()), "something in every table");
    let whole = fs::read(&path).unwrap();
    let photos = folder.path().join("book.steerbook-photos");
    let (mut saved, mut seen) = (0, BTreeSet::new());
    for page in 1..=whole.len() / size {
        let what = pages.get(&page).map_or("free", String::as_str);
        // For tables and indexes with many pages, some of them; of every kind in every table at least the first.
        if page > 1 && !seen.insert(what) && page % 5 != 0 {
            continue;
        }
        let mut bytes = whole.clone();
        // The header's first hundred bytes identify the file; without them it cannot be recognised.
        let start = if page == 1 { 100 } else { (page - 1) * size };
        bytes[start..page * size].fill(0xEE);
        saved += usize::from(opens(&bytes, &photos, &before, &format!("page {page} ({what}) spoiled")));
    }
    assert!(saved > 20, "{saved}");
}

#[test]
fn cut_off_anywhere() {
    let folder = TempDir::new().unwrap();
    seasoned(folder.path());
    let path = folder.path().join(BOOK);
    let (_, size) = pages(&path);
    let before = rows(&path, TABLES.map(String::from));
    let whole = fs::read(&path).unwrap();
    let photos = folder.path().join("book.steerbook-photos");
    let (mut cuts, mut noticed) = (0, 0);
    for page in (1..whole.len() / size).step_by(7) {
        for length in [page * size, page * size + size / 3] {
            let about = format!("cut off at byte {length} of {}", whole.len());
            cuts += 1;
            noticed += usize::from(opens(&whole[..length], &photos, &before, &about));
        }
    }
    // A truncation may affect only a page without content.
    assert!(noticed + 1 >= cuts && noticed > 10, "{noticed} of {cuts}");
}
