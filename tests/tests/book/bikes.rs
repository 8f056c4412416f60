//! Bikes, their log and their stored checks: round trips, and findings that follow from the log alone.

use proptest::prelude::*;
use steerwright_core::bike::{Bike, Findings, demo_bikes_json};
use steerwright_core::book::{
    BikeEdit, BikeQuery, BookError, FieldBook, MeasurementId, NewCheck, Op, Screen, changes_with_a_kit,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::geometry::{Figure, Statement, UncertainChange, UncertainKit, survey};
use steerwright_core::judgement::Verdict;
use steerwright_core::quantity::{Instrument, Instruments, Quantity, Unit, quantity_info};
use steerwright_core::report::{Options, check};
use steerwright_tests::{TempBook, bike, reading};

fn demo(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

fn refused(error: BookError) -> String {
    match error {
        BookError::Refused(said) => said.text,
        other => panic!("{other:?}"),
    }
}

/// Each demo bike is exported as the same file that was imported, with the same findings, also after reopening.
#[test]
fn a_bike_file_comes_out_as_it_went_in() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let ids: Vec<_> = (1..=12)
        .map(|number| {
            let bike = demo(number);
            let added = book.transact(Op::AddBike, |work| work.add_bike(&bike, Some("Wren"))).unwrap();
            assert!(added.changes.contains(Screen::BikeList));
            assert!(added.changes.contains(Screen::Bike(added.output)));
            (added.output, bike)
        })
        .collect();
    drop(book);
    let book = temp_book.open();
    for (id, bike) in ids {
        let screen = book.read().bike_screen(id).unwrap();
        assert_eq!(screen.record.bike, bike);
        assert_eq!(screen.record.bike.to_json(), bike.to_json());
        assert_eq!(screen.findings, bike.findings());
        assert_eq!(screen.log.len(), bike.measured.len());
        assert!(screen.log.iter().all(|row| row.who.as_deref() == Some("Wren")));
        assert!(screen.log.iter().enumerate().all(|(place, row)| row.place == Some(place)));
    }
}

#[test]
fn an_edit_changes_what_it_names() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = book.transact(Op::AddBike, |work| work.add_bike(&demo(7), None)).unwrap().output;
    let edit = BikeEdit {
        name: Some("  Hire bike 7b ".into()),
        owner: Some(String::new()),
        notes: Some("Creaks.\nLower cup turned?".into()),
        tags: Some(vec!["spare".into(), "Élan".into(), " Spare ".into(), "alpha".into()]),
        ..BikeEdit::default()
    };
    book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    let record = book.read().bike_screen(id).unwrap().record;
    assert_eq!(record.bike.name, "Hire bike 7b");
    assert_eq!(record.bike.owner, None);
    assert_eq!(record.notes, "Creaks.\nLower cup turned?");
    assert_eq!(record.tags, ["alpha", "spare", "Élan"]);
    assert_eq!(record.bike.observed, demo(7).observed);
    assert!(record.touched_at > record.created_at);

    // Repeating the edit changes nothing: no undo step, no stale screen, no new time.
    let again = book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    assert!(again.changes.is_empty(), "{:?}", again.changes);
    assert_eq!(book.read().bike_screen(id).unwrap().record, record);

    // A tag of which only the case changes.
    let edit = BikeEdit { tags: Some(vec!["ALPHA".into()]), ..BikeEdit::default() };
    book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap();
    assert_eq!(book.read().bike_screen(id).unwrap().record.tags, ["ALPHA"]);

    for (edit, reason) in [
        (BikeEdit { name: Some(" ".into()), ..BikeEdit::default() }, "the bike's name is empty"),
        (
            BikeEdit { name: Some("a\u{7}b".into()), ..BikeEdit::default() },
            "the bike's name has a control character in it",
        ),
        (
            BikeEdit { owner: Some("x".repeat(121)), ..BikeEdit::default() },
            "the owner has 121 characters; the most is 120",
        ),
        (BikeEdit { tags: Some(vec![String::new()]), ..BikeEdit::default() }, "a tag is empty"),
    ] {
        let error = book.transact(Op::EditBike, |work| work.edit_bike(id, &edit)).unwrap_err();
        assert_eq!(refused(error), reason);
    }
}

#[test]
fn the_archive_keeps_everything() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = book.transact(Op::AddBike, |work| work.add_bike(&demo(1), None)).unwrap().output;
    let before = book.read().bike_screen(id).unwrap();
    book.transact(Op::ArchiveBike, |work| work.archive_bike(id)).unwrap();
    assert!(book.read().bikes(&BikeQuery::default()).unwrap().rows.is_empty());
    let archived = book.read().bike_screen(id).unwrap();
    assert!(archived.record.archived_at.is_some());
    assert_eq!(archived.log, before.log);
    let error = book.transact(Op::ArchiveBike, |work| work.archive_bike(id)).unwrap_err();
    assert_eq!(refused(error), "Hire bike 01 is already in the archive");
    book.transact(Op::RestoreBike, |work| work.restore_bike(id)).unwrap();
    assert_eq!(book.read().bike_screen(id).unwrap().record.archived_at, None);
    assert_eq!(book.read().bikes(&BikeQuery::default()).unwrap().rows.len(), 1);
}

/// A reading that is struck out stays in the log, does not count, and is restored unchanged.
#[test]
fn struck_out_and_brought_back() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = book.transact(Op::AddBike, |work| work.add_bike(&bike("One"), None)).unwrap().output;
    let length = |value| reading(Quantity::HeadTubeLength, value, Instrument::SteelRule);
    let add = |book: &mut FieldBook, value| -> MeasurementId {
        let reading = length(value);
        book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &reading, Some("Ash"), None))
            .unwrap()
            .output
    };
    let (_, wrong) = (add(&mut book, 112.0), add(&mut book, 121.0));
    let before = book.read().bike_screen(id).unwrap();
    assert_eq!(before.findings.disagreements().len(), 1);

    let strike = |book: &mut FieldBook, why: &str| {
        book.transact(Op::StrikeOut, |work| work.strike_out(wrong, Some("Wren"), why))
    };
    assert_eq!(refused(strike(&mut book, " ").unwrap_err()), "the reason is empty");
    let struck = strike(&mut book, "digits swapped").unwrap();
    assert!(struck.changes.contains(Screen::Bike(id)));
    let after = book.read().bike_screen(id).unwrap();
    assert_eq!(after.log.len(), 2);
    let row = after.log.last().unwrap();
    assert_eq!(row.measurement, length(121.0));
    assert_eq!(row.place, None);
    let struck = row.struck.as_ref().unwrap();
    assert_eq!((struck.who.as_deref(), struck.why.as_str()), (Some("Wren"), "digits swapped"));
    assert_eq!(after.findings, Bike { measured: vec![length(112.0)], ..bike("One") }.findings());
    assert_eq!(refused(strike(&mut book, "again").unwrap_err()), "the measurement is struck out already");

    book.transact(Op::BringBack, |work| work.bring_back(wrong)).unwrap();
    let back = book.read().bike_screen(id).unwrap();
    assert_eq!((back.log, back.findings), (before.log, before.findings));
    let error = book.transact(Op::BringBack, |work| work.bring_back(wrong)).unwrap_err();
    assert_eq!(refused(error), "the measurement is not struck out");
}

/// The same rules as for a file, with the field named.
#[test]
fn a_reading_that_no_file_could_hold_is_refused() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let id = book.transact(Op::AddBike, |work| work.add_bike(&bike("One"), None)).unwrap().output;
    let good = reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule);
    let cases = [
        ("value", Measured { value: 1120.0, ..good.clone() }),
        ("value", Measured { value: f64::NAN, ..good.clone() }),
        ("value", Measured { value: f64::INFINITY, ..good.clone() }),
        ("unit", Measured { unit: Unit::Deg, ..good.clone() }),
        ("with", Measured { with: Instrument::PhoneLevel, ..good.clone() }),
        ("plus_minus", Measured { plus_minus: Some(0.0), ..good.clone() }),
        ("plus_minus", Measured { plus_minus: Some(f64::NAN), ..good.clone() }),
        ("plus_minus", Measured { plus_minus: Some(f64::INFINITY), ..good.clone() }),
        ("at", Measured { at: Some("yesterday".into()), ..good.clone() }),
        ("note", Measured { note: Some("\u{1b}[2J".into()), ..good.clone() }),
    ];
    for (field, bad) in cases {
        let added = book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &bad, None, None));
        let Err(BookError::Invalid(errors)) = added else { panic!("{bad:?}: {added:?}") };
        assert_eq!(errors.errors()[0].field, field, "{errors}");
    }
    assert!(book.read().bike_screen(id).unwrap().log.is_empty());
    assert_eq!(book.read().next_undo().unwrap().map(|it| it.op), Some(Op::AddBike));
}

use steerwright_core::bike::Measurement as Measured;

/// A kit that does not fit by its check goes in only with a reason, which the check keeps; then it is part of the bike.
#[test]
fn a_kit_that_does_not_fit_goes_in_with_a_reason() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let subject = demo(7);
    let id = book.transact(Op::AddBike, |work| work.add_bike(&subject, None)).unwrap().output;
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
    let instruments = Instruments::default();
    let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
    let kit = report.kits.iter().find(|kit| kit.verdict == Verdict::WillNotGo).unwrap();
    let checked = NewCheck {
        bike: &subject,
        report: &report,
        instruments: &instruments,
        sku: Some(&kit.sku),
        who: None,
        note: "",
    };
    let kept = book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked)).unwrap().output;
    let error = refused(book.transact(Op::FitKit, |work| work.fit_kit(kept, None)).unwrap_err());
    assert!(error.contains("does not fit; expected a reason"), "{error}");
    assert_eq!(book.read().bike_screen(id).unwrap().record.bike.fitted, None);

    book.transact(Op::FitKit, |work| work.fit_kit(kept, Some("filed by hand, the maker agreed"))).unwrap();
    let screen = book.read().bike_screen(id).unwrap();
    assert!(screen.checks[0].is_fitted());
    assert_eq!(screen.checks[0].note, "In all the same: filed by hand, the maker agreed");
    assert_eq!(screen.record.bike.fitted.as_ref(), Some(&kit.as_fitted));

    book.transact(Op::RemoveKit, |work| work.remove_kit(kept)).unwrap();
    assert_eq!(book.read().bike_screen(id).unwrap().record.bike.fitted, None);
}

/// Before and after the kit: the check is frozen, readings are not mixed with earlier ones, and the outcome is compared
/// with the prediction.
#[test]
fn a_kept_check_meets_its_outcome() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let subject = demo(7);
    let id = book.transact(Op::AddBike, |work| work.add_bike(&subject, None)).unwrap().output;
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
    let instruments = Instruments::default();
    let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
    let kit = report.kits.iter().find(|kit| kit.change.head_angle.is_some()).unwrap();
    let checked = NewCheck {
        bike: &subject,
        report: &report,
        instruments: &instruments,
        sku: Some(&kit.sku),
        who: Some("Wren"),
        note: "For the alpine week.",
    };
    let kept = book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked)).unwrap();
    assert!(kept.changes.contains(Screen::Bike(id)));
    let kept = kept.output;
    let screen = book.read().bike_screen(id).unwrap();
    let row = &screen.checks[0];
    assert_eq!((row.maker.as_str(), row.number), (catalogue.maker.as_str(), catalogue.number));
    assert_eq!(row.engine, report.engine);
    assert_eq!(Bike::from_json(row.bike_json.as_bytes(), "frozen").unwrap(), subject);
    assert_eq!(serde_json::from_str::<steerwright_core::report::Report>(&row.report_json).unwrap(), report);
    let predicted = row.predicted.unwrap();
    let foreseen = kit.change.head_angle.as_ref().unwrap();
    assert_eq!(predicted.value.to_bits(), foreseen.after.to_bits());
    assert_eq!(row.comparison, None);

    // The figure's own uncertainty from the whole survey, with the bearings' places as uncertain as they are.
    let statements: Vec<_> =
        subject.findings().iter().map(|(what, estimate)| Statement { what, estimate }).collect();
    let part = catalogue.kit(&kit.sku).unwrap();
    let prepared = steerwright_core::judgement::PreparedKit::new(part, &catalogue).unwrap();
    let change = UncertainChange {
        kit: Some(UncertainKit::installed(prepared.offsets)),
        lower_stack: Some(UncertainKit::stack(part.lower.stack_mm)),
        ..UncertainChange::default()
    };
    let whole = survey(&statements).compare(&change).unwrap();
    let whole = whole.after.get(Figure::HeadAngle).unwrap();
    assert!((whole.value - predicted.value).abs() < 1e-9);
    assert!((predicted.u / whole.u - 1.0).abs() < 1e-9, "{predicted:?} {whole:?}");

    // The kit is fitted: earlier readings stay valid if a kit does not change their quantity.
    book.transact(Op::FitKit, |work| work.fit_kit(kept, None)).unwrap();
    let screen = book.read().bike_screen(id).unwrap();
    assert!(screen.checks[0].is_fitted());
    let left: Vec<_> = subject.measured.iter().filter(|row| !changes_with_a_kit(row.what)).cloned().collect();
    assert!(left.len() > 5 && left.len() < subject.measured.len());
    assert_eq!(screen.record.bike.measured, left);
    assert_eq!(screen.findings.get(Quantity::HeadAngle), None);

    let add = |book: &mut FieldBook, value: f64| {
        let reading = reading(Quantity::HeadAngle, value, Instrument::AngleFinder);
        book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &reading, None, None))
            .unwrap()
            .output
    };
    let near = add(&mut book, (predicted.value * 10.0).round() / 10.0);
    let screen = book.read().bike_screen(id).unwrap();
    let comparison = screen.checks[0].comparison.as_ref().unwrap();
    assert!(comparison.agrees, "{}", comparison.text);
    // Angle finder: 0.2 degrees with k = 2.
    assert!((comparison.installed.u - 0.1).abs() < 1e-12);
    assert!((comparison.difference.u - predicted.u.hypot(0.1)).abs() < 1e-12);
    assert_eq!(screen.findings.get(Quantity::HeadAngle), Some(comparison.installed));

    // A reading two degrees off does not agree; struck out, it does not count.
    book.transact(Op::StrikeOut, |work| work.strike_out(near, None, "on a slope")).unwrap();
    let far = add(&mut book, ((predicted.value - 2.0) * 10.0).round() / 10.0);
    let screen = book.read().bike_screen(id).unwrap();
    let comparison = screen.checks[0].comparison.as_ref().unwrap();
    assert!(!comparison.agrees && comparison.text.contains("slacker than predicted"), "{}", comparison.text);

    // The kit is removed: the bike is in its original state, and the comparison stays.
    book.transact(Op::RemoveKit, |work| work.remove_kit(kept)).unwrap();
    let screen = book.read().bike_screen(id).unwrap();
    assert_eq!(screen.record.bike, subject);
    assert!(screen.checks[0].removed_at.is_some() && screen.checks[0].comparison.is_some());
    assert!(screen.log.iter().any(|row| row.id == far && row.since == Some(kept) && row.place.is_none()));
}

#[test]
fn a_kit_that_was_not_looked_at_cannot_be_chosen() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let subject = demo(7);
    let id = book.transact(Op::AddBike, |work| work.add_bike(&subject, None)).unwrap().output;
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue").unwrap();
    let instruments = Instruments::default();
    let report = check(&subject, &catalogue, &instruments, &Options::default()).unwrap();
    let checked = |sku| NewCheck {
        bike: &subject,
        report: &report,
        instruments: &instruments,
        sku,
        who: None,
        note: "",
    };
    let error =
        book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked(Some("TT-NONE")))).unwrap_err();
    assert_eq!(refused(error), "the check did not look at a kit `TT-NONE`");
    let kept = book.transact(Op::KeepCheck, |work| work.keep_check(id, &checked(None))).unwrap().output;
    let error = book.transact(Op::FitKit, |work| work.fit_kit(kept, None)).unwrap_err();
    assert_eq!(refused(error), "no kit was chosen when this check was kept");
    let error = book.transact(Op::RemoveKit, |work| work.remove_kit(kept)).unwrap_err();
    assert_eq!(refused(error), "this check's kit is not in the bike");
}

/// The user's own table of instruments changes the findings and nothing else.
#[test]
fn own_instruments() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let subject = demo(7);
    let id = book.transact(Op::AddBike, |work| work.add_bike(&subject, None)).unwrap().output;
    let mut own = Instruments::default();
    own.0.get_mut(&Instrument::Caliper).unwrap().plus_minus_mm = Some(0.2);
    let changed = book.transact(Op::ChangeSettings, |work| work.set_instruments(Some(&own))).unwrap();
    assert!(changed.changes.contains(Screen::Settings));
    assert_eq!(book.read().instruments().unwrap(), own);
    let screen = book.read().bike_screen(id).unwrap();
    assert_eq!(screen.findings, Findings::new(&subject, &own));
    assert_ne!(screen.findings, subject.findings());
    own.0.get_mut(&Instrument::Caliper).unwrap().plus_minus_mm = Some(f64::NAN);
    assert!(book.transact(Op::ChangeSettings, |work| work.set_instruments(Some(&own))).is_err());
    book.transact(Op::ChangeSettings, |work| work.set_instruments(None)).unwrap();
    assert_eq!(book.read().instruments().unwrap(), Instruments::default());
}

/// Readings that a file can contain: any quantity, matching instrument and unit, any value in range.
fn readings() -> impl Strategy<Value = Vec<Measured>> {
    let instruments = Instruments::default();
    let pairs: Vec<(Quantity, Instrument)> = Quantity::ALL
        .iter()
        .flat_map(|what| Instrument::ALL.map(|with| (*what, with)))
        .filter(|(what, with)| instruments.plus_minus(*what, *with).is_some())
        .collect();
    let one = (
        proptest::sample::select(pairs),
        0.0..1.0f64,
        0usize..3,
        proptest::option::of(0.01..0.5),
        "[ -~]{0,20}",
    );
    proptest::collection::vec(
        one.prop_map(|((what, with), part, unit, plus_minus, note)| {
            let [low, high] = quantity_info(what).plausible;
            let unit =
                if what.base_unit() == Unit::Deg { Unit::Deg } else { [Unit::Mm, Unit::Cm, Unit::In][unit] };
            let value = (low + part * (high - low)).clamp(low, high) / unit.in_base();
            let note = Some(note).filter(|note| !note.trim().is_empty());
            Measured { what, value, unit, with, plus_minus, at: None, note }
        }),
        0..40,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Readings written to the log one by one give the same findings as the same file, to the last bit; with some rows
    /// struck out, the same as the file without them.
    #[test]
    fn the_log_says_what_the_file_says(rows in readings(), strikes in proptest::collection::vec(any::<bool>(), 40)) {
        let file = Bike { measured: rows, ..bike("One") };
        prop_assume!(file.check("the file").is_ok());
        let temp_book = TempBook::new();
        let mut book = temp_book.open();
        let id = book.transact(Op::AddBike, |work| work.add_bike(&bike("One"), None)).unwrap().output;
        let written = book.transact(Op::Import, |work| {
            file.measured.iter().map(|row| work.add_measurement(id, row, None, None)).collect::<Result<Vec<_>, _>>()
        }).unwrap().output;
        let screen = book.read().bike_screen(id).unwrap();
        prop_assert_eq!(&screen.record.bike, &file);
        prop_assert_eq!(&screen.findings, &file.findings());
        let mut left = file.clone();
        left.measured.clear();
        for ((row, name), strike) in file.measured.iter().zip(&written).zip(&strikes) {
            if *strike {
                book.transact(Op::StrikeOut, |work| work.strike_out(*name, None, "so")).unwrap();
            } else {
                left.measured.push(row.clone());
            }
        }
        let screen = book.read().bike_screen(id).unwrap();
        prop_assert_eq!(&screen.findings, &left.findings());
        prop_assert_eq!(&screen.record.bike, &left);
    }
}
