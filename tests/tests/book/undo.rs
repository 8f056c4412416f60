//! Transactions are atomic, and each is one action that can be undone.

use proptest::prelude::*;
use std::cell::Cell;
use steerwright_core::book::{
    Archived, BikeEdit, BikeId, BikeQuery, BookError, CatalogueImport, FieldBook, MeasurementId, NewCheck,
    Op, PublicKey, Screen, Sort,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, check};
use steerwright_core::sentence::Sentence;
use steerwright_tests::{TempBook, bike, dump, dump_but_touches, reading};

fn add(book: &mut FieldBook, name: &str) -> BikeId {
    book.transact(Op::AddBike, |work| work.add_bike(&bike(name), None)).unwrap().output
}

#[test]
fn a_failed_closure_leaves_nothing() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    add(&mut book, "One");
    let before = dump(&temp_book.path());
    let refusal = BookError::Refused(Sentence::new("shell", "thought better of it"));
    let error = book
        .transact(Op::Import, |work| -> Result<(), _> {
            work.add_bike(&bike("Two"), None)?;
            Err(refusal.clone())
        })
        .unwrap_err();
    assert_eq!(error, refusal);
    assert_eq!(dump(&temp_book.path()), before);
    assert_eq!(book.read().next_undo().unwrap().map(|it| it.op), Some(Op::AddBike));
}

/// A closure that continues after a failed step does not save a part of it.
#[test]
fn a_failure_that_is_ignored_leaves_nothing_either() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let before = dump(&temp_book.path());
    let error = book.transact(Op::Import, |work| {
        work.add_bike(&bike("Two"), None)?;
        let _ = work.add_bike(&bike(""), None);
        Ok(())
    });
    assert!(matches!(error, Err(BookError::Refused(_))), "{error:?}");
    assert_eq!(dump(&temp_book.path()), before);
}

#[test]
fn a_panic_in_a_closure_leaves_nothing() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let before = dump(&temp_book.path());
    let caught = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        book.transact(Op::Import, |work| -> Result<(), BookError> {
            work.add_bike(&bike("Two"), None)?;
            panic!("midway")
        })
    }));
    assert!(caught.is_err());
    assert_eq!(dump(&temp_book.path()), before);
    add(&mut book, "Three");
    assert!(dump(&temp_book.path()).contains("Three"));
}

/// Undo of undo is redo, also after reopening; a new action discards the actions that could be redone.
#[test]
fn back_and_forth_over_reopening() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let empty = dump_but_touches(&temp_book.path());
    let id = add(&mut book, "One");
    let one = dump_but_touches(&temp_book.path());
    let edit = BikeEdit { name: Some("Uno".into()), tags: Some(vec!["red".into()]), ..BikeEdit::default() };
    book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    let uno = dump_but_touches(&temp_book.path());
    drop(book);

    let mut book = temp_book.open();
    assert_eq!(book.read().next_undo().unwrap().map(|it| it.op), Some(Op::EditBike));
    let undone = book.undo().unwrap().unwrap();
    assert_eq!(undone.output.op, Op::EditBike);
    assert!(undone.changes.contains(Screen::BikeList) && undone.changes.contains(Screen::Bike(id)));
    assert_eq!(dump_but_touches(&temp_book.path()), one);
    let undone = book.undo().unwrap().unwrap();
    assert_eq!(undone.output.op, Op::AddBike);
    // The removed bike is reported, so that its screen can close.
    assert!(undone.changes.contains(Screen::Bike(id)));
    assert_eq!(dump_but_touches(&temp_book.path()), empty);
    assert_eq!(book.undo().unwrap(), None);
    drop(book);

    let mut book = temp_book.open();
    assert_eq!(book.redo().unwrap().unwrap().output.op, Op::AddBike);
    assert_eq!(dump_but_touches(&temp_book.path()), one);
    assert_eq!(book.redo().unwrap().unwrap().output.op, Op::EditBike);
    assert_eq!(dump_but_touches(&temp_book.path()), uno);
    assert_eq!(book.redo().unwrap(), None);
    book.undo().unwrap().unwrap();
    assert_eq!(book.read().next_redo().unwrap().map(|it| it.op), Some(Op::EditBike));
    add(&mut book, "Two");
    assert_eq!(book.read().next_redo().unwrap(), None);
    assert_eq!(book.redo().unwrap(), None);
}

/// An undo is a change like any other: the bike is first among those last changed, and the list is stale.
#[test]
fn an_undo_touches_the_bike() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let (one, two) = (add(&mut book, "One"), add(&mut book, "Two"));
    let row = reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule);
    let added =
        book.transact(Op::AddMeasurement, |work| work.add_measurement(one, &row, None, None)).unwrap();
    let both = |id| [Screen::BikeList, Screen::Bike(id)].into();
    assert_eq!(added.changes.0, both(one));
    let edit = BikeEdit { notes: Some("Creaks.".into()), ..BikeEdit::default() };
    book.transact(Op::EditBike, |work| work.edit_bike(two, &edit)).unwrap();
    let query = BikeQuery { sort: Sort::Touched, ..BikeQuery::default() };
    let order = |book: &FieldBook| -> Vec<BikeId> {
        book.read().bikes(&query).unwrap().rows.iter().map(|row| row.id).collect()
    };
    assert_eq!(order(&book), [two, one]);
    let touched = |book: &FieldBook, id| book.read().bike_screen(id).unwrap().record.touched_at;
    let mut last = touched(&book, two);
    assert_eq!(book.undo().unwrap().unwrap().changes.0, both(two));
    assert!(touched(&book, two) > last);
    last = touched(&book, two);
    assert_eq!(book.undo().unwrap().unwrap().changes.0, both(one));
    assert!(touched(&book, one) > last);
    assert_eq!(order(&book), [one, two]);
    assert_eq!(book.redo().unwrap().unwrap().changes.0, both(one));
}

#[test]
fn a_hundred_actions_are_kept_and_not_all() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    for number in 0..300 {
        add(&mut book, &format!("Bike {number}"));
    }
    let mut undone = 0;
    while book.undo().unwrap().is_some() {
        undone += 1;
    }
    assert!((100..150).contains(&undone), "{undone}");
}

/// An action on the book; the numbers select among the existing rows.
#[derive(Debug, Clone)]
enum Action {
    Add(String, usize),
    Edit(usize, Option<String>, Option<String>, Option<Vec<String>>),
    Archive(usize),
    Delete(usize),
    Restore(usize),
    Measure(usize, f64, Option<String>),
    Strike(usize),
    BringBack(usize),
    Keep(usize),
    Fit(usize),
    Remove(usize),
    Import(u32),
    Pin(bool),
    Instruments(f64),
    Several(usize),
}

fn actions() -> impl Strategy<Value = Vec<Action>> {
    let text = || "[a-zé ]{0,12}";
    let one = prop_oneof![
        ("[a-z]{1,8}", 0usize..3).prop_map(|(name, rows)| Action::Add(name, rows)),
        (
            any::<usize>(),
            proptest::option::of(text()),
            proptest::option::of(text()),
            proptest::option::of(proptest::collection::vec("[a-c]{1,2}", 0..3))
        )
            .prop_map(|(at, name, notes, tags)| Action::Edit(at, name, notes, tags)),
        any::<usize>().prop_map(Action::Archive),
        any::<usize>().prop_map(Action::Delete),
        any::<usize>().prop_map(Action::Restore),
        (any::<usize>(), 80.0..200.0, proptest::option::of("[a-z]{1,6}"))
            .prop_map(|(at, value, note)| Action::Measure(at, value, note)),
        any::<usize>().prop_map(Action::Strike),
        any::<usize>().prop_map(Action::BringBack),
        any::<usize>().prop_map(Action::Keep),
        any::<usize>().prop_map(Action::Fit),
        any::<usize>().prop_map(Action::Remove),
        (1u32..6).prop_map(Action::Import),
        any::<bool>().prop_map(Action::Pin),
        (0.01..0.3).prop_map(Action::Instruments),
        any::<usize>().prop_map(Action::Several),
    ];
    proptest::collection::vec(one, 1..25)
}

fn pick<T: Copy>(list: &[T], at: usize) -> Option<T> {
    list.get(at % list.len().max(1)).copied()
}

/// Performs the action if possible, and returns whether it was.
fn perform(book: &mut FieldBook, action: &Action) -> bool {
    let query = BikeQuery { archived: Archived::Too, ..Default::default() };
    let bikes: Vec<BikeId> = book.read().bikes(&query).unwrap().rows.iter().map(|row| row.id).collect();
    let mut rows: Vec<MeasurementId> = Vec::new();
    let mut checks = Vec::new();
    for bike in &bikes {
        let screen = book.read().bike_screen(*bike).unwrap();
        rows.extend(screen.log.iter().map(|row| row.id));
        checks.extend(screen.checks.iter().map(|check| check.id));
    }
    let length = |value| reading(Quantity::HeadTubeLength, value, Instrument::SteelRule);
    let outcome = match action {
        Action::Add(name, rows) => {
            let bike = steerwright_core::bike::Bike { measured: vec![length(120.0); *rows], ..bike(name) };
            book.transact(Op::AddBike, |work| work.add_bike(&bike, Some("Wren"))).map(|it| it.changes)
        }
        Action::Edit(at, name, notes, tags) => {
            let Some(bike) = pick(&bikes, *at) else { return false };
            let edit = BikeEdit {
                name: name.clone(),
                notes: notes.clone(),
                tags: tags.clone(),
                ..BikeEdit::default()
            };
            book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)).map(|it| it.changes)
        }
        Action::Delete(at) => {
            let Some(bike) = pick(&bikes, *at) else { return false };
            book.transact(Op::DeleteBike, |work| work.delete_bike(bike)).map(|it| it.changes)
        }
        Action::Archive(at) => {
            let Some(bike) = pick(&bikes, *at) else { return false };
            book.transact(Op::ArchiveBike, |work| work.archive_bike(bike)).map(|it| it.changes)
        }
        Action::Restore(at) => {
            let Some(bike) = pick(&bikes, *at) else { return false };
            book.transact(Op::RestoreBike, |work| work.restore_bike(bike)).map(|it| it.changes)
        }
        Action::Measure(at, value, note) => {
            let Some(bike) = pick(&bikes, *at) else { return false };
            let row = steerwright_core::bike::Measurement { note: note.clone(), ..length(*value) };
            book.transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, None))
                .map(|it| it.changes)
        }
        Action::Strike(at) => {
            let Some(row) = pick(&rows, *at) else { return false };
            book.transact(Op::StrikeOut, |work| work.strike_out(row, None, "slip")).map(|it| it.changes)
        }
        Action::BringBack(at) => {
            let Some(row) = pick(&rows, *at) else { return false };
            book.transact(Op::BringBack, |work| work.bring_back(row)).map(|it| it.changes)
        }
        Action::Keep(at) => {
            let Some(id) = pick(&bikes, *at) else { return false };
            let subject = book.read().bike_screen(id).unwrap().record.bike;
            let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
            let instruments = Instruments::default();
            let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
            let checked = NewCheck {
                bike: &subject,
                report: &report,
                instruments: &instruments,
                sku: report.kits.first().map(|kit| kit.sku.as_str()),
                who: None,
                note: "",
            };
            book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked)).map(|it| it.changes)
        }
        Action::Fit(at) => {
            let Some(check) = pick(&checks, *at) else { return false };
            book.transact(Op::FitKit, |work| work.fit_kit(check, None)).map(|it| it.changes)
        }
        Action::Remove(at) => {
            let Some(check) = pick(&checks, *at) else { return false };
            book.transact(Op::RemoveKit, |work| work.remove_kit(check)).map(|it| it.changes)
        }
        Action::Import(number) => {
            let mut catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
            catalogue.number = *number;
            let text = catalogue.to_json();
            let incoming = CatalogueImport {
                bytes: text.as_bytes(),
                file: "catalogue",
                signature: None,
                allow_older: *number == 2,
            };
            book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).map(|it| it.changes)
        }
        Action::Pin(pin) => {
            // RFC 8032, 7.1, test 1.
            let key =
                PublicKey::read("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a").unwrap();
            let maker = "Tarn & Tiller Components";
            book.transact(Op::PinMaker, |work| work.pin_maker(maker, pin.then_some(&key)))
                .map(|it| it.changes)
        }
        Action::Instruments(width) => {
            let mut own = Instruments::default();
            own.0.get_mut(&Instrument::Caliper).unwrap().plus_minus_mm = Some(*width);
            book.transact(Op::ChangeSettings, |work| work.set_instruments(Some(&own))).map(|it| it.changes)
        }
        Action::Several(at) => {
            let Some(old) = pick(&bikes, *at) else { return false };
            book.transact(Op::Import, |work| {
                let new = work.add_bike(&bike("Several"), None)?;
                let row = work.add_measurement(new, &length(110.0), None, None)?;
                work.strike_out(row, Some("Ash"), "of another bike")?;
                work.add_measurement(old, &length(110.0), None, None)?;
                work.edit_bike(new, &BikeEdit { notes: Some("two".into()), ..BikeEdit::default() })
            })
            .map(|it| it.changes)
        }
    };
    outcome.is_ok_and(|changes| !changes.is_empty())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Any actions, undone one by one, pass through all previous states back to the start; redone, forward again, with
    /// the book closed and reopened in between. The search index is compared as well.
    #[test]
    fn undoing_everything_is_the_beginning(actions in actions()) {
        let temp_book = TempBook::new();
        let mut book = temp_book.open();
        let mut states = vec![dump_but_touches(&temp_book.path())];
        for action in &actions {
            if perform(&mut book, action) {
                states.push(dump_but_touches(&temp_book.path()));
            } else {
                prop_assert_eq!(states.last(), Some(&dump_but_touches(&temp_book.path())), "{:?} changed something after all", action);
            }
        }
        for state in states.iter().rev().skip(1) {
            prop_assert!(book.undo().unwrap().is_some());
            prop_assert_eq!(state, &dump_but_touches(&temp_book.path()));
        }
        prop_assert_eq!(book.undo().unwrap(), None);
        drop(book);
        let mut book = temp_book.open();
        for state in states.iter().skip(1) {
            prop_assert!(book.redo().unwrap().is_some());
            prop_assert_eq!(state, &dump_but_touches(&temp_book.path()));
        }
        prop_assert_eq!(book.redo().unwrap(), None);
        prop_assert_eq!(book.read().examine().unwrap(), Vec::<String>::new());
    }

    /// For any action, screens not reported as stale show the same as before.
    #[test]
    fn screens_that_are_not_stale_show_the_same(actions in actions()) {
        let temp_book = TempBook::new();
        let mut book = temp_book.open();
        for action in &actions {
            perform(&mut book, action);
        }
        let query = BikeQuery {
            archived: Archived::Too,
            limit: 500,
            ..Default::default()
        };
        let stale = Cell::new(0);
        loop {
            let list = book.read().bikes(&query).unwrap();
            let screens: Vec<_> =
                list.rows.iter().map(|row| book.read().bike_screen(row.id).unwrap()).collect();
            let makers = book.read().makers().unwrap();
            let instruments = book.read().instruments().unwrap();
            let Some(undone) = book.undo().unwrap() else { break };
            let changes = undone.changes;
            stale.set(stale.get() + changes.0.len());
            if !changes.contains(Screen::BikeList) {
                prop_assert_eq!(book.read().bikes(&query).unwrap(), list);
            }
            if !changes.contains(Screen::Catalogues) {
                prop_assert_eq!(book.read().makers().unwrap(), makers);
            }
            if !changes.contains(Screen::Settings) {
                prop_assert_eq!(book.read().instruments().unwrap(), instruments);
                for screen in screens {
                    if !changes.contains(Screen::Bike(screen.record.id)) {
                        prop_assert_eq!(book.read().bike_screen(screen.record.id).unwrap(), screen);
                    }
                }
            }
        }
    }
}
