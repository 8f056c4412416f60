//! A book with arbitrary content, and a dump of all of it.

use proptest::prelude::*;
use rusqlite::types::Value;
use rusqlite::{Connection, params};
use sha2::{Digest, Sha256};
use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use steerwright_core::bike::{Bike, Measurement, Observed, demo_bikes_json};
use steerwright_core::book::{
    Archived, BikeEdit, BikeId, BikeQuery, BookError, BundleAcceptance, BundleMerged, BundleScope, CheckId,
    Clock, FieldBook, MeasurementId, NewCheck, Op, Outcome, PhotoId, Timestamp,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, Report, check};
use steerwright_tests::{RepeatableClock, TempBook, any, bike, reading};
use uuid::{Builder, Uuid};

/// A book with its folder.
pub struct Party {
    pub temp_book: TempBook,
    pub book: FieldBook,
    clock: SharedClock,
    series: u8,
    photos: u64,
}

thread_local! {
    /// Hours that [`Party::later`] has let pass on this thread.
    static HOURS: Cell<i64> = const { Cell::new(0) };
}

/// A clock that the test can advance while a book has it.
#[derive(Clone)]
struct SharedClock(Arc<Mutex<RepeatableClock>>);

impl Clock for SharedClock {
    fn now(&mut self) -> Timestamp {
        self.0.lock().unwrap().now()
    }

    fn random(&mut self) -> [u8; 10] {
        self.0.lock().unwrap().random()
    }
}

/// An action on a book; the numbers select among the existing rows.
#[derive(Debug, Clone)]
pub enum Act {
    Add(String, usize),
    Edit(usize, Option<String>, Option<String>, Option<Vec<String>>),
    See(usize, Observed),
    Archive(usize),
    Restore(usize),
    Measure(usize, f64, Option<usize>),
    Strike(usize),
    BringBack(usize),
    Keep(usize),
    Fit(usize),
    Remove(usize),
    TakeOut(usize),
    Photo(Option<usize>),
    RemovePhoto(usize),
}

pub fn acts(most: usize) -> impl Strategy<Value = Vec<Act>> {
    use prop::option::of;
    let at = any::<usize>;
    let one = prop_oneof![
        2 => ("[a-z]{1,8}", 0usize..3).prop_map(|(name, rows)| Act::Add(name, rows)),
        2 => (at(), of("[a-zé]{1,8}"), of("[a-z \n]{0,12}"), of(prop::collection::vec("[a-cA-C]{1,2}", 0..3)))
            .prop_map(|(at, name, notes, tags)| Act::Edit(at, name, notes, tags)),
        1 => (at(), any::observed()).prop_map(|(at, seen)| Act::See(at, seen)),
        1 => at().prop_map(Act::Archive),
        1 => at().prop_map(Act::Restore),
        3 => (at(), 80.0..200.0, of(at())).prop_map(|(at, value, photo)| Act::Measure(at, value, photo)),
        2 => at().prop_map(Act::Strike),
        1 => at().prop_map(Act::BringBack),
        2 => at().prop_map(Act::Keep),
        2 => at().prop_map(Act::Fit),
        1 => at().prop_map(Act::Remove),
        1 => at().prop_map(Act::TakeOut),
        2 => of(at()).prop_map(Act::Photo),
        1 => at().prop_map(Act::RemovePhoto),
    ];
    prop::collection::vec(one, 1..most)
}

fn pick<T: Copy>(list: &[T], at: usize) -> Option<T> {
    list.get(at % list.len().max(1)).copied()
}

/// A check of a demo bike, computed once: its content does not matter here.
pub fn checked() -> &'static (Bike, Report) {
    static CHECKED: std::sync::OnceLock<(Bike, Report)> = std::sync::OnceLock::new();
    CHECKED.get_or_init(|| {
        let (file, text) = demo_bikes_json()[6];
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
        let report = check(&bike, &catalogue, &Instruments::default(), &Options::default()).unwrap();
        (bike, report)
    })
}

/// Bytes that begin like a JPEG, different for each name.
pub fn picture(name: &str) -> Vec<u8> {
    [&[0xFF, 0xD8, 0xFF, 0xE0], name.as_bytes()].concat()
}

impl Party {
    /// Books of different `series` have different ids.
    pub fn new(series: u8) -> Self {
        let temp_book = TempBook::new();
        let clock = SharedClock(Arc::new(Mutex::new(RepeatableClock::new(series))));
        let (book, _) = FieldBook::open(&temp_book.path(), Box::new(clock.clone())).unwrap();
        Self { temp_book, book, clock, series, photos: 0 }
    }

    /// Advances the book's clock to a later time than any party of this thread has seen.
    pub fn later(&self) {
        let hour = HOURS.get() + 1;
        HOURS.set(hour);
        self.clock.0.lock().unwrap().skip_to(Timestamp(1_777_622_400_000 + hour * 3_600_000));
    }

    /// Reads a bundle later than it was made, with all that it takes away or writes over.
    pub fn read(&mut self, path: &Path) -> Result<Outcome<BundleMerged>, BookError> {
        self.read_with(path, BundleAcceptance::ALL)
    }

    /// [`Party::read`] with what is accepted.
    pub fn read_with(
        &mut self,
        path: &Path,
        accept: BundleAcceptance,
    ) -> Result<Outcome<BundleMerged>, BookError> {
        self.later();
        self.book.read_bundle(path, accept)
    }

    pub fn with(series: u8, acts: &[Act]) -> Self {
        let mut party = Self::new(series);
        party.act(&Act::Add("first".into(), 1));
        acts.iter().for_each(|act| party.act(act));
        party
    }

    /// Advances the book's clock by this many seconds.
    pub fn wait(&mut self, seconds: usize) {
        for _ in 0..seconds {
            self.book.transact(Op::EditBike, |_| Ok(())).unwrap();
        }
    }

    pub fn bikes(&self) -> Vec<BikeId> {
        let query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
        self.book.read().bikes(&query).unwrap().rows.iter().map(|row| row.id).collect()
    }

    fn ids(&self, table: &str) -> Vec<Uuid> {
        let conn = Connection::open(self.temp_book.path()).unwrap();
        let mut rows = conn.prepare(&format!("SELECT id FROM {table} ORDER BY key")).unwrap();
        let rows = rows.query_map([], |row| row.get::<_, [u8; 16]>(0)).unwrap();
        rows.map(|id| Uuid::from_bytes(id.unwrap())).collect()
    }

    pub fn log(&self) -> Vec<MeasurementId> {
        self.ids("measurements").into_iter().map(MeasurementId).collect()
    }

    pub fn photos(&self) -> Vec<PhotoId> {
        self.ids("photos").into_iter().map(PhotoId).collect()
    }

    pub fn folder(&self) -> PathBuf {
        self.book.read().photos_folder()
    }

    /// Adds a photo with its three files: the original, the working copy, the thumbnail.
    pub fn photo(&mut self, bike: Option<BikeId>) -> PhotoId {
        self.photos += 1;
        let random = [self.series, 0, 0, 0, 0, 0, 0, 0, 0, self.photos.try_into().unwrap()];
        let id = Builder::from_unix_timestamp_millis(1_777_622_400_000 + self.photos, &random).into_uuid();
        fs::create_dir_all(self.folder()).unwrap();
        let [original, working, thumbnail] = ["original", "working", "thumbnail"].map(|which| {
            let bytes = picture(&format!("{which} {id}"));
            let hash = Sha256::digest(&bytes);
            fs::write(self.folder().join(data_encoding::HEXLOWER.encode(&hash)), bytes).unwrap();
            hash.to_vec()
        });
        let conn = Connection::open(self.temp_book.path()).unwrap();
        conn.execute(
            "INSERT INTO photos (id, bike, sha256, kind, bytes, width, height, taken_at, focal_length_mm, camera,
                 original_kept, working, thumbnail, note, added_at)
             VALUES (?1, (SELECT key FROM bikes WHERE id = ?2), ?3, 'jpeg', 60, 48, 36, '2026:05:01 09:00:00', 4.25,
                 'Pocket 3', 1, ?4, ?5, 'lower seat', 1777622400000)",
            params![id.as_bytes(), bike.map(|bike| *bike.0.as_bytes()), original, working, thumbnail],
        )
        .unwrap();
        PhotoId(id)
    }

    /// Performs the action if possible.
    pub fn act(&mut self, act: &Act) {
        let (bikes, log, checks) = (self.bikes(), self.log(), self.ids("checks"));
        let checks: Vec<_> = checks.into_iter().map(CheckId).collect();
        let photos = self.photos();
        let length = |value| reading(Quantity::HeadTubeLength, value, Instrument::SteelRule);
        let book = &mut self.book;
        let edit = |book: &mut FieldBook, at: usize, edit: BikeEdit| {
            let bike = pick(&bikes, at)?;
            Some(book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)))
        };
        let _refused: Option<Result<_, BookError>> = match act {
            Act::Add(name, rows) => {
                // Every other bike is added with a kit in it.
                let fitted = rows.is_multiple_of(2).then(|| checked().1.kits[0].as_fitted.clone());
                let bike = Bike { measured: vec![length(120.0); *rows], fitted, ..bike(name) };
                let added = book.transact(Op::AddBike, |work| work.add_bike(&bike, Some("Wren")).map(drop));
                Some(added)
            }
            Act::Edit(at, name, notes, tags) => {
                let (name, notes, tags) = (name.clone(), notes.clone(), tags.clone());
                edit(book, *at, BikeEdit { name, notes, tags, ..BikeEdit::default() })
            }
            Act::See(at, seen) => {
                edit(book, *at, BikeEdit { observed: Some(seen.clone()), ..BikeEdit::default() })
            }
            Act::Archive(at) => {
                pick(&bikes, *at).map(|bike| book.transact(Op::ArchiveBike, |work| work.archive_bike(bike)))
            }
            Act::Restore(at) => {
                pick(&bikes, *at).map(|bike| book.transact(Op::RestoreBike, |work| work.restore_bike(bike)))
            }
            Act::Measure(at, value, photo) => pick(&bikes, *at).map(|bike| {
                let photo = photo.and_then(|photo| pick(&photos, photo));
                let note = Some(format!("near {value:.0}"));
                let row = Measurement { note, ..length(*value) };
                book.transact(Op::AddMeasurement, |work| {
                    work.add_measurement(bike, &row, Some("Ash"), photo).map(drop)
                })
            }),
            Act::Strike(at) => pick(&log, *at)
                .map(|row| book.transact(Op::StrikeOut, |work| work.strike_out(row, Some("Ash"), "slip"))),
            Act::BringBack(at) => {
                pick(&log, *at).map(|row| book.transact(Op::BringBack, |work| work.bring_back(row)))
            }
            Act::Keep(at) => pick(&bikes, *at).map(|id| {
                let (bike, report) = checked();
                let checked = NewCheck {
                    bike,
                    report,
                    instruments: &Instruments::default(),
                    sku: report.kits.first().map(|kit| kit.sku.as_str()),
                    who: Some("Wren"),
                    note: "before the alpine week",
                };
                book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked).map(drop))
            }),
            Act::Fit(at) => {
                pick(&checks, *at).map(|id| book.transact(Op::FitKit, |work| work.fit_kit(id, None)))
            }
            Act::Remove(at) => {
                pick(&checks, *at).map(|id| book.transact(Op::RemoveKit, |work| work.remove_kit(id)))
            }
            Act::TakeOut(at) => {
                pick(&bikes, *at).map(|id| book.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id)))
            }
            Act::Photo(at) => {
                let bike = at.and_then(|at| pick(&bikes, at));
                self.photo(bike);
                None
            }
            Act::RemovePhoto(at) => {
                if let Some(photo) = pick(&photos, *at) {
                    let conn = Connection::open(self.temp_book.path()).unwrap();
                    let removed = "UPDATE photos SET removed_at = ?2 WHERE id = ?1 AND removed_at IS NULL";
                    conn.execute(removed, params![photo.0.as_bytes(), 1_777_622_500_000i64]).unwrap();
                }
                None
            }
        };
    }

    /// Writes a bundle next to the book and returns its path.
    pub fn bundle(&mut self, what: BundleScope) -> PathBuf {
        let path = self.temp_book.folder().join(format!("bundle-{}.zip", self.series));
        self.book.write_bundle(what, &path).unwrap();
        path
    }

    /// All contents of the book, independent of row keys; without the flag whether the photos' originals were kept,
    /// which is local to each book.
    pub fn known(&self) -> BTreeSet<String> {
        self.known_with("touched_at")
    }

    /// [`Party::known`] without the bikes' touch times, which undo and redo update.
    pub fn known_but_touches(&self) -> BTreeSet<String> {
        self.known_with("NULL")
    }

    fn known_with(&self, touched: &str) -> BTreeSet<String> {
        let conn = Connection::open(self.temp_book.path()).unwrap();
        let queries = [
            "SELECT 'bike', id, name, owner, observed, notes, name_sort, owner_sort, created_at, touched_at,
                 observed_at, archived_at, fitted FROM bikes",
            "SELECT 'tag', (SELECT id FROM bikes WHERE key = t.bike), tag FROM bike_tags t",
            "SELECT 'row', id, (SELECT id FROM bikes WHERE key = m.bike), what, value, unit, tool, plus_minus,
                 taken_at, note, who, recorded_at, (SELECT id FROM photos WHERE key = m.photo),
                 (SELECT id FROM checks WHERE key = m.since), struck_at, struck_by, struck_why FROM measurements m",
            "SELECT 'check', id, (SELECT id FROM bikes WHERE key = c.bike), made_at, who, maker, number, engine, sku,
                 predicted, predicted_u, bike_json, report_json, note, fitted_at, removed_at FROM checks c",
            "SELECT 'photo', id, (SELECT id FROM bikes WHERE key = p.bike), sha256, kind, bytes, width, height,
                 taken_at, focal_length_mm, focal_length_35mm, camera, working, thumbnail, note, added_at, removed_at
             FROM photos p",
        ];
        let mut known = BTreeSet::new();
        for query in queries {
            let mut rows = conn.prepare(&query.replace("touched_at", touched)).unwrap();
            let columns = rows.column_count();
            let rows = rows.query_map([], |row| {
                (0..columns).map(|column| row.get::<_, Value>(column)).collect::<Result<Vec<_>, _>>()
            });
            for row in rows.unwrap() {
                assert!(known.insert(format!("{:?}", row.unwrap())), "a row is there twice");
            }
        }
        known
    }

    /// The files of photos, by name.
    pub fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let entries = fs::read_dir(self.folder()).into_iter().flatten().flatten();
        entries
            .map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap()))
            .collect()
    }
}

/// The entries of a bundle except its manifest.
pub fn unpack(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut entries = Vec::new();
    for place in 0..archive.len() {
        let mut file = archive.by_index(place).unwrap();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        let name = file.name().unwrap().into_owned();
        if name != "manifest.json" {
            entries.push((name, bytes));
        }
    }
    entries
}

/// A book with every kind of content of a bundle, in few rows.
pub fn rich() -> Party {
    let mut party = Party::new(7);
    for act in [Act::Add("one".into(), 2), Act::Add("two".into(), 1)] {
        party.act(&act);
    }
    let one = party.bikes()[0];
    let [own, loose] = [Some(one), None].map(|bike| party.photo(bike));
    let row = Measurement {
        note: Some("the rim of the seat".into()),
        ..reading(Quantity::UpperBearingOuterDiameter, 41.8, Instrument::Caliper)
    };
    for photo in [own, loose] {
        party
            .book
            .transact(Op::AddMeasurement, |work| work.add_measurement(one, &row, Some("Wren"), Some(photo)))
            .unwrap();
    }
    let edit = BikeEdit {
        owner: Some("Larch Hollow demo crew".into()),
        tags: Some(vec!["hire".into(), "alpine".into()]),
        notes: Some("First line.\nSecond line.".into()),
        ..BikeEdit::default()
    };
    party.book.transact(Op::EditBike, |work| work.edit_bike(one, &edit)).unwrap();
    for act in [Act::Keep(0), Act::Fit(0), Act::Measure(0, 121.0, None), Act::Strike(0), Act::Archive(1)] {
        party.act(&act);
    }
    party
}
