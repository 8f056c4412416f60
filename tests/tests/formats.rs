//! The file formats: what is read, what is refused and in which words.

use steerwright_core::bike::Bike;
use steerwright_core::catalogue::Catalogue;
use steerwright_core::quantity::{Instruments, Quantity};

#[test]
fn smoke() {
    let bike =
        br#"{"schema": "steerwright.bike/1", "nam": "x", "observed": {"upper_seat": "dropin", "fork_out": 3},
      "measured": [{"what": "head_tube_lenght", "value": 1, "unit": "mm", "with": "calliper"},
       {"what": "head_angle", "value": "66", "unit": "mm", "with": "caliper", "wiht": 1, "plus_minus": 1e9},
       {"value": 66, "value": 67, "unit": "deg", "at": "yesterday"}, 7]}"#;
    let errors = Bike::from_json(bike, "bike.json").unwrap_err();
    println!("{errors}");
    let catalogue = br#"{"schema": "steerwright.catalogue/1", "maker": "", "number": 0, "issued": "2026-5-1", "currency": "eur",
      "kits": [{"sku": "A", "name": "n", "tilt_deg": 9, "upper": {"seat": "IS99", "stack_mm": 1, "plane_mm": 2}, "lower": {"seat": "XX12", "stack_mm": "1", "plan_mm": 2},
        "head_tube_length_mm": [120], "price": 12, "bearings": "own"}, {}], "bearings": {}}"#;
    let errors = Catalogue::from_json(catalogue, "cat.json").unwrap_err();
    println!("{errors}");
    println!(
        "{}",
        Instruments::from_json(br#"{"calliper": {}, "tape": {"source": ""}}"#, "i.json").unwrap_err()
    );
    let good = br#"{"schema": "steerwright.bike/1", "name": "x",
      "measured": [{"what": "head_tube_length", "value": 112, "unit": "mm", "with": "steel_rule"},
       {"what": "head_tube_length", "value": 11.9, "unit": "cm", "with": "steel_rule"}]}"#;
    let bike = Bike::from_json(good, "bike.json").unwrap();
    let findings = bike.findings();
    println!("{:?} {:?}", findings.get(Quantity::HeadTubeLength), findings.disagreements());
    assert_eq!(Bike::from_json(bike.to_json().as_bytes(), "again").unwrap(), bike);
}
