//! The steps by which a book is written.

use super::{StepClock, mix};
use crate::{bike, reading};
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::book::{
    Archived, BikeEdit, BikeId, BikeQuery, BikeScreen, BookError, BundleAcceptance, BundleScope,
    CatalogueImport, FieldBook, NewCheck, NewPhoto, Op, PublicKey, Timestamp,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::Direction;
use steerwright_core::orders::{CallOutcome, OrderDraft, OutboundCallId, State, Token};
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_core::protocol::wire::{Contact, Kind};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, Report, check};

const MAKER: &str = "Tarn & Tiller Components";
/// RFC 8032, 7.1, tests 1 and 2.
const KEYS: [&str; 2] = [
    "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
];

/// One user action. Its target follows from its number and the book's present contents; without a target, a bike is
/// added instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// A bike with its readings.
    AddBike,
    /// Edit name, notes and tags.
    EditBike,
    /// Archive or restore.
    Archive,
    /// A reading with a note.
    Measure,
    /// Strike out a reading.
    StrikeOut,
    /// Restore a struck out reading.
    BringBack,
    /// Store a check.
    KeepCheck,
    /// Fit or remove its kit.
    FitKit,
    /// Import a catalogue with its own number.
    ImportCatalogue,
    /// Pin another key for the maker.
    PinMaker,
    /// Set another table of instruments.
    Settings,
    /// Import a table with new bikes.
    ReadCsv,
    /// Import a bundle of another book, with photos.
    ReadBundle,
    /// Add a photo with its files.
    AddPhoto,
    /// Remove a photo.
    RemovePhoto,
    /// Write the whole book to a bundle; does not change the book.
    WriteBundle,
    /// Queue an order request, with the shop set and agreed to.
    QueueOrder,
    /// Change, withdraw or erase an order request.
    ChangeOrder,
    /// Begin a call for an order request, or record its outcome.
    SendOrder,
    /// Undo the last action.
    Undo,
    /// Redo it.
    Redo,
}

impl Step {
    /// Every step.
    pub const ALL: [Self; 21] = [
        Self::AddBike,
        Self::EditBike,
        Self::Archive,
        Self::Measure,
        Self::StrikeOut,
        Self::BringBack,
        Self::KeepCheck,
        Self::FitKit,
        Self::ImportCatalogue,
        Self::PinMaker,
        Self::Settings,
        Self::ReadCsv,
        Self::ReadBundle,
        Self::AddPhoto,
        Self::RemovePhoto,
        Self::WriteBundle,
        Self::QueueOrder,
        Self::ChangeOrder,
        Self::SendOrder,
        Self::Undo,
        Self::Redo,
    ];
}

/// `count` steps that follow from a seed.
pub fn plan(mut seed: u64, count: usize) -> Vec<Step> {
    (0..count).map(|_| Step::ALL[(mix(&mut seed) % Step::ALL.len() as u64) as usize]).collect()
}

/// The folder next to a book that is being written: bundles to read, and space for written ones.
#[derive(Debug)]
pub struct CrashFixture {
    folder: PathBuf,
    checked: (Bike, Report),
}

impl CrashFixture {
    /// The fixture in a folder.
    pub fn new(folder: &Path) -> Self {
        let subject = demo(6);
        let catalogue =
            Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").expect("the demo catalogue");
        let report =
            check(&subject, &catalogue, &Instruments::default(), &Options::default()).expect("an answer");
        Self { folder: folder.to_owned(), checked: (subject, report) }
    }

    /// Creates the input files of the steps; once.
    pub fn lay(&self) {
        let clock = StepClock::default();
        let path = self.folder.join("other.steerbook");
        let (mut book, _) = FieldBook::open(&path, Box::new(clock.clone())).expect("another book");
        for number in 0..BUNDLES {
            // Step numbers that no book of the steps has: the rows of another book have different ids.
            clock.begin(1_000_000 + number);
            let bike = book.transact(Op::AddBike, |work| work.add_bike(&demo(number + 3), Some("Ash")));
            let new = NewPhoto { bike: Some(bike.expect("a bike").output), ..NewPhoto::default() };
            let bytes = photo(number, number);
            book.add_photo(&bytes, &Limits::default(), &BuiltIn, &new).expect("a photo");
            clock.begin(2_000_000 + number);
            book.write_bundle(BundleScope::Book, &self.bundle(number)).expect("a bundle");
        }
    }

    fn bundle(&self, number: u64) -> PathBuf {
        self.folder.join(format!("{}.steerbundle", number % BUNDLES))
    }

    /// Takes a step. Deterministic for the same number in the same book.
    ///
    /// # Errors
    /// Those of the book.
    pub fn take(
        &self,
        step: Step,
        number: u64,
        book: &mut FieldBook,
        clock: &StepClock,
    ) -> Result<(), BookError> {
        clock.begin(number);
        let mut dice = number;
        let some = mix(&mut dice) as usize;
        let screens = screens(book)?;
        let picked = || screens.get(some % screens.len().max(1));
        match step {
            Step::AddBike => {}
            Step::EditBike => {
                if let Some(it) = picked() {
                    let edit = BikeEdit {
                        name: (some % 3 > 0).then(|| format!("Renamed {number}")),
                        notes: Some(format!(
                            "Notes of step {number}. {}",
                            "Creaks when cold. ".repeat(some % 60)
                        )),
                        tags: Some((0..some % 4).map(|tag| format!("tag{}", tag + some % 5)).collect()),
                        ..BikeEdit::default()
                    };
                    return done(book.transact(Op::EditBike, |work| work.edit_bike(it.record.id, &edit)));
                }
            }
            Step::Archive => {
                if let Some(it) = picked() {
                    return if it.record.archived_at.is_none() {
                        done(book.transact(Op::ArchiveBike, |work| work.archive_bike(it.record.id)))
                    } else {
                        done(book.transact(Op::RestoreBike, |work| work.restore_bike(it.record.id)))
                    };
                }
            }
            Step::Measure => {
                if let Some(it) = picked() {
                    let mut row =
                        reading(Quantity::HeadTubeLength, 100.0 + number as f64 / 8.0, Instrument::Caliper);
                    row.note = Some(format!("reading of step {number}"));
                    return done(book.transact(Op::AddMeasurement, |work| {
                        work.add_measurement(it.record.id, &row, Some("Wren"), None)
                    }));
                }
            }
            Step::StrikeOut | Step::BringBack => {
                let wanted = step == Step::BringBack;
                let mut rows: Vec<_> = screens
                    .iter()
                    .flat_map(|it| &it.log)
                    .filter(|row| row.struck.is_some() == wanted)
                    .collect();
                rows.sort_by_key(|row| row.id);
                if let Some(row) = rows.get(some % rows.len().max(1)) {
                    return if wanted {
                        done(book.transact(Op::BringBack, |work| work.bring_back(row.id)))
                    } else {
                        done(
                            book.transact(Op::StrikeOut, |work| {
                                work.strike_out(row.id, Some("Ash"), "a slip")
                            }),
                        )
                    };
                }
            }
            Step::KeepCheck => {
                if let Some(it) = picked() {
                    let (subject, report) = &self.checked;
                    let checked = NewCheck {
                        bike: subject,
                        report,
                        instruments: &Instruments::default(),
                        sku: report.kits.first().map(|kit| kit.sku.as_str()),
                        who: None,
                        note: "kept",
                    };
                    return done(
                        book.transact(Op::KeepCheck, |work| work.keep_check(it.record.id, &checked)),
                    );
                }
            }
            Step::FitKit => {
                let mut checks: Vec<_> = screens.iter().flat_map(|it| &it.checks).collect();
                checks.sort_by_key(|check| check.id);
                checks.retain(|check| check.removed_at.is_none());
                if let Some(check) = checks.get(some % checks.len().max(1)) {
                    return if check.is_fitted() {
                        done(book.transact(Op::RemoveKit, |work| work.remove_kit(check.id)))
                    } else {
                        done(book.transact(Op::FitKit, |work| work.fit_kit(check.id, None)))
                    };
                }
            }
            Step::ImportCatalogue => {
                let catalogue = demo_catalogue_json().replacen(
                    "\"number\": 12",
                    &format!("\"number\": {}", 100 + number),
                    1,
                );
                let incoming = CatalogueImport {
                    bytes: catalogue.as_bytes(),
                    file: "demo",
                    signature: None,
                    allow_older: true,
                };
                return done(book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)));
            }
            Step::PinMaker => {
                let key = PublicKey::read(KEYS[some % 2]).expect("a key");
                let key = (some % 3 > 0).then_some(&key);
                return done(book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, key)));
            }
            Step::Settings => {
                let mut own = Instruments::default();
                for reach in own.0.values_mut() {
                    reach.plus_minus_mm = reach.plus_minus_mm.map(|it| it + number as f64 / 64.0);
                }
                return done(book.transact(Op::ChangeSettings, |work| work.set_instruments(Some(&own))));
            }
            Step::ReadCsv => {
                // Some are large enough to cause a backup first.
                let rows = if some % 8 == 0 { 510 } else { some % 40 + 1 };
                return done(book.read_csv(table(number, rows).as_bytes(), Some("Wren"), false));
            }
            Step::ReadBundle => {
                return done(book.read_bundle(&self.bundle(some as u64), BundleAcceptance::ALL));
            }
            Step::AddPhoto => {
                let new = NewPhoto {
                    bike: picked().map(|it| it.record.id),
                    note: "seat",
                    forget_original: some % 4 == 0,
                };
                return done(book.add_photo(&photo(some as u64, number), &Limits::default(), &BuiltIn, &new));
            }
            Step::RemovePhoto => {
                let mut photos: Vec<_> =
                    screens.iter().flat_map(|it| &it.photos).map(|photo| photo.row.id).collect();
                photos.sort();
                if let Some(id) = photos.get(some % photos.len().max(1)) {
                    return done(book.transact(Op::RemovePhoto, |work| work.remove_photo(*id)));
                }
            }
            Step::WriteBundle => {
                // Next to the book, where faults are injected.
                let path = book.read().photos_folder().with_file_name("out").join("written.steerbundle");
                return done(book.write_bundle(BundleScope::Book, &path));
            }
            Step::QueueOrder => {
                // The order is for a bike whose verdict is known, so that the request depends only on the number.
                if let Some(it) = picked() {
                    let kit = self.checked.1.kits.first().map(|kit| kit.sku.clone()).unwrap_or_default();
                    let incoming = CatalogueImport {
                        bytes: demo_catalogue_json().as_bytes(),
                        file: "demo",
                        signature: None,
                        allow_older: true,
                    };
                    let draft = order(it, kit, number);
                    return done(book.transact(Op::Order, |work| {
                        work.pin_maker(MAKER, None)?;
                        work.import_catalogue(&incoming)?;
                        work.set_shop("https://shop.example", &Token::new("larch-hollow-1")?)?;
                        work.agree_to_sending("Send my order requests to this shop.", Some("Wren"))?;
                        work.queue_order(&draft)
                    }));
                }
            }
            Step::ChangeOrder => {
                let orders = book.read().orders(None)?;
                if let Some(it) = orders.get(some % orders.len().max(1)) {
                    let done_for = matches!(it.state, State::Withdrawn | State::Delivered | State::Underway);
                    if some % 2 == 0 || done_for {
                        return done(book.transact(Op::Order, |work| work.erase_contact(it.id)));
                    }
                    return done(book.transact(Op::Order, |work| work.withdraw_order(it.id)));
                }
            }
            Step::SendOrder => {
                // Far ahead, so that no wait is pending, and a day further each time, so that a call begun before
                // counts as interrupted. A step is one transaction: recording changes, an outcome, or the begin of a
                // call.
                let now = Timestamp(1_800_000_000_000 + i64::try_from(number).unwrap_or(0) * 86_400_000);
                let before = book.read().orders(None)?;
                if some % 2 == 0 {
                    for it in &before {
                        for call in 1..4 {
                            let id = OutboundCallId::Request { order: it.id, number: call };
                            if book.finish_call(id, &CallOutcome::NoNetwork, now)?.output {
                                return Ok(());
                            }
                        }
                    }
                }
                let due = book.due(now)?;
                if book.read().orders(None)? != before {
                    return Ok(());
                }
                if let Some(call) = due.first() {
                    return book.begin_call(call, now).map(drop);
                }
            }
            Step::Undo => {
                if book.undo()?.is_some() {
                    return Ok(());
                }
            }
            Step::Redo => {
                if book.redo()?.is_some() {
                    return Ok(());
                }
            }
        }
        let mut one = demo(some as u64);
        one.name = format!("Step {number}");
        done(book.transact(Op::AddBike, |work| work.add_bike(&one, Some("Wren"))))
    }
}

/// A question about a kit with the bike's photos.
fn order(screen: &BikeScreen, sku: String, number: u64) -> OrderDraft {
    OrderDraft {
        bike: screen.record.id,
        maker: MAKER.into(),
        sku,
        direction: Direction::Slacker,
        quantity: 1,
        kind: Kind::Question,
        with_parts: number % 2 == 0,
        contact: Contact {
            name: "Wren".into(),
            email: Some(format!("wren{number}@larch-hollow.example")),
            ..Contact::default()
        },
        note: format!("Asked in step {number}."),
        photos: screen.photos.iter().map(|photo| photo.row.id).take(3).collect(),
    }
}

const BUNDLES: u64 = 3;

fn done<T>(result: Result<T, BookError>) -> Result<(), BookError> {
    result.map(drop)
}

fn demo(number: u64) -> Bike {
    let demo = demo_bikes_json();
    let (file, text) = demo[number as usize % demo.len()];
    Bike::from_json(text.as_bytes(), file).unwrap_or_else(|_| bike("Demo"))
}

/// One of a few pictures, each in a different file: data after the picture's end belongs to the file, not to the
/// picture.
fn photo(picture: u64, number: u64) -> Vec<u8> {
    let names = ["baseline-420.jpg", "grey.jpg", "baseline-444-turned.jpg"];
    let name = names[(picture % names.len() as u64) as usize];
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo").join(name);
    let mut bytes = fs::read(path).expect("a sample");
    bytes.extend(number.to_be_bytes().iter().cycle().take(30_000));
    bytes
}

fn table(number: u64, rows: usize) -> String {
    let mut text = "bike,owner,what,value,unit,with,note\n".to_owned();
    let of_bike = if rows > 100 { 170 } else { 4 };
    for row in 0..rows {
        text.push_str(&format!(
            "Table {number} {},Larch Hollow,head_tube_length,{},mm,caliper,row {row}\n",
            row / of_bike,
            110 + row % 40
        ));
    }
    text
}

/// Every bike, in an order that depends only on the book's contents.
fn screens(book: &FieldBook) -> Result<Vec<BikeScreen>, BookError> {
    let query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
    let mut ids: Vec<BikeId> = book.read().bikes(&query)?.rows.into_iter().map(|row| row.id).collect();
    ids.sort();
    ids.into_iter().map(|id| book.read().bike_screen(id)).collect()
}
