//! Marks on the book's photos: stored with the photo, their readings in the bike's log, corrected without
//! loss.

use std::fs;
use std::path::Path;
use steerwright_core::book::{
    BikeId, BookError, BundleAcceptance, BundleScope, FieldBook, NewPhoto, Op, PhotoEdit, PhotoId,
    PhotoMeasured, Screen, Timestamp,
};
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_core::photogrammetry::measure::{Doubt, Marks, Refusal};
use steerwright_core::quantity::{Estimate, Instrument, Quantity};
use steerwright_tests::{TempBook, bike, dump_but_touches, reading};

fn data(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)).unwrap()
}

/// Marks of a picture of 4032 by 3024 pixels.
fn example() -> Marks {
    Marks::from_json(&data("marks/example.json"), "marks").unwrap()
}

/// The same marks, the head tube's top 12 pixels further forward.
fn corrected() -> Marks {
    let mut marks = example();
    marks.head_tube_top.as_mut().unwrap().at[0] += 3.0;
    marks
}

/// A book with a bike and a photo of it, 48 by 36 pixels: the marks are of the same picture, larger.
fn stocked(temp_book: &TempBook) -> (FieldBook, BikeId, PhotoId) {
    let mut book = temp_book.open();
    let id = book.transact(Op::AddBike, |work| work.add_bike(&bike("Hire bike 07"), None)).unwrap().output;
    let new = NewPhoto { bike: Some(id), ..NewPhoto::default() };
    let added = book.add_photo(&data("photo/baseline-420.jpg"), &Limits::default(), &BuiltIn, &new).unwrap();
    (book, id, added.output.id)
}

fn measured(book: &mut FieldBook, photo: PhotoId, marks: &Marks) -> PhotoMeasured {
    book.measure_photo(photo, Some(marks), Some("Iri")).unwrap().output
}

#[test]
fn readings_are_those_of_the_marks_and_know_their_photo() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    let before = dump_but_touches(&temp_book.path());
    let outcome = book.measure_photo(photo, Some(&example()), Some("Iri")).unwrap();
    assert!(outcome.changes.contains(Screen::Bike(id)) && outcome.changes.contains(Screen::Photos));
    let seen = book.read().preview_photo(photo, &example()).unwrap();
    let screen = book.read().bike_screen(id).unwrap();
    let written: Vec<_> = screen.log.iter().map(|row| row.measurement.clone()).collect();
    assert_eq!(written, seen.measurements());
    let head = seen.get(Quantity::HeadAngle).unwrap();
    let found = screen.findings.get(Quantity::HeadAngle).unwrap();
    // Both are stored to a hundredth.
    assert!((found.value - head.value).abs() <= 0.005, "{found:?} {head:?}");
    assert!((found.u - head.u).abs() <= 0.0025 + 1e-12, "{found:?} {head:?}");
    for row in &screen.log {
        assert_eq!((row.photo, row.who.as_deref()), (Some(photo), Some("Iri")));
        assert_eq!(row.measurement.with, Instrument::Photo);
    }
    assert_eq!(screen.photos_behind(Quantity::HeadAngle), [photo]);
    assert_eq!(screen.photos_behind(Quantity::UpperStack), []);
    let [shown] = screen.photos.as_slice() else { panic!("{:?}", screen.photos) };
    let [marks] = shown.row.marks.as_slice() else { panic!("{:?}", shown.row.marks) };
    assert_eq!((&marks.marks, marks.id), (&example(), outcome.output.marks));
    assert_eq!(book.read().marks(marks.id).unwrap(), *marks);
    assert!(screen.log.iter().all(|row| row.recorded_at == marks.set_at));

    let after = dump_but_touches(&temp_book.path());
    assert_eq!(book.undo().unwrap().map(|outcome| outcome.output.op), Some(Op::MeasurePhoto));
    assert_eq!(dump_but_touches(&temp_book.path()), before);
    book.redo().unwrap().unwrap();
    assert_eq!(dump_but_touches(&temp_book.path()), after);
}

/// Numbers that follow from others of the same marks are not counted again.
#[test]
fn the_same_marks_do_not_speak_twice() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    measured(&mut book, photo, &example());
    let seen = book.read().preview_photo(photo, &example()).unwrap();
    let screen = book.read().bike_screen(id).unwrap();
    for what in [Quantity::FrontCentre, Quantity::BottomBracketDrop, Quantity::Reach, Quantity::Stack] {
        assert!(seen.get(what).is_some() && screen.findings.readings(what).is_empty(), "{what}");
    }
    // Without the crown the position along the steering axis is unknown, so reach and stack are stored.
    let marks = Marks { crown: None, ..example() };
    measured(&mut book, photo, &marks);
    let screen = book.read().bike_screen(id).unwrap();
    assert_eq!(screen.findings.readings(Quantity::Reach).len(), 1);
    assert_eq!(screen.findings.readings(Quantity::FrontCentre).len(), 0);
}

#[test]
fn corrected_marks_strike_the_earlier_readings_out_and_lose_nothing() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    let by_hand = reading(Quantity::HeadAngle, 65.0, Instrument::Photo);
    book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &by_hand, None, Some(photo))).unwrap();
    let first = measured(&mut book, photo, &example());
    let before = dump_but_touches(&temp_book.path());
    let second = measured(&mut book, photo, &corrected());
    assert_eq!(second.struck, first.added);
    assert_eq!(second.added.len(), first.added.len());
    let screen = book.read().bike_screen(id).unwrap();
    for row in &screen.log {
        let earlier = first.added.contains(&row.id);
        assert_eq!(row.struck.is_some(), earlier, "{row:?}");
        if let Some(struck) = &row.struck {
            assert_eq!((struck.who.as_deref(), struck.why.is_empty()), (Some("Iri"), false));
        }
    }
    // Entered by hand: not struck out by the marks.
    assert!(screen.log.iter().any(|row| row.struck.is_none() && row.measurement == by_hand));
    let marks: Vec<&Marks> = screen.photos[0].row.marks.iter().map(|row| &row.marks).collect();
    assert_eq!(marks, [&example(), &corrected()]);
    book.undo().unwrap().unwrap();
    assert_eq!(dump_but_touches(&temp_book.path()), before);
}

#[test]
fn a_refused_photo_changes_nothing_and_says_what_to_do() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    measured(&mut book, photo, &example());
    let before = dump_but_touches(&temp_book.path());
    let mut swapped = example();
    std::mem::swap(&mut swapped.front, &mut swapped.rear);
    let error = book.measure_photo(photo, Some(&swapped), None).unwrap_err();
    assert_eq!(error, BookError::Marks(Refusal::Swapped));
    assert!(error.to_string().contains("Exchange front and rear"), "{error}");
    let mut turned = example();
    (turned.image.width, turned.image.height) = (3024, 4032);
    let error = book.measure_photo(photo, Some(&turned), None).unwrap_err().to_string();
    assert!(error.contains("3024 by 4032 pixels, the photo has 48 by 36"), "{error}");
    assert_eq!(dump_but_touches(&temp_book.path()), before);

    let away = PhotoEdit { bike: Some(None), note: None };
    book.transact(Op::EditPhoto, |work| work.edit_photo(photo, &away)).unwrap();
    let error = book.measure_photo(photo, None, None).unwrap_err().to_string();
    assert!(error.contains("no bike"), "{error}");
    let back = PhotoEdit { bike: Some(Some(id)), note: None };
    book.transact(Op::EditPhoto, |work| work.edit_photo(photo, &back)).unwrap();
    book.transact(Op::RemovePhoto, |work| work.remove_photo(photo)).unwrap();
    assert!(matches!(book.measure_photo(photo, None, None), Err(BookError::NotFound { .. })));
}

#[test]
fn what_is_known_of_the_bike_fills_what_the_marks_leave_out() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    let full = example();
    let mut bare = full.clone();
    bare.fork_offset_mm = None;
    bare.front.diameter_mm = None;
    bare.rear.diameter_mm = None;
    let assumed = |book: &FieldBook| {
        let seen = book.read().preview_photo(photo, &bare).unwrap();
        seen.doubts
            .iter()
            .filter(|doubt| matches!(doubt, Doubt::DiameterAssumed { .. } | Doubt::OffsetAssumed))
            .count()
    };
    assert_eq!(assumed(&book), 3);
    let known = [
        (Quantity::ForkOffset, full.fork_offset_mm),
        (Quantity::FrontTyreDiameter, full.front.diameter_mm),
        (Quantity::RearTyreDiameter, full.rear.diameter_mm),
    ];
    for (what, told) in known {
        let told: Estimate = told.unwrap();
        let mut row = reading(what, told.value, Instrument::MakerSheet);
        row.plus_minus = Some(told.expanded());
        book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &row, None, None)).unwrap();
    }
    assert_eq!(assumed(&book), 0);
    let (told, filled) =
        (book.read().preview_photo(photo, &full).unwrap(), book.read().preview_photo(photo, &bare).unwrap());
    for ((what, told), (other, filled)) in told.values.iter().zip(&filled.values) {
        assert_eq!(what, other);
        // The same observations, so the same minimum; it is found to a ten thousandth of u.
        assert!((told.value - filled.value).abs() <= 1e-3 * told.u, "{what}: {told:?} {filled:?}");
        assert!((told.u - filled.u).abs() <= 1e-3 * told.u, "{what}: {told:?} {filled:?}");
    }
    // The stored marks are the original ones; measured again, they are completed by the then present data.
    measured(&mut book, photo, &bare);
    book.measure_photo(photo, None, None).unwrap();
    let kept = book.read().photo(photo).unwrap().row.marks;
    assert_eq!(kept.iter().map(|row| &row.marks).collect::<Vec<_>>(), [&bare, &bare]);
}

#[test]
fn marks_travel_with_bundles_and_both_sides_keep_theirs_once() {
    let (here, there) = (TempBook::new(), TempBook::new());
    let (mut book, id, photo) = stocked(&here);
    let first = measured(&mut book, photo, &example());
    let file = here.folder().join("one.zip");
    book.write_bundle(BundleScope::Bike(id), &file).unwrap();

    // An hour later: what a bundle dates after the clock counts as of now.
    let mut clock = steerwright_tests::RepeatableClock::new(2);
    clock.skip_to(Timestamp(1_777_622_400_000 + 3_600_000));
    let (mut other, _) = FieldBook::open(&there.path(), Box::new(clock)).unwrap();
    other.read_bundle(&file, BundleAcceptance::ALL).unwrap();
    let arrived = other.read().photo(photo).unwrap().row;
    assert_eq!(arrived.marks, book.read().photo(photo).unwrap().row.marks);
    let before = dump_but_touches(&there.path());
    other.read_bundle(&file, BundleAcceptance::ALL).unwrap();
    assert_eq!(dump_but_touches(&there.path()), before, "read twice, there once");

    // Each side corrects; merged in either direction, both sets are present once.
    let ours = measured(&mut book, photo, &corrected());
    let theirs = other.measure_photo(photo, Some(&Marks { crown: None, ..example() }), None).unwrap().output;
    let back = there.folder().join("two.zip");
    other.write_bundle(BundleScope::Book, &back).unwrap();
    book.write_bundle(BundleScope::Book, &file).unwrap();
    book.read_bundle(&back, BundleAcceptance::ALL).unwrap();
    other.read_bundle(&file, BundleAcceptance::ALL).unwrap();
    let ids = |book: &FieldBook| -> Vec<_> {
        book.read().photo(photo).unwrap().row.marks.iter().map(|row| row.id).collect()
    };
    assert_eq!(ids(&book), ids(&other));
    let mut all = vec![first.marks, ours.marks, theirs.marks];
    all.sort();
    let mut found = ids(&book);
    found.sort();
    assert_eq!(found, all);
}

/// Damage to one set of marks loses that set, not the photo and not the readings.
#[test]
fn marks_that_cannot_be_read_any_more_are_lost_alone() {
    let temp_book = TempBook::new();
    let (mut book, id, photo) = stocked(&temp_book);
    let first = measured(&mut book, photo, &example());
    let second = measured(&mut book, photo, &corrected());
    drop(book);
    let conn = rusqlite::Connection::open(temp_book.path()).unwrap();
    assert_eq!(
        conn.execute("UPDATE photo_marks SET marks = '{\"schema\": 1}' WHERE key = 1", []).unwrap(),
        1
    );
    drop(conn);
    let (book, opened) = temp_book.try_open().unwrap();
    assert!(matches!(opened, steerwright_core::book::Opened::Recovered(_)), "{opened:?}");
    let screen = book.read().bike_screen(id).unwrap();
    assert_eq!(screen.log.len(), first.added.len() + second.added.len());
    assert_eq!(screen.photos[0].row.marks.iter().map(|row| row.id).collect::<Vec<_>>(), [second.marks]);
}
