//! A kit that is in a bike when it is added: kept, replaced, taken out, undone, merged.

use steerwright_core::bike::{Bike, FittedEnd, FittedKit, demo_bikes_json};
use steerwright_core::book::{
    BikeEdit, BikeId, BookError, BundleAcceptance, BundleScope, CheckId, FieldBook, NewCheck, Op, Screen,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::Verdict;
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, check};
use steerwright_tests::{RepeatableClock, TempBook, bike, dump_but_touches, reading};

fn demo(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

/// A pair of drop-in cups at one degree, of no catalogue.
fn kit() -> FittedKit {
    let end = |seat: &str, offset_mm| FittedEnd {
        seat: seat.parse().unwrap(),
        stack_mm: 9.5,
        plane_mm: -4.0,
        offset_mm,
    };
    FittedKit {
        sku: "LH-1".to_owned(),
        name: "Drop-in pair".to_owned(),
        upper: end("IS42", -0.9),
        lower: end("IS52", 0.9),
    }
}

/// A bike with that kit in, its head tube and its head angle measured.
fn with_a_kit() -> Bike {
    Bike {
        fitted: Some(kit()),
        measured: vec![
            reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule),
            reading(Quantity::HeadAngle, 65.0, Instrument::PhoneLevel),
        ],
        ..bike("Hire bike 21")
    }
}

fn added(book: &mut FieldBook, bike: &Bike) -> BikeId {
    book.transact(Op::AddBike, |work| work.add_bike(bike, Some("Wren"))).unwrap().output
}

/// The kit in the bike, and the quantities whose readings count.
fn shown(book: &FieldBook, id: BikeId) -> (Option<String>, Vec<Quantity>) {
    let bike = book.read().bike_screen(id).unwrap().record.bike;
    (bike.fitted.map(|kit| kit.sku), bike.measured.iter().map(|it| it.what).collect())
}

const BOTH: [Quantity; 2] = [Quantity::HeadTubeLength, Quantity::HeadAngle];

/// A kept check of the demo catalogue's best kit for the seventh demo bike.
fn kept(book: &mut FieldBook, id: BikeId) -> (CheckId, String) {
    let subject = demo(7);
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
    let instruments = Instruments::default();
    let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
    let kit = &report.kits[0];
    assert!(kit.verdict <= Verdict::GoesInAfterWork);
    let (sku, bike) = (Some(kit.sku.as_str()), &subject);
    let checked = NewCheck { bike, report: &report, instruments: &instruments, sku, who: None, note: "" };
    let check = book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked)).unwrap().output;
    (check, kit.sku.clone())
}

#[test]
fn the_kit_of_a_file_stays_in_the_bike() {
    let temp_book = TempBook::new();
    let id = {
        let mut book = temp_book.open();
        let id = added(&mut book, &with_a_kit());
        assert_eq!(book.read().bike_screen(id).unwrap().record.bike, with_a_kit());
        id
    };
    let mut book = temp_book.open();
    assert_eq!(book.read().bike_screen(id).unwrap().record.bike, with_a_kit(), "reopened");
    // An edit leaves it alone.
    let edit = BikeEdit { notes: Some("Creaks.".to_owned()), ..BikeEdit::default() };
    book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    assert_eq!(shown(&book, id), (Some("LH-1".to_owned()), BOTH.to_vec()));
    book.undo().unwrap().unwrap();
    book.undo().unwrap().unwrap();
    book.redo().unwrap().unwrap();
    assert_eq!(shown(&book, id), (Some("LH-1".to_owned()), BOTH.to_vec()), "redone");
}

/// What was measured with the kit says nothing about the bike without it.
#[test]
fn a_kit_is_taken_out_once_and_back_by_undoing() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = added(&mut book, &with_a_kit());
    let before = dump_but_touches(&temp_book.path());
    let taken = book.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id)).unwrap();
    assert!(taken.changes.contains(Screen::Bike(id)));
    assert_eq!(shown(&book, id), (None, vec![Quantity::HeadTubeLength]));
    let log = book.read().bike_screen(id).unwrap().log;
    let why: Vec<_> = log.iter().filter_map(|row| row.struck.as_ref()).map(|it| it.why.as_str()).collect();
    assert_eq!(why, ["taken with the kit that was in then"]);
    let after = dump_but_touches(&temp_book.path());
    let Err(BookError::Refused(again)) = book.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id))
    else {
        panic!("there is none")
    };
    assert_eq!((&*again.id, again.text.as_str()), ("bike.no_kit_in", "there is no kit in this bike"));

    let told = "record that a kit was taken out (Hire bike 21): LH-1";
    assert_eq!(book.read().next_undo().unwrap().unwrap().description(), told);
    assert_eq!(book.undo().unwrap().unwrap().output.description(), told);
    assert_eq!(dump_but_touches(&temp_book.path()), before);
    assert_eq!(book.read().next_redo().unwrap().unwrap().description(), told);
    book.redo().unwrap().unwrap();
    assert_eq!(dump_but_touches(&temp_book.path()), after);
}

/// The kit of a check takes the place of the one that was in; once it is out, there is none.
#[test]
fn the_kit_of_a_check_replaces_it() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = added(&mut book, &with_a_kit());
    let (check, sku) = kept(&mut book, id);
    let before = dump_but_touches(&temp_book.path());
    book.transact(Op::FitKit, |work| work.fit_kit(check, None)).unwrap();
    assert_eq!(shown(&book, id), (Some(sku), vec![Quantity::HeadTubeLength]));
    book.undo().unwrap().unwrap();
    assert_eq!(dump_but_touches(&temp_book.path()), before);
    book.redo().unwrap().unwrap();
    book.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id)).unwrap();
    assert_eq!(shown(&book, id), (None, vec![Quantity::HeadTubeLength]));
    let screen = book.read().bike_screen(id).unwrap();
    assert!(screen.checks[0].removed_at.is_some(), "the check's own kit is the one that came out");
}

/// Two books with that bike, the second behind by a day.
fn two() -> ([TempBook; 2], [FieldBook; 2], BikeId) {
    let folders = [TempBook::new(), TempBook::new()];
    let [mut one, mut other] = [(&folders[0], 1), (&folders[1], 2)].map(|(folder, series)| {
        FieldBook::open(&folder.path(), Box::new(RepeatableClock::new(series))).unwrap().0
    });
    let id = added(&mut one, &with_a_kit());
    swap(&folders[0], &mut one, &mut other);
    (folders, [one, other], id)
}

fn swap(folder: &TempBook, from: &mut FieldBook, to: &mut FieldBook) {
    let path = folder.folder().join("all.steerbundle");
    from.write_bundle(BundleScope::Book, &path).unwrap();
    to.read_bundle(&path, BundleAcceptance::ALL).unwrap();
    std::fs::remove_file(path).unwrap();
}

/// Advances a book's clock by some seconds.
fn wait(book: &mut FieldBook) {
    for _ in 0..60 {
        book.transact(Op::EditBike, |_| Ok(())).unwrap();
    }
}

/// Taken out in one book and known in the other: in either order of exchange it is out in both.
#[test]
fn a_bundle_brings_the_kit_and_that_it_is_out() {
    for first in [0, 1] {
        let (folders, [mut one, mut other], id) = two();
        assert_eq!(shown(&other, id), (Some("LH-1".to_owned()), BOTH.to_vec()));
        wait(&mut other);
        other.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id)).unwrap();
        if first == 0 {
            swap(&folders[0], &mut one, &mut other);
            swap(&folders[0], &mut other, &mut one);
        } else {
            swap(&folders[0], &mut other, &mut one);
            swap(&folders[0], &mut one, &mut other);
        }
        for book in [&one, &other] {
            assert_eq!(shown(book, id), (None, vec![Quantity::HeadTubeLength]), "{first}");
        }
    }
}

/// One book fitted a check's kit, the other wrote down later what was seen: the check's kit is in, and once it is out
/// there is none in either.
#[test]
fn a_checks_kit_counts_before_that_of_a_file() {
    let (folders, [mut one, mut other], id) = two();
    let (check, sku) = kept(&mut one, id);
    one.transact(Op::FitKit, |work| work.fit_kit(check, None)).unwrap();
    wait(&mut other);
    let edit = BikeEdit { observed: Some(demo(7).observed), ..BikeEdit::default() };
    other.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    for _ in 0..2 {
        swap(&folders[0], &mut one, &mut other);
        swap(&folders[0], &mut other, &mut one);
    }
    for book in [&one, &other] {
        assert_eq!(shown(book, id).0.as_ref(), Some(&sku));
        assert_eq!(book.read().bike_screen(id).unwrap().record.bike.observed, demo(7).observed);
    }
    one.transact(Op::RemoveKit, |work| work.remove_kit_of_bike(id)).unwrap();
    swap(&folders[0], &mut one, &mut other);
    swap(&folders[0], &mut other, &mut one);
    for book in [&one, &other] {
        assert_eq!(shown(book, id).0, None);
    }
}
