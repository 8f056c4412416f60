//! Kits that are promised to more bikes than are in stock, after the books of two people are merged.

use steerwright_core::bike::Bike;
use steerwright_core::book::{
    BundleAcceptance, BundleScope, CatalogueImport, CheckId, FieldBook, NewCheck, Op, Promise, StockClash,
};
use steerwright_core::judgement::Verdict;
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Options, Report, check};
use steerwright_tests::fixture::{MAKER, demo_catalogue, subject};
use steerwright_tests::{RepeatableClock, TempBook};

/// A catalogue by which there is this many of a kit.
fn import(book: &mut FieldBook, number: u32, sku: &str, stock: Option<u32>) {
    let mut catalogue = demo_catalogue();
    catalogue.number = number;
    catalogue.kits.iter_mut().filter(|kit| kit.sku == sku).for_each(|kit| kit.stock = stock);
    let text = serde_json::to_string(&catalogue).unwrap();
    let incoming =
        CatalogueImport { bytes: text.as_bytes(), file: "new.json", signature: None, allow_older: false };
    book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming)).unwrap();
}

struct Person {
    folder: TempBook,
    book: FieldBook,
    checked: (Bike, Report),
    sku: String,
}

impl Person {
    fn new(series: u8) -> Self {
        let folder = TempBook::new();
        let (mut book, _) = FieldBook::open(&folder.path(), Box::new(RepeatableClock::new(series))).unwrap();
        let (bike, sku) = subject(|it| matches!(it, Verdict::GoesIn | Verdict::GoesInAfterWork));
        let report = check(&bike, &demo_catalogue(), &Instruments::default(), &Options::default()).unwrap();
        import(&mut book, 20, &sku, Some(1));
        Self { folder, book, checked: (bike, report), sku }
    }

    /// Promises the kit to a bike of this name.
    fn promise(&mut self, name: &str, who: &str) -> CheckId {
        let (subject, report) = &self.checked;
        let bike = Bike { name: name.to_owned(), ..subject.clone() };
        let new = NewCheck {
            bike: &bike,
            report,
            instruments: &Instruments::default(),
            sku: Some(&self.sku),
            who: Some(who),
            note: "",
        };
        let added = self.book.transact(Op::AddBike, |work| work.add_bike(&bike, None)).unwrap().output;
        self.book.transact(Op::KeepCheck, |work| work.keep_check(added, &new)).unwrap().output
    }

    fn clashes(&self) -> Vec<StockClash> {
        self.book.read().stock_clashes().unwrap()
    }
}

#[test]
fn two_books_that_promise_the_same_last_kit_show_it_after_merging() {
    let (mut wren, mut ash) = (Person::new(1), Person::new(2));
    wren.promise("Hire bike 21", "Wren");
    let of_ash = ash.promise("Hire bike 22", "Ash");
    assert_eq!((wren.clashes(), ash.clashes()), (Vec::new(), Vec::new()), "each promises the one there is");
    let bundle = ash.folder.folder().join("ash.steerbundle");
    ash.book.write_bundle(BundleScope::Book, &bundle).unwrap();
    wren.book.read_bundle(&bundle, BundleAcceptance::default()).unwrap();
    let clashes = wren.clashes();
    let [StockClash { maker, sku, stock: 1, number: 20, promises }] = clashes.as_slice() else {
        panic!("{clashes:?}")
    };
    assert_eq!((maker.as_str(), sku), (MAKER, &wren.sku));
    let told: Vec<_> = promises
        .iter()
        .map(|Promise { name, who, quantity, .. }| (name.as_str(), who.as_deref(), *quantity))
        .collect();
    assert_eq!(told, [("Hire bike 21", Some("Wren"), 1), ("Hire bike 22", Some("Ash"), 1)]);
    let said = clashes[0].description();
    for part in ["is promised 2 times", "Hire bike 21 by Wren; Hire bike 22 by Ash", "has 1"] {
        assert!(said.contains(part), "{said}");
    }

    // Enough of them, or a stock that nobody knows, is no clash; neither is a kit that is in a bike already.
    let sku = wren.sku.clone();
    for stock in [Some(2), None] {
        import(&mut wren.book, if stock.is_some() { 21 } else { 22 }, &sku, stock);
        assert_eq!(wren.clashes(), []);
    }
    import(&mut wren.book, 23, &sku, Some(0));
    assert_eq!(wren.clashes().len(), 1);
    wren.book.transact(Op::FitKit, |work| work.fit_kit(of_ash, None)).unwrap();
    assert_eq!(wren.clashes(), []);
}
