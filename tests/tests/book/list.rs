//! The list of bikes: search, order, pages.

use proptest::prelude::*;
use std::collections::BTreeSet;
use steerwright_core::bike::Bike;
use steerwright_core::book::{
    Archived, BikeEdit, BikeId, BikeQuery, BikeRow, BookError, FieldBook, Op, Sort,
};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_tests::{TempBook, bike, reading};

fn add(book: &mut FieldBook, name: &str, owner: Option<&str>, tags: &[&str], notes: &str) -> BikeId {
    let bike = Bike { owner: owner.map(str::to_owned), ..bike(name) };
    let edit = BikeEdit {
        tags: Some(tags.iter().map(|tag| (*tag).to_owned()).collect()),
        notes: Some(notes.to_owned()),
        ..BikeEdit::default()
    };
    let added = book.transact(Op::AddBike, |work| {
        let id = work.add_bike(&bike, None)?;
        work.edit_bike(id, &edit)?;
        Ok(id)
    });
    added.unwrap().output
}

fn found(book: &FieldBook, query: &BikeQuery) -> Vec<String> {
    book.read().bikes(query).unwrap().rows.into_iter().map(|row| row.name).collect()
}

fn search(book: &FieldBook, text: &str) -> Vec<String> {
    found(book, &BikeQuery { text: text.to_owned(), ..BikeQuery::default() })
}

fn small_fleet() -> (TempBook, FieldBook) {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    add(&mut book, "Hire bike 10", Some("Larch Hollow demo crew"), &["hire", "alloy"], "Lower cup creaks.");
    add(&mut book, "hire bike 9", Some("Larch Hollow demo crew"), &["hire"], "");
    add(&mut book, "Émile's", Some("Émile"), &["carbon"], "don't cut\nask first");
    add(&mut book, "Spare frame", None, &[], "ZS44/28.6 | EC34/30");
    add(&mut book, "Ångström", Some("zoë"), &["Hire"], "");
    (temp_book, book)
}

#[test]
fn words_are_found_as_they_are_typed() {
    let (_shelf, book) = small_fleet();
    assert_eq!(search(&book, ""), ["Ångström", "Émile's", "hire bike 9", "Hire bike 10", "Spare frame"]);
    for (text, names) in [
        ("h", &["Ångström", "hire bike 9", "Hire bike 10"][..]),
        ("hire", &["Ångström", "hire bike 9", "Hire bike 10"]),
        ("HIRE bik", &["hire bike 9", "Hire bike 10"]),
        ("10 larch", &["Hire bike 10"]),
        ("emile", &["Émile's"]),
        ("ÉMILE", &["Émile's"]),
        ("E\u{301}mi", &["Émile's"]),
        ("angstrom", &["Ångström"]),
        ("zoe", &["Ångström"]),
        ("creak", &["Hire bike 10"]),
        ("don't", &["Émile's"]),
        ("zs44/28.6", &["Spare frame"]),
        ("ec34 | zs44", &["Spare frame"]),
        ("alloy hire", &["Hire bike 10"]),
        ("ask cut", &["Émile's"]),
        ("reak", &[]),
        ("hire nothing", &[]),
    ] {
        assert_eq!(search(&book, text), names, "{text:?}");
    }
}

/// Text with a meaning to the search engine is treated as plain text.
#[test]
fn no_text_is_a_command() {
    let (_shelf, book) = small_fleet();
    for text in [
        "\"",
        "\"\"",
        "'",
        "*",
        "h*",
        "(",
        ")",
        "()",
        "NEAR",
        "NEAR(",
        "AND",
        "OR hire",
        "NOT hire",
        "hire AND",
        "-hire",
        "^hire",
        "+",
        "name:hire",
        "name :",
        "{name owner}: hire",
        ":",
        "\\",
        "%",
        "_",
        ";",
        "--",
        "/*",
        "\0",
        "hire\0bike",
        "\u{feff}",
        "a\"b",
        "\"hire",
        "hire\"",
        "🚲",
        "\u{301}",
        "\u{10FFFF}",
    ] {
        let page = book.read().bikes(&BikeQuery { text: text.to_owned(), ..BikeQuery::default() });
        assert!(page.is_ok(), "{text:?}: {page:?}");
    }
    assert_eq!(search(&book, "\"hire\" (bike) 9*"), ["hire bike 9"]);
    let everything = "hire ".repeat(5_000);
    assert_eq!(search(&book, &everything).len(), 3);
}

/// Notes of measurements are found, those of struck-out ones are not.
#[test]
fn the_log_s_notes_are_found() {
    let (_shelf, mut book) = small_fleet();
    let id =
        book.read().bikes(&BikeQuery { text: "spare".into(), ..BikeQuery::default() }).unwrap().rows[0].id;
    let note = Some("burr at the seam".to_owned());
    let row = steerwright_core::bike::Measurement {
        note,
        ..reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule)
    };
    let row =
        book.transact(Op::AddMeasurement, |work| work.add_measurement(id, &row, None, None)).unwrap().output;
    assert_eq!(search(&book, "seam"), ["Spare frame"]);
    book.transact(Op::StrikeOut, |work| work.strike_out(row, None, "wrong bike")).unwrap();
    assert_eq!(search(&book, "seam"), [""; 0]);
    book.undo().unwrap();
    assert_eq!(search(&book, "seam"), ["Spare frame"]);
    book.transact(Op::ArchiveBike, |work| work.archive_bike(id)).unwrap();
    assert_eq!(search(&book, "seam"), [""; 0]);
    let too = BikeQuery { text: "seam".into(), archived: Archived::Too, ..BikeQuery::default() };
    assert_eq!(found(&book, &too), ["Spare frame"]);
    let only = BikeQuery { archived: Archived::Only, ..BikeQuery::default() };
    assert_eq!(found(&book, &only), ["Spare frame"]);
}

#[test]
fn in_three_orders_and_by_tag() {
    let (_shelf, mut book) = small_fleet();
    let by = |sort| BikeQuery { sort, ..BikeQuery::default() };
    assert_eq!(
        found(&book, &by(Sort::Owner)),
        ["Émile's", "hire bike 9", "Hire bike 10", "Ångström", "Spare frame"]
    );
    assert_eq!(
        found(&book, &by(Sort::Touched)),
        ["Ångström", "Spare frame", "Émile's", "hire bike 9", "Hire bike 10"]
    );
    let nine = book.read().bikes(&by(Sort::Name)).unwrap().rows[2].id;
    let row = reading(Quantity::HeadTubeLength, 112.0, Instrument::SteelRule);
    book.transact(Op::AddMeasurement, |work| work.add_measurement(nine, &row, None, None)).unwrap();
    let first = book.read().bikes(&by(Sort::Touched)).unwrap().rows.remove(0);
    assert_eq!((first.id, first.measured, first.tags), (nine, 1, vec!["hire".to_owned()]));
    let tagged = BikeQuery { tag: Some("hire".into()), ..BikeQuery::default() };
    assert_eq!(found(&book, &tagged), ["Ångström", "hire bike 9", "Hire bike 10"]);
    let tags = book.read().tags().unwrap();
    assert_eq!(tags, [("alloy".into(), 1), ("carbon".into(), 1), ("Hire".into(), 3)]);
}

#[test]
fn a_page_has_a_size_and_a_cursor_an_order() {
    let (_shelf, book) = small_fleet();
    for limit in [0, 501] {
        let page = book.read().bikes(&BikeQuery { limit, ..BikeQuery::default() });
        assert!(matches!(page, Err(BookError::Refused(_))), "{page:?}");
    }
    let first = book.read().bikes(&BikeQuery { limit: 2, ..BikeQuery::default() }).unwrap();
    let other = BikeQuery { sort: Sort::Owner, after: first.next.clone(), ..BikeQuery::default() };
    assert!(matches!(book.read().bikes(&other), Err(BookError::Refused(_))));
    // A cursor can be passed to another process.
    let text = serde_json::to_string(&first.next).unwrap();
    assert_eq!(serde_json::from_str::<Option<steerwright_core::book::Cursor>>(&text).unwrap(), first.next);
}

/// All pages of a query in sequence.
fn all_pages(book: &FieldBook, query: &BikeQuery) -> Vec<BikeRow> {
    let mut query = query.clone();
    let mut rows = Vec::new();
    loop {
        let page = book.read().bikes(&query).unwrap();
        assert!(page.rows.len() <= query.limit);
        assert!(page.next.is_none() || page.rows.len() == query.limit);
        rows.extend(page.rows);
        match page.next {
            Some(next) => query.after = Some(next),
            None => return rows,
        }
    }
}

/// A fleet with more hits than are sorted directly, so that both search strategies are covered.
#[test]
fn pages_of_any_size_make_up_the_whole() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    book.transact(Op::Import, |work| {
        for number in 0..700u32 {
            let owner = (number % 3 > 0).then(|| format!("Crew {}", number % 7));
            let name =
                if number % 2 == 0 { format!("Bike {}", number / 4) } else { format!("frame {number}") };
            let id = work.add_bike(&Bike { owner, ..bike(&name) }, None)?;
            if number % 5 == 0 {
                work.archive_bike(id)?;
            }
            if number % 11 == 0 {
                work.edit_bike(id, &BikeEdit { tags: Some(vec!["hire".into()]), ..BikeEdit::default() })?;
            }
        }
        Ok(())
    })
    .unwrap();
    // The expected count: every word of the search is a prefix of a word of name or owner.
    let counted = |text: &str, archived: Archived| {
        let hit = |&number: &u32| {
            let owner =
                if !number.is_multiple_of(3) { format!("crew {}", number % 7) } else { String::new() };
            let kind = if number.is_multiple_of(2) { "bike" } else { "frame" };
            let own = if number.is_multiple_of(2) { number / 4 } else { number };
            let line = format!("{kind} {own} {owner}");
            let begun = |word: &str| line.split(' ').any(|other| other.starts_with(word));
            let kept = match archived {
                Archived::Not => !number.is_multiple_of(5),
                Archived::Only => number.is_multiple_of(5),
                Archived::Too => true,
            };
            kept && text.split_whitespace().all(begun)
        };
        (0..700).filter(hit).count()
    };
    for (text, archived) in [
        ("", Archived::Not),
        ("", Archived::Only),
        ("", Archived::Too),
        ("bi", Archived::Too),
        ("bi", Archived::Not),
        ("f", Archived::Only),
        ("bike 1", Archived::Too),
        ("crew 3", Archived::Too),
        ("nothing", Archived::Too),
    ] {
        let count = counted(text, archived);
        for sort in [Sort::Name, Sort::Owner, Sort::Touched] {
            let query = BikeQuery { text: text.into(), archived, sort, limit: 500, ..BikeQuery::default() };
            let whole = all_pages(&book, &query);
            assert_eq!(whole.len(), count, "{query:?}");
            let ids: BTreeSet<_> = whole.iter().map(|row| row.id).collect();
            assert_eq!(ids.len(), count, "{query:?}");
            for limit in [1, 7, 50] {
                if limit > 1 || count < 100 {
                    assert_eq!(all_pages(&book, &BikeQuery { limit, ..query.clone() }), whole, "{query:?}");
                }
            }
        }
    }
    let tagged =
        BikeQuery { tag: Some("hire".into()), archived: Archived::Too, limit: 10, ..BikeQuery::default() };
    assert_eq!(all_pages(&book, &tagged).len(), 64);
}

/// A bike added or changed between two pages does not put any other bike on both or on neither.
#[test]
fn pages_stand_still_while_the_book_changes() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    for number in 0..20 {
        add(&mut book, &format!("Bike {number}"), None, &[], "");
    }
    let query = BikeQuery { limit: 8, ..BikeQuery::default() };
    let first = book.read().bikes(&query).unwrap();
    add(&mut book, "Bike 3b", None, &[], "");
    let gone = first.rows[2].id;
    book.transact(Op::ArchiveBike, |work| work.archive_bike(gone)).unwrap();
    let rest = all_pages(&book, &BikeQuery { after: first.next, ..query });
    let names: Vec<String> = first.rows.into_iter().chain(rest).map(|row| row.name).collect();
    let expected: Vec<String> = (0..20).map(|number| format!("Bike {number}")).collect();
    assert_eq!(names, expected);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// No text is an error.
    #[test]
    fn any_text_can_be_searched_for(texts in proptest::collection::vec(any::<String>(), 12), odd in "[\"*():^+\\- NEARNOTANDOR{}a-c]{0,30}") {
        thread_local! {
            static FLEET: (TempBook, FieldBook) = small_fleet();
        }
        FLEET.with(|(_, book)| {
            for text in texts.iter().chain([&odd]) {
                let query = BikeQuery { text: text.clone(), tag: Some(text.clone()), ..BikeQuery::default() };
                prop_assert!(book.read().bikes(&query).is_ok(), "{text:?}");
                let query = BikeQuery { tag: None, ..query };
                prop_assert!(book.read().bikes(&query).is_ok(), "{text:?}");
            }
            Ok(())
        })?;
    }

    /// A bike is found by any prefix of any word of its name.
    #[test]
    fn every_beginning_finds(name in "[a-zA-Zéüñ0-9]{1,10}( [a-zA-Zéüñ0-9]{1,10}){0,3}", word in any::<usize>(), length in 1usize..10) {
        thread_local! {
            static FLEET: std::cell::RefCell<(TempBook, FieldBook)> = std::cell::RefCell::new(small_fleet());
        }
        FLEET.with(|fleet| {
            let book = &mut fleet.borrow_mut().1;
            let id = add(book, &name, None, &[], "");
            let words: Vec<&str> = name.split(' ').collect();
            let beginning: String = words[word % words.len()].chars().take(length).collect();
            let query = BikeQuery { text: beginning.to_uppercase(), limit: 500, ..BikeQuery::default() };
            let hits = all_pages(book, &query);
            prop_assert!(hits.iter().any(|row| row.id == id), "{beginning:?} of {name:?}");
            Ok(())
        })?;
    }
}
