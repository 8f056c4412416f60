//! A book with a bike, a catalogue, photos and a shop with an agreement.

use crate::TempBook;
use std::fs;
use std::path::Path;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::book::{
    BikeId, BikeQuery, BookError, CatalogueImport, FieldBook, NewPhoto, Op, OrderId, PhotoId, Timestamp,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::{Direction, Verdict};
use steerwright_core::orders::{OrderDraft, State, Token};
use steerwright_core::photo::{BuiltIn, Limits};
use steerwright_core::protocol::wire::{Contact, Kind};
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Options, check};

/// 2026-05-02T08:00:00Z.
pub const START: Timestamp = Timestamp(1_777_708_800_000);
/// The maker of the fixture's catalogue.
pub const MAKER: &str = "Tarn & Tiller Components";

/// A book with one bike for which a kit fits.
pub struct Fixture {
    /// The book's temporary folder.
    pub temp_book: TempBook,
    /// The book.
    pub book: FieldBook,
    /// The bike.
    pub bike: BikeId,
    /// The kit that fits.
    pub sku: String,
    /// The photos of the next request.
    pub photos: Vec<PhotoId>,
}

impl Default for Fixture {
    fn default() -> Self {
        Self::new()
    }
}

/// The demo catalogue.
pub fn demo_catalogue() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap()
}

/// The first demo bike and kit with a verdict that `wanted` accepts.
pub fn subject(wanted: impl Fn(Verdict) -> bool) -> (Bike, String) {
    let catalogue = demo_catalogue();
    demo_bikes_json()
        .iter()
        .find_map(|(file, text)| {
            let bike = Bike::from_json(text.as_bytes(), file).unwrap();
            let report = check(&bike, &catalogue, &Instruments::default(), &Options::default()).ok()?;
            let kit = report.kits.into_iter().find(|kit| wanted(kit.verdict))?;
            Some((bike, kit.sku))
        })
        .unwrap()
}

impl Fixture {
    /// A book without a shop.
    pub fn new() -> Self {
        let temp_book = TempBook::new();
        let mut book = temp_book.open();
        let (bike, sku) = subject(|it| matches!(it, Verdict::GoesIn | Verdict::GoesInAfterWork));
        let bike = book.transact(Op::AddBike, |work| work.add_bike(&bike, None)).unwrap().output;
        let mut fixture = Self { temp_book, book, bike, sku, photos: Vec::new() };
        fixture.import(&demo_catalogue());
        fixture
    }

    /// A book with a shop at an unreachable address.
    pub fn with_shop() -> Self {
        let mut fixture = Self::new();
        fixture.set_shop("https://shop.example", "larch-hollow-1");
        fixture
    }

    /// Sets the shop and agrees to sending there.
    pub fn set_shop(&mut self, base: &str, token: &str) {
        let words = format!("Send my order requests to {base}.");
        self.book
            .transact(Op::ChangeSettings, |work| {
                work.set_shop(base, &Token::new(token).unwrap())?;
                work.agree_to_sending(&words, Some("Wren"))
            })
            .unwrap();
    }

    /// Imports a catalogue.
    pub fn import(&mut self, catalogue: &Catalogue) {
        let text = serde_json::to_string(catalogue).unwrap();
        let incoming =
            CatalogueImport { bytes: text.as_bytes(), file: "new.json", signature: None, allow_older: false };
        self.book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).unwrap();
    }

    /// Adds a sample photo to the bike.
    pub fn photo(&mut self, name: &str) -> PhotoId {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/photo").join(name);
        self.photo_of(&fs::read(path).unwrap())
    }

    /// Adds these bytes as a photo of the bike.
    pub fn photo_of(&mut self, bytes: &[u8]) -> PhotoId {
        let new = NewPhoto { bike: Some(self.bike), note: "seen from the left", forget_original: true };
        let added = self.book.add_photo(bytes, &Limits::default(), &BuiltIn, &new).unwrap();
        self.photos.push(added.output.id);
        added.output.id
    }

    /// A draft for the kit, with the photos.
    pub fn draft(&self) -> OrderDraft {
        OrderDraft { photos: self.photos.clone(), ..draft(self.bike, &self.sku) }
    }

    /// Queues it.
    pub fn queue(&mut self) -> OrderId {
        let draft = self.draft();
        self.book.transact(Op::Order, |work| work.queue_order(&draft)).unwrap().output
    }

    /// Closes the book and opens it again, as after a restart of the program.
    pub fn reopen(self) -> Self {
        let Self { temp_book, book, bike, sku, photos } = self;
        drop(book);
        let book = temp_book.open();
        Self { temp_book, book, bike, sku, photos }
    }

    /// State of a request.
    pub fn state(&self, id: OrderId) -> State {
        self.book.read().order(id).unwrap().order.state
    }
}

/// A draft for the kit of a fixture's bike, without photos.
fn draft(bike: BikeId, sku: &str) -> OrderDraft {
    OrderDraft {
        bike,
        maker: MAKER.into(),
        sku: sku.to_owned(),
        direction: Direction::Slacker,
        quantity: 1,
        kind: Kind::Order,
        with_parts: true,
        contact: Contact {
            name: "Wren Alderfoot".into(),
            email: Some("wren@larch-hollow.example".into()),
            phone: None,
            address: Some("The old sawmill\nLarch Hollow".into()),
        },
        note: "Ring twice at the blue door.".into(),
        photos: Vec::new(),
    }
}

/// The same for a process that opens the fixture's book: for its only bike.
///
/// # Errors
/// Those of reading.
pub fn draft_for_the_only_bike(book: &FieldBook) -> Result<OrderDraft, BookError> {
    let bike = book.read().bikes(&BikeQuery::default())?.rows[0].id;
    let (_, sku) = subject(|it| matches!(it, Verdict::GoesIn | Verdict::GoesInAfterWork));
    Ok(draft(bike, &sku))
}
