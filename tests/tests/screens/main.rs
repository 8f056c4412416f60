//! Screens as data: view models of the demo crew's bikes, what events do, the page without a browser, and the words.

mod events;
mod german;
mod page;
mod photos;
mod views;
mod words;

use steerwright_core::book::{BikeId, BikeQuery, FieldBook};
use steerwright_core::quantity::Notation;
use steerwright_core::screens::{Context, Done, Event, Refusal, apply};
use steerwright_core::words::{Language, Words};
use steerwright_tests::TempBook;

/// A book with the demo crew's bikes, and the words of one language.
struct Bench {
    _folder: TempBook,
    book: FieldBook,
    words: Words,
    notation: Notation,
}

impl Bench {
    /// An empty book.
    fn empty() -> Self {
        Self::empty_in(Language::English)
    }

    fn empty_in(language: Language) -> Self {
        let folder = TempBook::new();
        let book = folder.open();
        Self { _folder: folder, book, words: Words::new(language), notation: Notation::of(language) }
    }

    /// With the demo crew's bikes.
    fn demo() -> Self {
        Self::demo_in(Language::English)
    }

    fn demo_in(language: Language) -> Self {
        let mut bench = Self::empty_in(language);
        bench.done(&Event::AddDemo);
        bench
    }

    fn context(&self) -> Context<'_> {
        Context { reader: self.book.read(), words: &self.words, notation: self.notation }
    }

    fn apply(&mut self, event: &Event) -> Result<Done, Refusal> {
        apply(&mut self.book, &self.words, self.notation, event)
    }

    fn done(&mut self, event: &Event) -> Done {
        self.apply(event).unwrap_or_else(|refusal| panic!("{event:?}: {refusal}"))
    }

    /// A bike by its name.
    fn id(&self, name: &str) -> BikeId {
        let query = BikeQuery { text: name.to_owned(), ..BikeQuery::default() };
        let page = self.book.read().bikes(&query).unwrap();
        page.rows.iter().find(|row| row.name == name).unwrap_or_else(|| panic!("no {name}")).id
    }

    /// Writes a reading by caliper or another tool.
    fn write(&mut self, bike: BikeId, what: &str, value: &str, tool: &str) -> Result<Done, Refusal> {
        self.apply(&reading(bike, what, value, tool))
    }
}

/// A reading in mm, or in degrees for an angle.
fn reading(bike: BikeId, what: &str, value: &str, tool: &str) -> Event {
    let unit = if what.ends_with("angle") { "deg" } else { "mm" };
    Event::WriteMeasurement {
        bike,
        what: what.to_owned(),
        value: value.to_owned(),
        unit: unit.to_owned(),
        tool: tool.to_owned(),
        as_read: false,
    }
}

/// Undoes whichever action is last.
fn last() -> Event {
    Event::Undo { expected: String::new() }
}
