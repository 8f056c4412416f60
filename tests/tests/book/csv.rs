//! Tables for spreadsheets: round trips, every invalid cell reported, nothing written after a refusal.

use proptest::prelude::*;
use steerwright_core::bike::{Bike, ObservedSeat};
use steerwright_core::book::{
    Archived, BikeId, BikeQuery, BookError, CsvError, CsvErrors, CsvStyle, CsvTable, CsvValue, FieldBook, Op,
    Screen,
};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::{TempBook, any, bike, dump, reading};

const HEADER: &str = "bike,owner,what,value,unit,with,plus_minus,at,note\n";

fn add(book: &mut FieldBook, bike: &Bike) -> BikeId {
    book.transact(Op::AddBike, |work| work.add_bike(bike, None)).unwrap().output
}

fn all(book: &FieldBook) -> Vec<Bike> {
    let query = BikeQuery { archived: Archived::Too, limit: 500, ..BikeQuery::default() };
    let rows = book.read().bikes(&query).unwrap().rows;
    rows.iter().map(|row| book.read().bike_screen(row.id).unwrap().record.bike).collect()
}

fn refused(book: &mut FieldBook, text: &str) -> CsvErrors {
    match book.read_csv(text.as_bytes(), None, false) {
        Err(BookError::Table(errors)) => errors,
        other => panic!("{other:?}"),
    }
}

/// A bike in the form of a table's cells: trimmed texts, and no empty ones.
fn trimmed(mut bike: Bike) -> Bike {
    let tidy = |text: Option<String>| text.map(|it| it.trim().to_owned()).filter(|it| !it.is_empty());
    bike.name = bike.name.trim().to_owned();
    bike.owner = tidy(bike.owner);
    bike.measured.iter_mut().for_each(|row| row.note = tidy(row.note.take()));
    bike
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Any bike, in either style, is equal after a round trip to another book; imported again, the table adds
    /// nothing.
    #[test]
    fn there_and_back(mut one in any::bike(), sign in "[=+@＝'-]{0,3}", semicolon in any::<bool>()) {
        one.name = format!("{sign}{}", one.name.trim());
        one.owner = one.owner.map(|owner| format!("{sign}{owner}"));
        let style = if semicolon { CsvStyle::Semicolon } else { CsvStyle::Comma };
        let (from, to) = (TempBook::new(), TempBook::new());
        let mut book = from.open();
        let id = add(&mut book, &one);
        let text = book.read().csv(&[id], style).unwrap();
        let mut other = to.open();
        let outcome = other.read_csv(text.as_bytes(), Some("Wren"), false).unwrap();
        prop_assert_eq!(outcome.output.measurements_added, one.measured.len());
        prop_assert_eq!(&all(&other), &vec![trimmed(one)]);

        // Into the original book, and into the other once more: nothing new.
        for (book, temp_book) in [(&mut book, &from), (&mut other, &to)] {
            let before = dump(&temp_book.path());
            let again = book.read_csv(text.as_bytes(), None, false).unwrap();
            prop_assert!(again.changes.is_empty());
            prop_assert_eq!(again.output.bikes_known, 1);
            prop_assert_eq!(dump(&temp_book.path()), before);
        }
        other.undo().unwrap().unwrap();
        prop_assert_eq!(all(&other), vec![]);
    }

    /// Any bytes are read or refused; a problem is always in an existing row.
    #[test]
    fn any_text_is_read_or_refused(text in "([a-z_;,=\"'\\r\\n\\t 0-9.-]|bike|owner|what|mm|reach){0,120}", whole in any::<bool>()) {
        let text = if whole { format!("{HEADER}{text}") } else { text };
        if let Ok(table) = CsvTable::read(text.as_bytes()) {
            let lines = u64::try_from(text.matches(['\n', '\r']).count()).unwrap() + 1;
            for error in table.errors.errors() {
                prop_assert!(error.row.is_some_and(|row| row > 1 && row <= lines), "{error}");
            }
            prop_assert_eq!(table.errors.is_empty(), table.bad_rows == 0);
        }
    }
}

#[test]
fn every_kind_of_sheet() {
    let rows = |sep: char, value: &str, end: &str| {
        let lines = [
            "bike|owner|what|value|unit|with|plus_minus|at|note".to_owned(),
            format!(
                "Hire 1|Larch Hollow|head_tube_length|{value}|mm|caliper|||\"first; \"\"second\"\", third\""
            ),
            "Hire 1|Larch Hollow|upper_seat|thin_lip|||||".to_owned(),
            "|||||||||".chars().take(8).collect(),
            "Hire 2||||||||".to_owned(),
        ];
        lines.map(|line| line.replace('|', &sep.to_string())).join(end)
    };
    let mut plain = None;
    for (sep, value) in [(',', "112.5"), (';', "112,5"), (';', "112.5"), ('\t', "112,5")] {
        for end in ["\n", "\r\n", "\r"] {
            for mark in ["", "\u{feff}"] {
                let temp_book = TempBook::new();
                let mut book = temp_book.open();
                let text = format!("{mark}{}{end}", rows(sep, value, end));
                let outcome = book.read_csv(text.as_bytes(), Some("Wren"), false).unwrap();
                assert!(outcome.changes.contains(Screen::BikeList));
                let bikes = all(&book);
                assert_eq!(bikes.len(), 2);
                assert_eq!(bikes[0].measured[0].note.as_deref(), Some("first; \"second\", third"));
                assert_eq!(bikes[0].measured[0].value, 112.5);
                assert_eq!(bikes[0].observed.upper_seat, Some(ObservedSeat::ThinLip));
                assert!(bikes[1].measured.is_empty() && bikes[1].owner.is_none());
                assert_eq!(plain.get_or_insert(bikes.clone()), &bikes, "{sep:?} {end:?} {mark:?}");
            }
        }
    }
}

/// Columns in another order and without the optional ones.
#[test]
fn columns_in_any_order() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let text = "With,Value,unit,WHAT,bike\ncaliper,41.8,mm,upper_bearing_outer_diameter,One\n";
    book.read_csv(text.as_bytes(), None, false).unwrap();
    let expected = reading(Quantity::UpperBearingOuterDiameter, 41.8, Instrument::Caliper);
    assert_eq!(all(&book)[0].measured, [expected]);
}

#[test]
fn every_wrong_cell_is_told_and_nothing_is_written() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    add(&mut book, &bike("Twin"));
    add(&mut book, &bike("Twin"));
    let before = dump(&temp_book.path());
    let text = format!(
        "{HEADER}\
         One,,head_tube_length,112,mm,caliper,,,good\n\
         One,,head_tube_lenght,112,mm,caliper,,,\n\
         ,,head_tube_length,11.2,mm,calliper,-1,yesterday,\n\
         One,,upper_seat,drop-in,mm,,,,\n\
         One,,head_angle,\"66,4\",deg,caliper,,,\n\
         One,,reach,1\n\
         Twin,,reach,450,mm,tape,,,\n\
         \"One\nTwo\",,reach,450,mm,tape,,,\n\
         One,,dual_crown,true,,,,,\n\
         One,,dual_crown,false,,,,,\n\
         One,,reach,NaN,mm,tape,inf,,\n"
    );
    let errors = refused(&mut book, &text);
    let told: Vec<String> = errors.errors().iter().map(ToString::to_string).collect();
    let expected = [
        "row 3, column `what`: \"head_tube_lenght\"; expected a quantity of the measuring guide such as \
         head_tube_length, or a field of `observed`; did you mean head_tube_length?",
        "row 4, column `bike`: nothing; expected the bike's name.",
        "row 4, column `with`: \"calliper\"; expected one of caliper, bore_gauge, steel_rule, tape, phone_level, \
         angle_finder, maker_sheet, photo, eye; did you mean caliper?",
        "row 5, column `unit`: \"mm\"; expected nothing, since upper_seat is looked at and not measured.",
        "row 5, column `value`: \"drop-in\"; expected one of drop_in, thin_lip, external_cup, not_seen; did you mean \
         drop_in?",
        "row 6, column `value`: \"66,4\"; expected a number such as 41.8; did you mean 66.4?",
        "row 7: the row has 4 cells; expected 9, as the first line has.",
        "row 8, column `bike`: the book has several bikes called \"Twin\"; expected a name and owner that only one \
         bike has.",
        "row 9, column `bike`: \"One\\nTwo\"; expected 1 to 120 plain characters.",
        "row 11, column `value`: another value than in a row before; expected one value for each thing that is \
         looked at.",
        "row 12, column `value`: \"NaN\"; expected a number such as 41.8.",
        "row 12, column `plus_minus`: \"inf\"; expected a number such as 41.8.",
    ];
    assert_eq!(told, expected);
    assert_eq!(dump(&temp_book.path()), before);

    // Invalid values are reported by the bike file's own checks, with the table's columns.
    let errors =
        refused(&mut book, &format!("{HEADER}One,,head_tube_length,11.2,mm,phone_level,-1,yesterday,\n"));
    let columns: Vec<&str> = errors.errors().iter().filter_map(|error| error.column.as_deref()).collect();
    assert_eq!(columns, ["at", "plus_minus", "with", "value"]);
    assert_eq!(errors.errors()[3].did_you_mean.as_deref(), Some("11.2 cm"));
    assert_eq!(dump(&temp_book.path()), before);

    // Only the valid rows, if requested.
    let outcome = book.read_csv(text.as_bytes(), None, true).unwrap();
    assert_eq!((outcome.output.bikes_added, outcome.output.measurements_added), (1, 1));
    assert_eq!((outcome.output.left_out, outcome.output.errors.errors().len()), (9, expected.len()));
    let one = all(&book).into_iter().find(|bike| bike.name == "One").unwrap();
    assert_eq!((one.measured.len(), one.observed.dual_crown), (1, Some(true)));
    book.undo().unwrap().unwrap();
    assert_eq!(dump(&temp_book.path()), before);
}

#[test]
fn a_first_line_that_names_no_columns_is_refused_in_any_case() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let before = dump(&temp_book.path());
    let cases: [(&[u8], &str); 6] = [
        (b"", "there is nothing in the table; expected a first line with the columns' names."),
        (
            b"bike,what,value,unit,wiht\n",
            "row 1, column `wiht`: is no column of this table; expected one of bike, owner, what, value, unit, with, plus_minus, at, note; did you mean with?\nrow 1, column `with`: is missing; expected it in the first line.",
        ),
        (
            b"bike,bike,what,value,unit,with\n",
            "row 1, column `bike`: is there twice; expected each column once.",
        ),
        (
            b"bike,what,value,unit,with\n\xe9,,,,\n",
            "line 2 is no UTF-8 text; expected a table saved as CSV UTF-8.",
        ),
        (
            b"PK\x03\x04\x14\0\0\0",
            "row 1, column `PK\\u{3}\\u{4}\\u{14}\\u{0}\\u{0}\\u{0}`: is no column of this table; expected one of bike, owner, what, value, unit, with, plus_minus, at, note.",
        ),
        (b"One;Two", "row 1, column `One;Two`: is no column"),
    ];
    for (bytes, expected) in cases {
        for partial in [false, true] {
            match book.read_csv(bytes, None, partial) {
                Err(BookError::Table(errors)) => {
                    assert!(errors.to_string().starts_with(expected), "{errors}");
                }
                other => panic!("{other:?}"),
            }
        }
    }
    assert_eq!(dump(&temp_book.path()), before);
}

/// Texts that a spreadsheet would execute are escaped; negative numbers stay numbers.
#[test]
fn nothing_in_a_table_is_a_formula() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let mut one = bike("=HYPERLINK(\"x\")");
    one.owner = Some("@crew".into());
    let drop = reading(Quantity::BottomBracketDrop, -12.5, Instrument::Tape);
    one.measured = vec![steerwright_core::bike::Measurement { note: Some("-1+1".into()), ..drop }];
    let id = add(&mut book, &one);
    let text = book.read().csv(&[id], CsvStyle::Comma).unwrap();
    assert_eq!(
        text,
        "\u{feff}bike,owner,what,value,unit,with,plus_minus,at,note\r\n\
         \"'=HYPERLINK(\"\"x\"\")\",'@crew,bottom_bracket_drop,-12.5,mm,tape,,,'-1+1\r\n"
    );
    let text = book.read().csv_of_all(CsvStyle::Semicolon).unwrap();
    assert!(text.contains(";bottom_bracket_drop;-12,5;mm;tape;"), "{text}");
}

/// Invalid rows of the log are not exported; a bike without data has one row.
#[test]
fn what_a_table_holds() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let mut one = bike("One");
    one.measured = vec![
        reading(Quantity::Reach, 450.0, Instrument::Tape),
        reading(Quantity::Reach, 45.0 * 10.0 + 1.0, Instrument::Tape),
    ];
    let id = add(&mut book, &one);
    add(&mut book, &bike("Two"));
    let away = add(&mut book, &bike("Away"));
    book.transact(Op::ArchiveBike, |work| work.archive_bike(away)).unwrap();
    let row = book.read().bike_screen(id).unwrap().log[0].id;
    book.transact(Op::StrikeOut, |work| work.strike_out(row, None, "slip")).unwrap();
    let text = book.read().csv_of_all(CsvStyle::Comma).unwrap();
    let lines: Vec<&str> = text.lines().skip(1).collect();
    assert_eq!(lines, ["One,,reach,451,mm,tape,,,", "Two,,,,,,,,"]);
    // A reading that was struck out is not restored by a table.
    let table =
        format!("{HEADER}One,,reach,450,mm,tape,,,\nOne,,reach,451,mm,tape,,,\nOne,,reach,451,mm,tape,,,\n");
    let told = book.read_csv(table.as_bytes(), None, false).unwrap().output;
    assert_eq!((told.measurements_known, told.measurements_added), (2, 1), "the third is a second reading");
}

#[test]
fn the_limits_hold() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let large = vec![b'x'; CsvTable::MOST_BYTES + 1];
    assert!(matches!(book.read_csv(&large, None, true), Err(BookError::Table(_))));
    let mut text = HEADER.to_owned();
    text.push_str(&"One,,,,,,,,\n".repeat(CsvTable::MOST_ROWS + 1));
    assert!(refused(&mut book, &text).to_string().contains("expected at most 200000"));

    // A log that is full, row by row.
    let mut one = bike("One");
    one.measured = vec![reading(Quantity::Reach, 450.0, Instrument::Tape); Bike::MOST_MEASURED - 1];
    add(&mut book, &one);
    let before = dump(&temp_book.path());
    let text = format!("{HEADER}One,,stack,620,mm,tape,,,\nOne,,stack,621,mm,tape,,,\n");
    let errors = refused(&mut book, &text);
    assert_eq!(errors.errors().len(), 1);
    assert_eq!(errors.errors()[0].row, Some(3));
    assert_eq!(dump(&temp_book.path()), before);

    // Problems beyond a thousand are counted.
    let text = format!("{HEADER}{}", "One,,reach,450,mm,nose,,,\n".repeat(1_500));
    let errors = refused(&mut book, &text);
    assert_eq!((errors.errors().len(), errors.more()), (CsvErrors::MOST, 500));
}

/// Cell by cell and row by row as Python's csv module reads the same tables (`tests/oracle/tables.py`).
#[test]
fn cells_and_rows_as_python_reads_them() {
    let document: serde_json::Value =
        serde_json::from_str(include_str!("../../data/oracle/tables.json")).unwrap();
    let tables = document["tables"].as_array().unwrap();
    let (mut sound, mut wrong) = (0, 0);
    for table in tables {
        let (name, text) = (table["name"].as_str().unwrap(), table["text"].as_str().unwrap());
        let read = CsvTable::read(text.as_bytes()).unwrap();
        let rows = table["rows"].as_array().unwrap();
        assert_eq!(read.rows.len() + usize::try_from(read.bad_rows).unwrap(), rows.len(), "{name}");
        for row in rows {
            let number = row["row"].as_u64().unwrap();
            let cells: Vec<&str> =
                row["cells"].as_array().unwrap().iter().map(|cell| cell.as_str().unwrap().trim()).collect();
            let found = read.rows.iter().find(|found| found.row == number);
            let problems: Vec<_> =
                read.errors.errors().iter().filter(|error| error.row == Some(number)).collect();
            // An unescaped carriage return from the writer ends the row for both readers.
            if cells.len() != 9 {
                assert!(found.is_none() && problems.len() == 1, "{name}, row {number}: {problems:?}");
                wrong += 1;
            // A bike file's texts have no control characters: such a cell is reported unchanged.
            } else if let Some(broken) = cells.iter().find(|cell| cell.contains(char::is_control)) {
                assert!(found.is_none(), "{name}, row {number}");
                let shown = |error: &&&CsvError| error.found.contains(&format!("{broken:?}"));
                assert_eq!(problems.iter().filter(shown).count(), 1, "{name}, row {number}: {problems:?}");
                wrong += 1;
            } else {
                let Some(found) = found else { panic!("{name}, row {number}: {problems:?}") };
                let CsvValue::Reading(reading) = &found.what else { panic!("{name}, row {number}") };
                let owner = found.owner.as_deref().unwrap_or_default();
                let note = reading.note.as_deref().unwrap_or_default();
                assert_eq!([found.bike.as_str(), owner, note], [cells[0], cells[1], cells[8]], "{name}");
                sound += 1;
            }
        }
    }
    assert!(tables.len() == 64 && sound > 500 && wrong > 150, "{sound} {wrong}");
}

/// A tyre's size stands for its diameter; unit and tool are those of a size.
#[test]
fn a_tyre_by_its_size() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let rows = "Ash,,front_tyre_diameter,29x2.4,,,,,\nAsh,,rear_tyre_diameter,50-622,mm,maker_sheet,3,,new\n";
    book.read_csv(format!("{HEADER}{rows}").as_bytes(), None, false).unwrap();
    let measured = &all(&book)[0].measured;
    let [front, rear] = measured.as_slice() else { panic!("{measured:?}") };
    assert!((front.value - 743.9).abs() < 1e-9 && front.with == Instrument::MakerSheet, "{front:?}");
    assert!(front.plus_minus.is_some_and(|it| (6.0..8.0).contains(&it)), "{front:?}");
    assert_eq!((rear.value, rear.plus_minus), (722.0, Some(3.0)));
    assert!(rear.note.as_ref().is_some_and(|note| note.starts_with("new; size 50-622: bead seat 622 mm")));
    let wrong = "Ash,,front_tyre_diameter,31x2.4,in,tape,,,\n";
    let errors = refused(&mut book, &format!("{HEADER}{wrong}")).to_string();
    for part in ["a rim called one of 29", "nothing or mm", "nothing or maker_sheet"] {
        assert!(errors.contains(part), "{part}: {errors}");
    }
}
