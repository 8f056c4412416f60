//! One bike against a catalogue of thousands of kits, ranked, compared with NumPy and SciPy on the same numbers.

use crate::subject::Subject;
use rust_decimal::Decimal;
use serde_json::{Value, json};
use std::hint::black_box;
use std::io::Write;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{
    Bearing, BearingSupply, Catalogue, CatalogueSchema, Kit, KitEnd, KitSteerer,
};
use steerwright_core::geometry::{Statement, Survey, survey};
use steerwright_core::headset::{End, SeatCode};
use steerwright_core::judgement::requirement::Question;
use steerwright_core::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, Requirement, Shortlist, TargetChange, judge, shortlist,
};
use steerwright_core::quantity::{Estimate, Quantity};

/// The wanted change, degrees slacker.
const TARGET: f64 = 1.2;

/// Kits fail as they do in practice, most of them on a seat; or every seat fits and the other requirements are near
/// their limits, so that no early exit is possible.
#[derive(Clone, Copy, PartialEq)]
enum Sort {
    Mixed,
    Hard,
}

pub(crate) fn subjects() -> Vec<Subject> {
    vec![
        subject("kits: mixed 500", Sort::Mixed, 500),
        subject("kits: mixed 5000", Sort::Mixed, 5_000),
        subject("kits: mixed 20000", Sort::Mixed, 20_000),
        subject("kits: hard 500", Sort::Hard, 500),
        subject("kits: hard 5000", Sort::Hard, 5_000),
        subject("kits: hard 20000", Sort::Hard, 20_000),
    ]
}

fn subject(name: &'static str, sort: Sort, count: usize) -> Subject {
    let (known, survey) = bike();
    let facts = Facts::new(&known, Direction::Slacker);
    let catalogue = catalogue(sort, count);
    let kits: Vec<PreparedKit> =
        catalogue.kits.iter().map(|kit| PreparedKit::new(kit, &catalogue).expect("a kit")).collect();
    let target = Some(TargetChange::Change(TARGET));
    let check = check(&shortlist(&kits, &facts, &survey, target));

    // The script reads the same numbers; the file is kept until the bench ends.
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    serde_json::to_writer(
        std::io::BufWriter::new(&mut file),
        &numbers(&known, &facts, &survey, &catalogue, &kits),
    )
    .expect("JSON");
    file.flush().expect("written");
    let path = file.path().display().to_string();
    Subject {
        name,
        aim: 2.0,
        ours: Box::new(move || {
            let _kept = &file;
            black_box(shortlist(black_box(&kits), &facts, &survey, target));
            kits.len() as u64
        }),
        check: Some(check),
        peer_script: "kits.py",
        peer_args: vec![path],
    }
}

/// Sum of the bounds of every kit that may fit, and a number that depends on the order.
fn check(Shortlist { ranked, hopeless }: &Shortlist) -> f64 {
    let bounds: f64 = ranked.iter().map(|ranked| ranked.bounds.low + ranked.bounds.high).sum();
    let order = ranked.iter().map(|ranked| &ranked.kit).chain(hopeless);
    bounds + order.fold(0, |sum, kit| (sum * 31 + *kit as u64) % 10_007) as f64
}

fn bike() -> (BikeKnowledge, Survey) {
    let (file, text) = demo_bikes_json()[0];
    let bike = Bike::from_json(text.as_bytes(), file).expect("the demo bike");
    let findings = bike.findings();
    let statements: Vec<_> = findings.iter().map(|(what, estimate)| Statement { what, estimate }).collect();
    (BikeKnowledge::new(&bike, &findings), survey(&statements))
}

/// Numbers spread uniformly over 0..1 in quasi-random order; one stream per property.
fn spread(kit: usize, stream: usize) -> f64 {
    const STEPS: [f64; 4] =
        [0.618_033_988_749_894_9, 0.754_877_666_246_692_8, 0.569_840_290_998_053_3, 0.819_172_513_396_164_4];
    let step = STEPS[stream % STEPS.len()] + 0.01 * (stream / STEPS.len()) as f64;
    (kit as f64 * step + 0.37 * stream as f64).fract()
}

fn between(kit: usize, stream: usize, low: f64, high: f64) -> f64 {
    // Catalogues state tenths.
    ((low + (high - low) * spread(kit, stream)) * 10.0).round() / 10.0
}

fn catalogue(sort: Sort, count: usize) -> Catalogue {
    const PAIRS: [[&str; 2]; 12] = [
        ["IS42", "IS52"],
        ["IS41", "IS52"],
        ["IS41", "IS41"],
        ["IS47", "IS49"],
        ["IS52", "IS52"],
        ["ZS44", "ZS56"],
        ["ZS44", "EC56"],
        ["ZS44", "EC44"],
        ["EC44", "EC49"],
        ["ZS49", "EC49"],
        ["EC34", "EC34"],
        ["IS42", "IS52"],
    ];
    let kits = (0..count).map(|i| {
        let pair = if sort == Sort::Hard { 0 } else { (spread(i, 0) * PAIRS.len() as f64) as usize };
        let seat = |end: usize| PAIRS[pair][end].parse().expect("a code");
        let drop_in = PAIRS[pair].map(|code| code.starts_with("IS"));
        let tilt = [0.5, 1.0, 1.5, 2.0][(spread(i, 1) * 4.0) as usize];
        // The demo bike: head tube 112 ± 0.5, throats 36.5 and 46.5, steerer 28.6 and 39.8 with 15 mm of spacers.
        let shortest = between(i, 2, 85.0, 111.4);
        let end = |end: usize, stack: f64, throat: f64| KitEnd {
            seat: seat(end),
            stack_mm: stack,
            plane_mm: 3.0 + end as f64,
            throat_min_mm: drop_in[end].then_some(throat),
            recess_max_mm: (end == 0 && drop_in[0] && spread(i, 9) < 0.8).then(|| between(i, 8, 0.9, 3.0)),
            bore_depth_min_mm: None,
            cup_mm: None,
            offset_mm: None,
            running_clearance_mm: None,
        };
        Kit {
            sku: format!("K{i}"),
            name: String::new(),
            tilt_deg: tilt,
            reversible: true,
            upper: end(0, between(i, 3, 6.0, 16.0), between(i, 4, 33.0, 38.4)),
            lower: end(1, between(i, 5, 1.0, 12.0), between(i, 6, 43.0, 48.4)),
            head_tube_length_mm: [shortest, shortest.max(111.0) + between(i, 7, 1.5, 30.0)],
            steerer: KitSteerer { upper_mm: 28.6, lower_mm: between(i, 10, 39.5, 40.0) },
            bearings: if spread(i, 11) < 0.7 { BearingSupply::Reused } else { BearingSupply::Included },
            hoses: spread(i, 12) < 0.3,
            steering_stop: spread(i, 13) < 0.2,
            price: Decimal::new(5_000 + (spread(i, 14) * 20_000.0) as i64, 2),
            stock: None,
        }
    });
    let bearing = |sku: &str, outer_mm: f64| Bearing {
        sku: sku.to_owned(),
        outer_mm,
        inner_mm: 30.5,
        height_mm: 8.0,
        contact_deg: [45.0, 45.0],
        price: Decimal::new(2_100, 2),
    };
    Catalogue {
        schema: CatalogueSchema::V1,
        maker: "Tarn & Tiller Components".to_owned(),
        number: 12,
        issued: "2026-05-01".to_owned(),
        currency: "EUR".to_owned(),
        kits: kits.collect(),
        bearings: vec![bearing("B-418", 41.8), bearing("B-520", 52.0), bearing("B-410", 41.0)],
    }
}

fn pair(estimate: Estimate) -> [f64; 2] {
    [estimate.value, estimate.u]
}

/// Inputs of the script: the bike's numbers, and the kits' in columns; absent ones are null.
fn numbers(
    known: &BikeKnowledge,
    facts: &Facts,
    survey: &Survey,
    catalogue: &Catalogue,
    kits: &[PreparedKit],
) -> Value {
    let mut codes: Vec<SeatCode> = Vec::new();
    for code in kits.iter().flat_map(|kit| &kit.ends).map(|half| half.code) {
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    let index = |code: SeatCode| codes.iter().position(|known| *known == code);
    let chances = |end: End| {
        let chance = |code: &SeatCode| facts.posterior(end).probability_of_frame_seat(*code);
        codes.iter().map(chance).collect::<Vec<_>>()
    };
    let column = |number: &dyn Fn(&PreparedKit) -> Value| kits.iter().map(number).collect::<Vec<_>>();
    let of_end = |end: End, number: &dyn Fn(&steerwright_core::judgement::PreparedEnd) -> Value| {
        column(&|kit| number(kit.end(end)))
    };
    let first = kits.first().expect("a kit");
    let left = judge(first, facts).answers.into_iter().find_map(|answer| match answer.question {
        Question::Limit { of, .. } if answer.requirement == Requirement::SteererLength => Some(of),
        _ => None,
    });
    let length = facts.head_tube_length.expect("measured");
    let taken = first.ends[0].stack + first.ends[1].stack + length.value * first.excess;
    let left = left.expect("asked");
    let read = |what: Quantity| pair(known.get(what).expect("measured"));
    assert_eq!(catalogue.kits.len(), kits.len());
    json!({
        "bike": {
            "takes": [chances(End::Upper), chances(End::Lower)],
            "head_tube_length": pair(length),
            "steerer_diameters": facts.steerer_diameters.map(|it| pair(it.expect("measured"))),
            "steerer_free": [left.value + taken, left.u],
            "throats": [read(Quantity::UpperThroatDiameter), read(Quantity::LowerThroatDiameter)],
            "recess": read(Quantity::UpperBearingRecess),
            "hoses": facts.hoses,
            "steering_stop": facts.steering_stop,
            "size_tolerance": facts.rules.steerer_size_tolerance_mm,
            "open_at_most": facts.rules.open_at_most_mm,
            "bicycle": survey.bicycle().expect("all measured"),
            "target": TARGET,
        },
        "kits": {
            "seat_u": of_end(End::Upper, &|end| json!(index(end.code))),
            "seat_l": of_end(End::Lower, &|end| json!(index(end.code))),
            "stack_u": of_end(End::Upper, &|end| json!(end.stack)),
            "stack_l": of_end(End::Lower, &|end| json!(end.stack)),
            "throat_u": of_end(End::Upper, &|end| json!(end.throat_min)),
            "throat_l": of_end(End::Lower, &|end| json!(end.throat_min)),
            "recess": of_end(End::Upper, &|end| json!(end.recess_max)),
            "shortest": column(&|kit| json!(kit.range[0])),
            "longest": column(&|kit| json!(kit.range[1])),
            "steerer_u": column(&|kit| json!(kit.steerer[0])),
            "steerer_l": column(&|kit| json!(kit.steerer[1])),
            "excess": column(&|kit| json!(kit.excess)),
            "hoses": column(&|kit| json!(kit.hoses)),
            "steering_stop": column(&|kit| json!(kit.steering_stop)),
            "plane_u": column(&|kit| json!(kit.offsets.upper_plane)),
            "plane_l": column(&|kit| json!(kit.offsets.lower_plane)),
            "offset_u": column(&|kit| json!(kit.offsets.upper)),
            "offset_l": column(&|kit| json!(kit.offsets.lower)),
            "price": column(&|kit| json!(kit.price_cents)),
        },
    })
}
