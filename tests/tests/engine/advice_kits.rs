//! A reading is valued over all kits that may still become the best.

use steerwright_core::advice::{Inquiry, NextMeasurement, OpenKit, Subject, measure_next, next};
use steerwright_core::bike::{Bike, Findings, Observable, Observed, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::{BikeKnowledge, Direction, PreparedKit, TargetChange, Verdict};
use steerwright_core::quantity::{Estimate, Instruments, Quantity};
use steerwright_core::report::{Options, check};

fn catalogue() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

fn demo_bike(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

fn kit(sku: &str) -> PreparedKit {
    let demo = catalogue();
    PreparedKit::new(demo.kit(sku).unwrap(), &demo).unwrap()
}

/// Of two open kits only one asks about hoses (prior 0.2), and both about a head tube on their limit. A look at the hoses
/// is worth 0.2 times that kit's share of the weights; the head tube's worth is the mean of both.
#[test]
fn a_kit_counts_by_its_chance_of_going_in() {
    let bike = demo_bike(1);
    let known = BikeKnowledge::new(&bike, &bike.findings());
    let known = known
        .seeing(Observed { hoses_through_headset: None, ..known.observed.clone() })
        .with(Quantity::HeadTubeLength, Some(Estimate::new(125.0, 1.0)));
    let (plain, ported) = (kit("TT-4180-15"), kit("TT-4180-10H"));
    let (findings, instruments) = (Findings::default(), Instruments::default());
    let inquiry = Inquiry {
        known: &known,
        findings: &findings,
        direction: Direction::Slacker,
        instruments: &instruments,
    };
    let gains = |weights: [f64; 2]| {
        let kits = [
            OpenKit { sku: "A", kit: &plain, weight: weights[0] },
            OpenKit { sku: "B", kit: &ported, weight: weights[1] },
        ];
        let list: Vec<NextMeasurement> = next(&inquiry, &kits);
        let of = |subject| list.iter().find(|next| next.subject == subject).map(|next| next.gain);
        let hoses = of(Subject::Look(Observable::HosesThroughHeadset)).unwrap();
        let length = of(Subject::Quantity(Quantity::HeadTubeLength)).unwrap();
        let words = measure_next(&inquiry, &kits);
        let look = words.iter().find(|next| next.what == "hoses_through_headset").unwrap();
        assert_eq!(look.of_kits, ["A"], "{}", look.text);
        (hoses, length)
    };
    let (even, both) = gains([0.5, 0.5]);
    assert!((even - 0.1).abs() < 1e-12, "{even}");
    let (rare, _) = gains([0.1, 0.4]);
    assert!((rare - 0.04).abs() < 1e-12, "{rare}");
    let alone = {
        let kits = [OpenKit { sku: "A", kit: &plain, weight: 0.5 }];
        let list = next(&inquiry, &kits);
        list.iter().find(|next| next.subject == Subject::Quantity(Quantity::HeadTubeLength)).unwrap().gain
    };
    assert!(both > 0.0 && both <= alone + 1e-12, "{both} {alone}");
}

/// Over the whole catalogue a reading names the kits it decides on: those with an open verdict, the best first.
#[test]
fn the_texts_name_the_kits_they_decide() {
    let options = Options { target: Some(TargetChange::Change(1.5)), ..Options::default() };
    let report = check(&demo_bike(3), &catalogue(), &Instruments::default(), &options).unwrap();
    let open: Vec<&str> = report
        .kits
        .iter()
        .take_while(|kit| kit.verdict == Verdict::MeasureFirst)
        .map(|kit| kit.sku.as_str())
        .collect();
    assert!(open.len() > 1 && !report.measure_next.is_empty(), "{open:?}");
    let mut several = 0;
    for next in &report.measure_next {
        assert!(!next.of_kits.is_empty(), "{next:?}");
        let places: Vec<usize> =
            next.of_kits.iter().map(|sku| open.iter().position(|open| open == sku).unwrap()).collect();
        assert!(places.is_sorted(), "{:?}", next.of_kits);
        assert!(next.of_kits.iter().any(|sku| next.text.contains(sku.as_str())), "{next:?}");
        several += usize::from(next.text.contains("helps to decide on"));
    }
    assert!(several > 0, "{:#?}", report.measure_next);
}

/// Nothing stands on a list whose numbers do not move.
#[test]
fn what_changes_nothing_visible_is_not_listed() {
    let mut falls = 0;
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        let mut blank = bike.clone();
        blank.measured.truncate(3);
        for bike in [bike, blank] {
            for target in [None, Some(TargetChange::Change(1.0))] {
                let options = Options { target, ..Options::default() };
                let report = check(&bike, &catalogue(), &Instruments::default(), &options).unwrap();
                for next in report.measure_next {
                    for numbers in next.text.split("falls from ").skip(1) {
                        let (from, to) = numbers.split_once(" to ").unwrap();
                        let to = to.split_once('.').unwrap().0;
                        assert_ne!(from, to, "{file}: {}", next.text);
                        falls += 1;
                    }
                }
            }
        }
    }
    assert!(falls > 50, "{falls}");
}
