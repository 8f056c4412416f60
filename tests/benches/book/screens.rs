//! The time that a screen waits for.

use std::hint::black_box;
use std::time::Instant;
use steerwright_core::bike::{Bike, Measurement};
use steerwright_core::book::{BikeEdit, BikeId, BikeQuery, FieldBook, Op, Sort};
use steerwright_core::quantity::{Instrument, Quantity, quantity_info};
use steerwright_tests::{RepeatableClock, TempBook, bike, reading};

/// Readings of each bike.
const READINGS: usize = 10;
/// Target for the wait of a screen, milliseconds.
const AIM: f64 = 5.0;

const FIRST: [&str; 12] = [
    "Larch", "Hollow", "Ridge", "Fern", "Bracken", "Ash", "Wren", "Heron", "Slate", "Moss", "Thorn", "Rowan",
];

fn one_bike(number: usize) -> Bike {
    let quantities = Quantity::ALL.iter().cycle().skip(number % Quantity::COUNT).take(READINGS);
    let rows = quantities.map(|what| {
        let [low, high] = quantity_info(*what).plausible;
        let with = if what.base_unit() == steerwright_core::quantity::Unit::Deg {
            Instrument::PhoneLevel
        } else {
            Instrument::Caliper
        };
        let note = number.is_multiple_of(7).then(|| "burr at the seam, filed".to_owned());
        Measurement { note, ..reading(*what, f64::midpoint(low, high), with) }
    });
    let name = format!("{} bike {number}", FIRST[number % FIRST.len()]);
    let owner =
        (!number.is_multiple_of(5)).then(|| format!("{} crew {}", FIRST[(number / 12) % 12], number % 40));
    Bike { owner, measured: rows.collect(), ..bike(&name) }
}

fn fill(book: &mut FieldBook, bikes: usize) -> Vec<BikeId> {
    let mut ids = Vec::new();
    for start in (0..bikes).step_by(500) {
        let some = book.transact(Op::Import, |work| {
            (start..bikes.min(start + 500))
                .map(|number| {
                    let id = work.add_bike(&one_bike(number), Some("Wren"))?;
                    let edit = BikeEdit {
                        tags: Some(vec![FIRST[number % 5].to_lowercase(), format!("row{}", number % 100)]),
                        notes: Some(format!("Came in with {} spacers and a creak.", number % 9)),
                        ..BikeEdit::default()
                    };
                    work.edit_bike(id, &edit)?;
                    Ok(id)
                })
                .collect::<Result<Vec<_>, _>>()
        });
        ids.extend(some.expect("a full book").output);
    }
    ids
}

pub(crate) fn run(bikes: usize, times: usize) {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let start = Instant::now();
    let ids = fill(&mut book, bikes);
    println!(
        "{bikes} bikes, {} measurements, {:.1} MB, made in {:.1} s",
        bikes * READINGS,
        std::fs::metadata(temp_book.path()).map_or(0.0, |file| file.len() as f64 / 1e6),
        start.elapsed().as_secs_f64()
    );
    drop(book);
    println!("{:<34} {:>9} {:>9} {:>9}  aim {AIM} ms", "", "least ms", "median", "most");
    let show = |what: &str, mut work: Box<dyn FnMut() + '_>| {
        work();
        let timed = |_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        };
        let [least, median, most] = crate::spread((0..times).map(timed).collect());
        println!(
            "{what:<34} {least:>9.3} {median:>9.3} {most:>9.3}  {}",
            if median < AIM { "met" } else { "NOT met" }
        );
    };
    let opened = || FieldBook::open(&temp_book.path(), Box::<RepeatableClock>::default()).expect("opens").0;
    // The state after the program was killed, with a write-ahead log present: so another connection keeps the book
    // open.
    let book = opened();
    show("open", Box::new(|| drop(black_box(opened()))));
    let query = |text: &str, sort| BikeQuery { text: text.to_owned(), sort, ..BikeQuery::default() };
    show(
        "open and first page",
        Box::new(|| {
            let book = opened();
            black_box(book.read().bikes(&BikeQuery::default()).expect("a page"));
        }),
    );
    let page = |query: &BikeQuery| drop(black_box(book.read().bikes(query).expect("a page")));
    for (name, sort) in [("name", Sort::Name), ("owner", Sort::Owner), ("last touched", Sort::Touched)] {
        show(&format!("first page by {name}"), Box::new(move || page(&query("", sort))));
    }
    let mut middle = query("", Sort::Name);
    for _ in 0..bikes / 100 {
        if let Some(next) = book.read().bikes(&middle).expect("a page").next {
            middle.after = Some(next);
        }
    }
    show("a page in the middle", Box::new(move || page(&middle)));
    let tagged = BikeQuery { tag: Some("row7".into()), ..BikeQuery::default() };
    show("first page of a tag", Box::new(move || page(&tagged)));
    for text in ["b", "lar", "bike 77", "heron crew 3", "burr seam", "spacers creak", "nothing of the kind"] {
        for (name, sort) in [("name", Sort::Name), ("touched", Sort::Touched)] {
            show(&format!("search {text:?} by {name}"), Box::new(move || page(&query(text, sort))));
        }
    }
    let mut at = 0;
    show(
        "one bike's screen",
        Box::new(|| {
            at = (at + 7919) % ids.len();
            black_box(book.read().bike_screen(ids[at]).expect("a bike"));
        }),
    );
}
