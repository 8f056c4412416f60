//! The demo data match their table (`core/fit/data/demo/README.md`).

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::geometry::{Bicycle, SideView};
use steerwright_core::headset::End;
use steerwright_core::judgement::{BikeKnowledge, Direction, Facts, PreparedKit, Verdict, judge};
use steerwright_core::quantity::{Estimate, Quantity, propagate};

fn catalogue() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

fn bikes() -> Vec<Bike> {
    demo_bikes_json()
        .into_iter()
        .map(|(file, text)| {
            Bike::from_json(text.as_bytes(), file).unwrap_or_else(|errors| panic!("{errors}"))
        })
        .collect()
}

/// Rows of the table: bike number, kit, verdict; a row without a number continues the bike above.
fn promised() -> Vec<(usize, String, String)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/fit/data/demo/README.md");
    let text = fs::read_to_string(path).unwrap();
    let mut number = 0;
    let mut rows = Vec::new();
    for line in text.lines().filter(|line| line.contains("| TT-")) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if let Ok(bike) = cells[1].parse() {
            number = bike;
        }
        rows.push((number, cells[3].to_owned(), cells[4].to_owned()));
    }
    rows
}

#[test]
fn every_bike_gets_the_verdicts_of_the_table() {
    let (catalogue, bikes) = (catalogue(), bikes());
    let rows = promised();
    let mut wrong = Vec::new();
    for (number, sku, verdict) in &rows {
        let bike = &bikes[number - 1];
        let kit = catalogue.kits.iter().find(|kit| kit.sku == *sku).unwrap_or_else(|| panic!("{sku}"));
        let known = BikeKnowledge::new(bike, &bike.findings());
        let facts = Facts::new(&known, Direction::Slacker);
        let judgement = judge(&PreparedKit::new(kit, &catalogue).unwrap(), &facts);
        let told = match judgement.verdict {
            Verdict::GoesIn => "fits",
            Verdict::GoesInAfterWork => "fits after work",
            Verdict::MeasureFirst => "measure first",
            Verdict::WillNotGo => "does not fit",
        };
        if told != verdict {
            let answers = judgement
                .answers
                .iter()
                .map(|a| format!("{} p {:.3} {:?}", a.requirement.name(), a.p, a.state));
            let answers: Vec<String> = answers.collect();
            wrong.push(format!("bike {number}, {sku}: {told}, not {verdict}\n  {}", answers.join("\n  ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let numbers: BTreeSet<usize> = rows.iter().map(|row| row.0).collect();
    assert_eq!(numbers, (1..=12).collect(), "every bike has a row");
    let verdicts: BTreeSet<&str> = rows.iter().map(|row| row.2.as_str()).collect();
    assert_eq!(verdicts.len(), 4, "every verdict occurs: {verdicts:?}");
}

/// Readings contradict one another on bike 12 and, through the wrong sheet, nowhere else: the sheet's wrong number has
/// no second reading of its own.
#[test]
fn readings_disagree_only_where_they_are_meant_to() {
    for (index, bike) in bikes().iter().enumerate() {
        let findings = bike.findings();
        let found: BTreeSet<Quantity> = findings.disagreements().iter().map(|pair| pair.what).collect();
        let expected = if index == 11 { BTreeSet::from([Quantity::HeadTubeLength]) } else { BTreeSet::new() };
        assert_eq!(found, expected, "{}", bike.name);
        assert!(findings.unusable().is_empty(), "{}", bike.name);
    }
}

/// The side view of eleven numbers in the order below.
fn side_view(x: &[f64]) -> SideView {
    let bicycle = Bicycle {
        wheelbase: x[0],
        head_angle: x[1],
        axle_to_crown: x[2],
        fork_offset: x[3],
        lower_stack: x[4],
        head_tube_length: x[5],
        front_radius: x[6] / 2.0,
        rear_radius: x[7] / 2.0,
        chainstay: x[8],
        bottom_bracket_height: x[9],
        seat_angle: x[10],
    };
    bicycle.side_view().unwrap()
}

/// The maker's sheets follow from the measurements, except for the one wrong number of bike 11.
#[test]
fn the_sheets_agree_with_the_measurements() {
    const MEASURED: [Quantity; 11] = [
        Quantity::Wheelbase,
        Quantity::HeadAngle,
        Quantity::AxleToCrown,
        Quantity::ForkOffset,
        Quantity::LowerStack,
        Quantity::HeadTubeLength,
        Quantity::FrontTyreDiameter,
        Quantity::RearTyreDiameter,
        Quantity::ChainstayLength,
        Quantity::BottomBracketHeight,
        Quantity::SeatAngle,
    ];
    type Result = fn(&SideView) -> f64;
    const PRINTED: [(Quantity, Result); 3] = [
        (Quantity::Reach, |view| view.reach),
        (Quantity::Stack, |view| view.stack),
        (Quantity::FrontCentre, |view| view.front_centre),
    ];
    let mut wrong = Vec::new();
    for (index, bike) in bikes().iter().enumerate() {
        let findings = bike.findings();
        let inputs: Vec<Estimate> = MEASURED.iter().map(|what| findings.get(*what).unwrap()).collect();
        for (what, result) in PRINTED {
            let computed = propagate(&inputs, |x| result(&side_view(x)));
            let difference = findings.get(what).unwrap() - computed;
            // No input is worse than a millimetre or a third of a degree, so the result is not much worse.
            assert!(difference.u < 2.0, "{}: {what} {difference:?}", bike.name);
            if difference.value.abs() > 3.0 * difference.u {
                wrong.push((index + 1, what));
            }
        }
    }
    assert_eq!(wrong, [(11, Quantity::Stack)]);
}

#[test]
fn the_catalogue_is_consistent() {
    let catalogue = catalogue();
    assert_eq!((catalogue.number, catalogue.kits.len(), catalogue.bearings.len()), (12, 27, 7));
    let tilts: BTreeSet<String> = catalogue.kits.iter().map(|kit| kit.tilt_deg.to_string()).collect();
    assert_eq!(tilts.into_iter().collect::<Vec<_>>(), ["0.5", "1", "1.5", "2"]);
    let stated = catalogue.kits.iter().filter(|kit| kit.upper.offset_mm.is_some()).count();
    assert!((5..22).contains(&stated), "with and without stated offsets: {stated}");
    for kit in &catalogue.kits {
        let [short, long] = kit.head_tube_length_mm;
        let length = f64::midpoint(short, long) + kit.upper.plane_mm + kit.lower.plane_mm;
        let tilt = kit.tilt_deg.to_radians();
        let total = tilt.tan() * length;
        if let (Some(upper), Some(lower)) = (kit.upper.offset_mm, kit.lower.offset_mm) {
            // Both are rounded to 0.01 mm.
            assert!(
                (lower - upper - total).abs() <= 0.01 + 1e-9,
                "{}: {} for {total}",
                kit.sku,
                lower - upper
            );
        }
        // A drop-in throat leaves clearance for the tilted steerer: diameter over cosine, twice its axis's offset
        // there, and the running clearance of 0.5 mm on either side. Throats are some 10 mm inside the face, where the
        // axis is closer to the middle than at the bearing's offset (half the total).
        for (end, diameter) in [(End::Upper, kit.steerer.upper_mm), (End::Lower, kit.steerer.lower_mm)] {
            if let Some(throat) = kit.end(end).throat_min_mm {
                let offset = total / 2.0 - (10.0 + kit.end(end).plane_mm) * tilt.tan();
                let needed = diameter / tilt.cos() + 2.0 * offset + 2.0 * 0.5;
                let spare = throat - needed;
                assert!((0.0..3.0).contains(&spare), "{} {end:?}: {throat} for {needed}", kit.sku);
            }
        }
    }
}
