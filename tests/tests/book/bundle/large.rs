//! A check that is kept is one that a bundle can carry.

use super::party::{Party, checked};
use steerwright_core::book::{BookError, BundleScope, CheckId, NewCheck, Op};
use steerwright_core::quantity::Instruments;
use steerwright_core::report::Report;

fn keep(party: &mut Party, report: &Report) -> Result<CheckId, BookError> {
    let bike = party.bikes()[0];
    let instruments = Instruments::default();
    let new =
        NewCheck { bike: &checked().0, report, instruments: &instruments, sku: None, who: None, note: "" };
    party.book.transact(Op::KeepCheck, |work| work.keep_check(bike, &new)).map(|done| done.output)
}

#[test]
fn the_largest_check_that_is_kept_goes_into_a_bundle() {
    let mut party = Party::with(1, &[]);
    let report = &checked().1;
    let kit = report.kits.first().unwrap();
    // As a bundle writes it: a text in JSON, whose quotes are escaped.
    let one = serde_json::to_string(&serde_json::to_string(kit).unwrap()).unwrap().len();
    let with = |kits| Report { kits: vec![kit.clone(); kits], ..report.clone() };
    let mut kits = (24 << 20) / one;
    let refused = keep(&mut party, &with(kits + 1)).unwrap_err();
    assert!(matches!(&refused, BookError::Refused(said) if said.id == "check.too_large"), "{refused}");
    assert!(refused.to_string().contains(&format!("the reports on {} kits", kits + 1)), "{refused}");
    let kept = loop {
        match keep(&mut party, &with(kits)) {
            Ok(kept) => break kept,
            Err(_) => kits -= kits / 100,
        }
    };
    println!("{kits} kits of {one} bytes each are kept with a check");
    assert!(kits > 1_000);
    let path = party.bundle(BundleScope::Book);
    let mut other = Party::new(2);
    assert_eq!(other.read(&path).unwrap().output.checks_added, 1);
    let bike = other.bikes()[0];
    assert_eq!(other.book.read().bike_screen(bike).unwrap().checks[0].id, kept);
    assert_eq!(other.known(), party.known());
}
