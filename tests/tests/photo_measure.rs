//! Measuring on a photo against pictures, ellipses and poses computed by others (`tests/oracle/photo_measure.py`).

use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use steerwright_core::photo::measure::{Marks, measure};

fn oracle() -> Value {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/oracle/photo_measure.json");
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
}

fn marks(value: &Value) -> Marks {
    Marks::from_json(value.to_string().as_bytes(), "marks").unwrap()
}

#[derive(Default)]
struct Tally {
    count: usize,
    inside: usize,
    errors: Vec<f64>,
    us: Vec<f64>,
}

#[test]
fn look() {
    let oracle = oracle();
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    let mut refused = 0;
    let start = std::time::Instant::now();
    for (i, picture) in oracle["pictures"].as_array().unwrap().iter().enumerate() {
        let seen = match measure(&marks(&picture["marks"])) {
            Ok(seen) => seen,
            Err(refusal) => {
                println!("{i}: yaw {} {refusal}", picture["yaw"]);
                refused += 1;
                continue;
            }
        };
        if i < 3 {
            println!("{i} chi2 {:.1}/{} {:?}", seen.chi_square, seen.degrees_of_freedom, seen.doubts);
        }
        for (what, estimate) in &seen.values {
            if let Some(truth) = picture["truth"][what.name()].as_f64() {
                let tally = tallies.entry(what.name().to_owned()).or_default();
                tally.count += 1;
                let off = estimate.value - truth;
                tally.inside += usize::from(off.abs() <= 2.0 * estimate.u);
                tally.errors.push(off);
                tally.us.push(estimate.u);
            }
        }
    }
    println!("refused {refused} {:?}", start.elapsed());
    for (name, t) in tallies {
        let n = t.count as f64;
        println!(
            "{name:24} n {} cover {:.3} rms {:.3} bias {:.3} u {:.3} worst {:.3}",
            t.count,
            t.inside as f64 / n,
            (t.errors.iter().map(|e| e * e).sum::<f64>() / n).sqrt(),
            t.errors.iter().sum::<f64>() / n,
            (t.us.iter().map(|e| e * e).sum::<f64>() / n).sqrt(),
            t.errors.iter().fold(0.0f64, |a, b| a.max(b.abs())),
        );
    }
    for picture in oracle["turned"].as_array().unwrap() {
        println!("{} {:?}", picture["yaw"], measure(&marks(&picture["marks"])).map(|s| s.chi_square));
    }
}
