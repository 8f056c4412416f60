//! Books written by releases are opened by every later one.

mod orders;

use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::bike::{Bike, Measurement, demo_bikes_json};
use steerwright_core::book::{
    Archived, BikeEdit, BikeQuery, BookError, Checked, FieldBook, Incoming, Op, Opened, Outcome, PublicKey,
    Reader, SignatureStatus, Timestamp,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, check};
use steerwright_tests::{Shelf, SteadyClock, bike, reading};

const MAKER: &str = "Tarn & Tiller Components";
/// RFC 8032, 7.1, test 1.
const KEY: &str = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";

fn fixture(release: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/books").join(release)
}

fn demo(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

/// The head angle written down after the kit went in.
fn after() -> Measurement {
    reading(Quantity::HeadAngle, 66.1, Instrument::AngleFinder)
}

/// Fills a book with something of everything.
fn fill(book: &mut FieldBook) {
    let ids = book
        .transact(Op::Import, |work| {
            (1..=12).map(|number| work.add_bike(&demo(number), Some("Wren"))).collect::<Result<Vec<_>, _>>()
        })
        .unwrap()
        .output;
    let incoming = Incoming {
        bytes: demo_catalogue_json().as_bytes(),
        file: "demo",
        signature: None,
        allow_older: false,
    };
    book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).unwrap();
    let key = PublicKey::read(KEY).unwrap();
    book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&key))).unwrap();
    orders::fill(book, ids[4]);
    let edit = BikeEdit {
        tags: Some(vec!["hire".into(), "Élan".into()]),
        notes: Some("Creaks.\nLower cup?".into()),
        ..BikeEdit::default()
    };
    book.transact(Op::EditBike, |work| work.edit_bike(ids[0], &edit)).unwrap();
    book.transact(Op::ArchiveBike, |work| work.archive_bike(ids[1])).unwrap();
    let wrong = book.read().bike_screen(ids[2]).unwrap().log[0].id;
    book.transact(Op::StrikeOut, |work| work.strike_out(wrong, Some("Ash"), "read upside down")).unwrap();
    let catalogue = book.read().catalogue(MAKER, None).unwrap();
    let instruments = Instruments::default();
    let subject = demo(7);
    let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
    let kit = report.kits.iter().find(|kit| kit.change.head_angle.is_some()).unwrap();
    let checked = Checked {
        bike: &subject,
        report: &report,
        instruments: &instruments,
        sku: Some(&kit.sku),
        who: Some("Wren"),
        note: "for the alpine week",
    };
    let kept = book.transact(Op::KeepCheck, |work| work.keep_check(ids[6], &checked)).unwrap().output;
    book.transact(Op::FitKit, |work| work.fit_kit(kept)).unwrap();
    book.transact(Op::AddMeasurement, |work| work.add_measurement(ids[6], &after(), None, None)).unwrap();
    book.transact(Op::EditBike, |work| {
        work.edit_bike(ids[3], &BikeEdit { name: Some("Never mind".into()), ..BikeEdit::default() })
    })
    .unwrap();
    book.undo().unwrap();
}

/// Writes the fixture of this release. Run by hand, once, when a release is made:
/// `cargo test --workspace --test book releases -- --ignored`.
#[test]
#[ignore = "writes tests/data/books; by hand, when a release is made"]
fn write_this_release_s_book() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    fill(&mut book);
    drop(book);
    let conn = Connection::open(shelf.path()).unwrap();
    // One file without a log, as small as it gets.
    conn.execute_batch("VACUUM; PRAGMA wal_checkpoint(TRUNCATE)").unwrap();
    let version: i32 = conn.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
    drop(conn);
    fs::copy(shelf.path(), fixture(&format!("v{version}.steerbook"))).unwrap();
}

fn schema(path: &Path) -> Vec<(String, String, Option<String>)> {
    let conn = Connection::open(path).unwrap();
    let mut rows = conn.prepare("SELECT type, name, sql FROM sqlite_schema ORDER BY type, name").unwrap();
    rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

#[test]
fn the_book_of_each_format_opens() {
    for format in [1, 2, 6, 7, 8] {
        opens_with_everything(format);
    }
}

#[test]
fn every_order_request_of_a_release_is_found() {
    for format in [6, 7, 8] {
        let shelf = Shelf::new();
        fs::copy(fixture(&format!("v{format}.steerbook")), shelf.path()).unwrap();
        orders::found(shelf);
    }
}

#[test]
fn an_earlier_shop_of_a_release_is_told_apart() {
    let shelf = Shelf::new();
    fs::copy(fixture("v7.steerbook"), shelf.path()).unwrap();
    orders::found_with_an_earlier_shop(shelf);
}

fn opens_with_everything(format: i32) {
    let shelf = Shelf::new();
    fs::copy(fixture(&format!("v{format}.steerbook")), shelf.path()).unwrap();
    let (mut book, opened) = shelf.try_open().unwrap();
    assert!(
        opened == Opened::Existing || matches!(opened, Opened::Migrated { from, .. } if from == format),
        "{opened:?}"
    );
    assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());

    let all = BikeQuery { archived: Archived::Too, ..BikeQuery::default() };
    let rows = book.read().bikes(&all).unwrap().rows;
    assert_eq!(rows.len(), 12);
    for (row, number) in rows.iter().zip(1..) {
        let screen = book.read().bike_screen(row.id).unwrap();
        let mut subject = demo(number);
        assert_eq!((&screen.record.bike.name, &screen.record.bike.owner), (&subject.name, &subject.owner));
        assert_eq!(screen.record.bike.observed, subject.observed);
        assert!(screen.log.iter().take(subject.measured.len()).all(|row| row.who.as_deref() == Some("Wren")));
        assert!(screen.log.iter().zip(&subject.measured).all(|(row, measured)| row.measurement == *measured));
        match number {
            1 => {
                assert_eq!(screen.record.tags, ["hire", "Élan"]);
                assert_eq!(screen.record.notes, "Creaks.\nLower cup?");
            }
            2 => assert!(screen.record.archived_at.is_some()),
            3 => {
                let struck = screen.log[0].struck.as_ref().unwrap();
                assert_eq!((struck.who.as_deref(), struck.why.as_str()), (Some("Ash"), "read upside down"));
                subject.measured.remove(0);
            }
            7 => {
                let check = &screen.checks[0];
                assert_eq!((check.maker.as_str(), check.number, check.is_fitted()), (MAKER, 12, true));
                assert_eq!(Bike::from_json(check.bike_json.as_bytes(), "frozen").unwrap(), subject);
                let comparison = check.comparison.as_ref().unwrap();
                assert!((comparison.installed.value - 66.1).abs() < 1e-12);
                assert_eq!(screen.log.last().unwrap().measurement, after());
                assert_eq!(screen.log.last().unwrap().since, Some(check.id));
            }
            _ => {}
        }
        if number != 7 {
            assert_eq!(screen.findings, subject.findings());
        }
    }
    let found = |text: &str| {
        let query = BikeQuery { text: text.into(), ..BikeQuery::default() };
        book.read().bikes(&query).unwrap().rows.len()
    };
    assert_eq!((found("elan"), found("hire bike 07"), found("larch")), (1, 1, 11));
    let maker = &book.read().makers().unwrap()[0];
    assert_eq!(maker.pinned.unwrap().to_string(), KEY);
    assert_eq!(maker.catalogues[0].signature_status, SignatureStatus::UnsignedThoughPinned);
    let demo_catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    assert_eq!(book.read().catalogue(MAKER, None).unwrap(), demo_catalogue);

    if opened == Opened::Existing {
        assert_eq!(book.read().next_redo().unwrap(), Some(Op::EditBike));
        assert_eq!(book.undo().unwrap().unwrap().output, Op::AddMeasurement);
        assert_eq!(book.redo().unwrap().unwrap().output, Op::AddMeasurement);
    }
    drop(book);
    // Brought up to date, it has the schema of a book made now.
    let fresh = Shelf::new();
    drop(fresh.open());
    assert_eq!(schema(&shelf.path()), schema(&fresh.path()));
}

/// The file says what it is, and holds a schema in which no type is a matter of luck.
#[test]
fn a_new_book_says_what_it_is() {
    let shelf = Shelf::new();
    assert_eq!(shelf.try_open().unwrap().1, Opened::New);
    assert_eq!(shelf.names(), ["book.steerbook"]);
    let header = fs::read(shelf.path()).unwrap();
    assert_eq!(&header[68..72], b"SWfb");
    assert_eq!(header[60..64], 8i32.to_be_bytes());
    let conn = Connection::open(shelf.path()).unwrap();
    let loose: i64 = conn
        .query_row(
            "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND NOT strict
             AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(loose, 0);
    drop(conn);
    assert_eq!(shelf.try_open().unwrap().1, Opened::Existing);
    // A file that was made and not yet written to is a new book too.
    let empty = shelf.folder().join("folder/empty.steerbook");
    fs::create_dir(empty.parent().unwrap()).unwrap();
    fs::write(&empty, b"").unwrap();
    assert_eq!(FieldBook::open(&empty, Box::<SteadyClock>::default()).unwrap().1, Opened::New);
}

/// Two programs with the same book: each sees what the other saved, and their actions do not mix.
#[test]
fn two_programs_share_a_book() {
    let shelf = Shelf::new();
    let mut one = shelf.open();
    let mut two = FieldBook::open(&shelf.path(), Box::new(SteadyClock::new(2))).unwrap().0;
    let (reader, watching) = (two.another_reader().unwrap(), two.another_reader().unwrap());
    let count = |reader: &Reader| reader.bikes(&BikeQuery::default()).unwrap().rows.len();
    std::thread::scope(|scope| {
        for (number, book) in [&mut one, &mut two].into_iter().enumerate() {
            scope.spawn(move || {
                for row in 0..40 {
                    book.transact(Op::AddBike, |work| work.add_bike(&bike(&format!("{number} {row}")), None))
                        .unwrap();
                }
            });
        }
        scope.spawn(move || {
            let mut last = 0;
            while last < 80 {
                let query = BikeQuery { limit: 500, ..BikeQuery::default() };
                let now = watching.bikes(&query).unwrap().rows.len();
                assert!(now >= last, "{now} after {last}");
                last = now;
            }
        });
    });
    assert_eq!((count(one.read()), count(two.read()), count(&reader)), (50, 50, 50));
    assert_eq!(one.read().examine().unwrap(), Vec::<String>::new());
}

/// While another program writes, a transaction waits and then says so.
#[test]
fn a_busy_book_says_so() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let other = Connection::open(shelf.path()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let added: Result<Outcome<_>, _> = book.transact(Op::AddBike, |work| work.add_bike(&bike("One"), None));
    assert_eq!(added.unwrap_err(), BookError::Busy);
    // Looking things up goes on meanwhile.
    assert!(book.read().bikes(&BikeQuery::default()).unwrap().rows.is_empty());
    other.execute_batch("ROLLBACK").unwrap();
    assert!(book.transact(Op::AddBike, |work| work.add_bike(&bike("One"), None)).is_ok());
    // A clock that went wrong is shown, not believed.
    assert!(Timestamp(i64::MIN).to_string().ends_with("ms since 1970"));
}
