//! Backups of the book, and recovery from them.

use rusqlite::Connection;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use steerwright_core::book::{
    Archived, BikeEdit, BikeId, BikeQuery, BookError, BundleAcceptance, CatalogueImport, FieldBook, LogEntry,
    MeasurementId, Op, Opened, Recovery, Saved,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::crash::{StepClock, unsound};
use steerwright_tests::{TempBook, bike, reading};

/// Clock ticks in a day; it begins at 2026-06-01T08:00:00Z.
const DAY: u64 = 8_640;

fn open(temp_book: &TempBook, clock: &StepClock, step: u64) -> (FieldBook, Opened) {
    clock.begin(step);
    FieldBook::open(&temp_book.path(), Box::new(clock.clone())).unwrap()
}

fn add(book: &mut FieldBook, name: &str) -> BikeId {
    book.transact(Op::AddBike, |work| work.add_bike(&bike(name), None)).unwrap().output
}

/// The dates and suffixes of the backups' names, the oldest first.
fn names(temp_book: &TempBook) -> Vec<String> {
    let name = |path: &std::path::PathBuf| path.file_name().unwrap().to_str().unwrap().to_owned();
    let rest = |name: String| name.strip_prefix("book.steerbook.backup-").unwrap().to_owned();
    let day = |rest: String| format!("{}{}", &rest[..8], &rest[16..]);
    temp_book.backups().iter().map(name).map(rest).map(day).collect()
}

fn bikes(path: &Path) -> Vec<String> {
    let conn = Connection::open(path).unwrap();
    let mut rows = conn.prepare("SELECT name FROM bikes ORDER BY key").unwrap();
    rows.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap()
}

fn spoil(path: &Path, table: &str, leaf: usize) {
    let conn = Connection::open(path).unwrap();
    let (page, size): (usize, usize) = conn
        .query_row(
            "SELECT pageno, pgsize FROM dbstat WHERE name = ?1 AND pagetype = 'leaf' ORDER BY pageno LIMIT 1 OFFSET ?2",
            (table, leaf),
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap();
    drop(conn);
    let mut bytes = fs::read(path).unwrap();
    bytes[(page - 1) * size..page * size].fill(0xEE);
    fs::write(path, bytes).unwrap();
}

fn suspect(temp_book: &TempBook) {
    fs::write(temp_book.folder().join("book.steerbook-suspect"), b"").unwrap();
}

fn recovered(opened: Opened) -> Recovery {
    match opened {
        Opened::Recovered(recovery) => recovery,
        other => panic!("{other:?}"),
    }
}

fn rows(saved: &[Saved], table: &str) -> u64 {
    saved.iter().find(|saved| saved.table == table).unwrap().rows
}

fn logs(book: &FieldBook) -> Result<BTreeMap<MeasurementId, LogEntry>, BookError> {
    let query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
    let mut logs = BTreeMap::new();
    for row in book.read().bikes(&query)?.rows {
        logs.extend(book.read().bike_screen(row.id)?.log.into_iter().map(|row| (row.id, row)));
    }
    Ok(logs)
}

#[test]
fn one_backup_a_day_of_use_and_the_last_three_stay() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    let (mut book, opened) = open(&temp_book, &clock, 0);
    assert_eq!(opened, Opened::New);
    add(&mut book, "first day");
    drop(book);
    assert!(names(&temp_book).is_empty(), "there was nothing before that day");
    for step in [1, 2] {
        drop(open(&temp_book, &clock, step));
        assert_eq!(names(&temp_book), ["20260601"]);
    }
    let backup = temp_book.backups().remove(0);
    assert_eq!(bikes(&backup), ["first day"]);
    // A book left open overnight makes its backup before it writes.
    let (mut book, _) = open(&temp_book, &clock, DAY);
    clock.begin(3 * DAY);
    add(&mut book, "fourth day");
    clock.begin(3 * DAY + 10);
    add(&mut book, "fourth day, later");
    assert_eq!(names(&temp_book), ["20260601", "20260602", "20260604"]);
    assert_eq!(bikes(&temp_book.backups()[2]), ["first day"]);
    clock.begin(4 * DAY);
    book.undo().unwrap().unwrap();
    assert_eq!(names(&temp_book), ["20260602", "20260604", "20260605"]);
    drop(book);
    assert_eq!(bikes(&temp_book.backups()[2]), ["first day", "fourth day", "fourth day, later"]);
    assert_eq!(unsound(&temp_book.path()), Vec::<String>::new());
}

#[cfg(unix)]
#[test]
fn who_may_not_read_the_book_may_not_read_its_backup() {
    use std::os::unix::fs::PermissionsExt;
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    drop(open(&temp_book, &clock, 0));
    fs::set_permissions(temp_book.path(), fs::Permissions::from_mode(0o600)).unwrap();
    drop(open(&temp_book, &clock, 1));
    let mode = fs::metadata(&temp_book.backups()[0]).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}

#[test]
fn a_large_import_has_a_backup_before_it() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    drop(open(&temp_book, &clock, 0));
    let (mut book, _) = open(&temp_book, &clock, 1);
    let table = |first: usize, rows: usize| -> String {
        let row = |at: usize| format!("Bike {first},head_tube_length,{},mm,caliper\n", 100 + at % 50);
        "bike,what,value,unit,with\n".to_owned() + &(0..rows).map(row).collect::<String>()
    };
    book.read_csv(table(1, 499).as_bytes(), None, false).unwrap();
    assert_eq!(names(&temp_book), ["20260601"]);
    book.read_csv(table(2, 500).as_bytes(), None, false).unwrap();
    assert_eq!(names(&temp_book), ["20260601", "20260601-before-import"]);
    assert_eq!(bikes(&temp_book.backups()[1]), ["Bike 1"]);
    // A bundle of that many rows, into the same book: it contains nothing new, which is not known beforehand.
    let bundle = temp_book.folder().join("all.steerbundle");
    book.write_bundle(steerwright_core::book::BundleScope::Book, &bundle).unwrap();
    clock.begin(2);
    book.read_bundle(&bundle, BundleAcceptance::ALL).unwrap();
    assert_eq!(bikes(&temp_book.backups()[1]), ["Bike 1", "Bike 2"]);
    // And a catalogue.
    let mut catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    let kit = catalogue.kits[0].clone();
    catalogue.kits = (0..500)
        .map(|number| {
            let mut kit = kit.clone();
            kit.sku = format!("TT-{number:04}");
            kit
        })
        .collect();
    let text = serde_json::to_string(&catalogue).unwrap();
    let incoming =
        CatalogueImport { bytes: text.as_bytes(), file: "large", signature: None, allow_older: false };
    clock.begin(3);
    add(&mut book, "Bike 3");
    book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).unwrap();
    assert_eq!(names(&temp_book), ["20260601", "20260601-before-import"]);
    assert_eq!(bikes(&temp_book.backups()[1]), ["Bike 1", "Bike 2", "Bike 3"]);
}

/// Forty bikes with ten readings and a line of notes each.
fn fill(book: &mut FieldBook) -> Vec<BikeId> {
    let filled = book.transact(Op::Import, |work| {
        let mut ids = Vec::new();
        for number in 0..40 {
            let id = work.add_bike(&bike(&format!("Bike {number}")), None)?;
            let notes = Some("A line of notes that takes up some room. ".repeat(8));
            work.edit_bike(id, &BikeEdit { notes, ..BikeEdit::default() })?;
            for row in 0..10 {
                let length = 100.0 + f64::from(row);
                work.add_measurement(
                    id,
                    &reading(Quantity::HeadTubeLength, length, Instrument::SteelRule),
                    None,
                    None,
                )?;
            }
            ids.push(id);
        }
        Ok(ids)
    });
    filled.unwrap().output
}

/// A book with a backup and with rows newer than it: three readings, one struck out, two bikes, one renamed.
fn with_backup_and_newer_rows(temp_book: &TempBook, clock: &StepClock) -> BTreeMap<MeasurementId, LogEntry> {
    let (mut book, _) = open(temp_book, clock, 0);
    let ids = fill(&mut book);
    drop(book);
    let (mut book, _) = open(temp_book, clock, 1);
    clock.begin(2);
    let row = reading(Quantity::HeadTubeLength, 90.0, Instrument::Caliper);
    book.transact(Op::Import, |work| {
        for id in &ids[..3] {
            work.add_measurement(*id, &row, None, None)?;
        }
        work.add_bike(&bike("New one"), None)?;
        work.add_bike(&bike("Another new one"), None)
    })
    .unwrap();
    let wrong = book.read().bike_screen(ids[39]).unwrap().log[0].id;
    book.transact(Op::StrikeOut, |work| work.strike_out(wrong, Some("Ash"), "a slip")).unwrap();
    let renamed = BikeEdit { name: Some("Renamed".into()), ..BikeEdit::default() };
    book.transact(Op::EditBike, |work| work.edit_bike(ids[39], &renamed)).unwrap();
    logs(&book).unwrap()
}

#[test]
fn what_a_damaged_book_lacks_comes_from_its_backup_and_what_is_newer_stays() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    let before = with_backup_and_newer_rows(&temp_book, &clock);
    let backup = temp_book.backups().remove(0);
    // Old readings, and the bikes of some of them.
    spoil(&temp_book.path(), "measurements", 2);
    spoil(&temp_book.path(), "bikes", 1);
    let damaged = fs::read(temp_book.path()).unwrap();
    let (book, opened) = open(&temp_book, &clock, 3);
    // The first rows of each table are intact: reading a screen encounters the damage.
    assert_eq!(opened, Opened::Existing);
    assert!(matches!(logs(&book), Err(BookError::Corrupt { .. })));
    drop(book);
    let (book, opened) = open(&temp_book, &clock, 4);
    let recovery = recovered(opened);
    assert_eq!(recovery.lost, [], "{recovery:?}");
    assert_eq!(recovery.backup.as_ref(), Some(&backup));
    assert_eq!(rows(&recovery.saved, "measurements"), 403);
    assert!((1..80).contains(&rows(&recovery.restored, "measurements")), "{recovery:?}");
    assert!((1..20).contains(&rows(&recovery.restored, "bikes")), "{recovery:?}");
    // Three new readings and one struck out; two new bikes, and those changed since.
    assert_eq!(rows(&recovery.added, "measurements"), 4);
    assert!((2..=6).contains(&rows(&recovery.added, "bikes")), "{recovery:?}");
    assert_eq!(logs(&book).unwrap(), before);
    let text = recovery.description();
    assert!(text.contains("From the backup book.steerbook.backup-20260601"), "{text}");
    assert!(text.contains("measurements: 4") && text.contains("Nothing was lost."), "{text}");
    assert_eq!(fs::read(&recovery.set_aside).unwrap(), damaged);
    assert_eq!(book.read().recoveries().unwrap(), [recovery]);
    assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
    for (text, found) in [("another new", 1), ("renamed", 1), ("notes", 40)] {
        let query = BikeQuery { text: text.into(), limit: 500, ..BikeQuery::default() };
        assert_eq!(book.read().bikes(&query).unwrap().rows.len(), found, "{text}");
    }
    drop(book);
    assert_eq!(unsound(&temp_book.path()), Vec::<String>::new());
}

/// Rows deleted after the backup are not restored from it if the damaged file still shows the deletion.
#[test]
fn what_was_undone_after_the_backup_stays_undone() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    let (mut book, _) = open(&temp_book, &clock, 0);
    fill(&mut book);
    add(&mut book, "Never mind");
    drop(book);
    let (mut book, _) = open(&temp_book, &clock, 1);
    book.undo().unwrap().unwrap();
    drop(book);
    assert!(bikes(&temp_book.backups()[0]).contains(&"Never mind".to_owned()));
    spoil(&temp_book.path(), "bikes", 1);
    suspect(&temp_book);
    let (book, opened) = open(&temp_book, &clock, 2);
    let recovery = recovered(opened);
    assert_eq!((recovery.lost.len(), rows(&recovery.saved, "bikes")), (0, 40), "{recovery:?}");
    drop(book);
    assert!(!bikes(&temp_book.path()).contains(&"Never mind".to_owned()));
}

#[test]
fn a_damaged_backup_is_passed_over_for_the_one_before() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    let (mut book, _) = open(&temp_book, &clock, 0);
    fill(&mut book);
    drop(book);
    drop(open(&temp_book, &clock, 1));
    let (mut book, _) = open(&temp_book, &clock, DAY);
    clock.begin(DAY + 1);
    add(&mut book, "Second day");
    drop(book);
    drop(open(&temp_book, &clock, 2 * DAY));
    assert_eq!(names(&temp_book), ["20260601", "20260602", "20260603"]);
    let backups = temp_book.backups();
    spoil(&backups[2], "measurements", 3);
    // The middle one looks sound to SQLite, but the program cannot parse a word of it.
    let conn = Connection::open(&backups[1]).unwrap();
    conn.execute_batch("DROP TRIGGER measurements_stay; UPDATE measurements SET unit = 'mn' WHERE key = 7")
        .unwrap();
    drop(conn);
    spoil(&temp_book.path(), "measurements", 3);
    suspect(&temp_book);
    let (book, opened) = open(&temp_book, &clock, 2 * DAY + 1);
    let recovery = recovered(opened);
    assert_eq!((recovery.backup.as_ref(), recovery.lost.len()), (Some(&backups[0]), 0), "{recovery:?}");
    assert_eq!(logs(&book).unwrap().len(), 400);
    drop(book);
    assert!(bikes(&temp_book.path()).contains(&"Second day".to_owned()));
}

/// Without its header nothing of a file can be read, and an empty one has no content: the book is restored from the
/// backup.
#[test]
fn a_book_of_which_nothing_can_be_read_is_as_its_backup() {
    for empty in [false, true] {
        let (temp_book, clock) = (TempBook::new(), StepClock::default());
        let before = with_backup_and_newer_rows(&temp_book, &clock);
        let mut file = fs::read(temp_book.path()).unwrap();
        file[..100].fill(0xA5);
        fs::write(temp_book.path(), if empty { &[][..] } else { &file }).unwrap();
        let (book, opened) = open(&temp_book, &clock, 3);
        let recovery = recovered(opened);
        assert!(recovery.backup.is_some());
        assert_eq!(recovery.lost.iter().map(|it| it.rows).max().unwrap(), None, "newer rows may be lost");
        assert_eq!(rows(&recovery.added, "measurements"), 0);
        assert_eq!(rows(&recovery.restored, "bikes"), 40);
        let after = logs(&book).unwrap();
        assert_eq!((before.len(), after.len()), (403, 400));
        assert!(after.keys().all(|id| before.contains_key(id)));
        assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
    }
}

/// The check of the daily backup encounters damage that nothing has read yet; earlier backups stay.
#[test]
fn a_damaged_book_is_not_backed_up_but_recovered() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    let before = with_backup_and_newer_rows(&temp_book, &clock);
    spoil(&temp_book.path(), "measurements", 2);
    let (book, opened) = open(&temp_book, &clock, DAY);
    let recovery = recovered(opened);
    assert_eq!((recovery.lost.len(), logs(&book).unwrap()), (0, before));
    drop(book);
    // The daily backup is that of the recovered book.
    assert_eq!(names(&temp_book), ["20260601", "20260602"]);
    assert_eq!(bikes(&temp_book.backups()[1]).len(), 42);

    // The same for a book that stays open: it is written to, and recovered at the next opening.
    let (mut book, _) = open(&temp_book, &clock, DAY + 1);
    spoil(&temp_book.path(), "measurements", 2);
    clock.begin(2 * DAY);
    add(&mut book, "Third day");
    drop(book);
    assert_eq!(names(&temp_book), ["20260601", "20260602"], "damage is not backed up");
    let (book, opened) = open(&temp_book, &clock, 2 * DAY + 1);
    assert_eq!(recovered(opened).lost, []);
    drop(book);
    assert!(bikes(&temp_book.path()).contains(&"Third day".to_owned()));
}

/// A partial backup of a killed program is removed at the next opening.
#[test]
fn an_unfinished_backup_is_removed() {
    let (temp_book, clock) = (TempBook::new(), StepClock::default());
    drop(open(&temp_book, &clock, 0));
    drop(open(&temp_book, &clock, 1));
    for end in ["20260601T090000Z.part", "20260601T090000Z-before-import.part-journal"] {
        fs::write(temp_book.folder().join(format!("book.steerbook.backup-{end}")), b"half").unwrap();
    }
    drop(open(&temp_book, &clock, 2));
    assert_eq!(names(&temp_book), ["20260601"]);
}
