//! From a bike without data to a verdict, by following the list of measurements.

use std::collections::{BTreeMap, BTreeSet};
use steerwright_core::bike::{Bike, BikeSchema, Measurement, Observed, ObservedSeat, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::{TargetChange, Verdict};
use steerwright_core::quantity::{ForkPosition, Instruments, Quantity};
use steerwright_core::report::{Options, check};

/// The true readings of hire bike 01, and values for those that its file lacks: a drop-in bike with standard
/// seats.
fn truth() -> (BTreeMap<Quantity, f64>, Observed) {
    let (file, text) = demo_bikes_json()[0];
    let bike = Bike::from_json(text.as_bytes(), file).unwrap();
    let mut values: BTreeMap<_, _> =
        bike.findings().iter().map(|(what, found)| (what, found.value)).collect();
    for (what, value) in [
        (Quantity::UpperBoreDiameter, 42.0),
        (Quantity::LowerBoreDiameter, 52.1),
        (Quantity::SteererLength, 205.0),
    ] {
        values.entry(what).or_insert(value);
    }
    (values, bike.observed)
}

/// Adds one observation to a bike; the fork is out if the observation needs it.
fn look(seen: &mut Observed, what: &str, truth: &Observed) {
    match what {
        "upper_seat" => seen.upper_seat = Some(ObservedSeat::DropIn),
        "lower_seat" => seen.lower_seat = Some(ObservedSeat::DropIn),
        "frame_material" => seen.frame_material = truth.frame_material,
        "hoses_through_headset" => seen.hoses_through_headset = truth.hoses_through_headset,
        "steering_stop" => seen.steering_stop = truth.steering_stop,
        "bearings" => seen.bearings = truth.bearings,
        other => panic!("`{other}` is nothing to look at"),
    }
}

/// The list never asks twice, is never empty before the verdict, and leads to one.
#[test]
fn the_list_leads_from_nothing_to_a_verdict() {
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    let options = Options { target: Some(TargetChange::Change(1.2)), ..Options::default() };
    let (truth, seen) = truth();
    let mut bike = Bike {
        schema: BikeSchema::V1,
        name: "a bike nobody knows".to_owned(),
        owner: None,
        observed: Observed::default(),
        fitted: None,
        measured: Vec::new(),
    };
    let mut asked = BTreeSet::new();
    for _ in 0..40 {
        let report = check(&bike, &catalogue, &Instruments::default(), &options).unwrap();
        let best = &report.kits[0];
        if best.verdict != Verdict::MeasureFirst {
            assert_eq!(best.verdict, Verdict::GoesIn, "{}", best.sku);
            // What is left only narrows the head angle.
            assert!(report.measure_next.iter().all(|next| next.gain == 0.0));
            // Far fewer than the forty-eight quantities and seven observations.
            assert!((8..=20).contains(&asked.len()), "{asked:?}");
            return;
        }
        let next = report.measure_next.first().expect("something to measure while the verdict is open");
        // A seat is looked at once with the fork in and once with it out.
        let ask = (next.what.clone(), next.variant.clone());
        assert!(asked.insert(ask), "{} is asked for twice", next.what);
        if next.fork == ForkPosition::Out {
            bike.observed.fork_out = Some(true);
        }
        match Quantity::from_name(&next.what) {
            None => look(&mut bike.observed, &next.what, &seen),
            Some(what) => bike.measured.push(Measurement {
                what,
                value: *truth.get(&what).unwrap_or_else(|| panic!("{what} is not known of hire bike 01")),
                unit: what.base_unit(),
                with: next.with.unwrap(),
                plus_minus: None,
                at: None,
                note: None,
            }),
        }
    }
    panic!("no verdict after {asked:?}");
}
