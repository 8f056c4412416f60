//! Local measurement, not committed.
#![allow(clippy::all, missing_docs, clippy::print_stdout, clippy::unwrap_used)]
use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::time::{Duration, Instant};
use steerwright_fieldbook::*;
use steerwright_fit::bike::{Bike, BikeSchema, Measurement, Observed};
use steerwright_metrology::quantity::{Instrument, Quantity};
struct C(i64);
impl Clock for C {
    fn now(&mut self) -> Timestamp {
        self.0 += 1;
        Timestamp(1_777_622_400_000 + self.0)
    }
    fn random(&mut self) -> [u8; 10] {
        self.0 += 1;
        let mut b = [0; 10];
        b[2..].copy_from_slice(&self.0.to_be_bytes());
        b
    }
}
fn cpu() -> f64 {
    let t = std::fs::read_to_string("/proc/self/stat").unwrap();
    let f: Vec<&str> = t.rsplit(')').next().unwrap().split_whitespace().collect();
    (f[11].parse::<f64>().unwrap() + f[12].parse::<f64>().unwrap()) / 100.0
}
fn turn(mut save: impl FnMut()) -> (Vec<f64>, f64) {
    let (s, c) = (Instant::now(), cpu());
    let mut v = Vec::new();
    while s.elapsed() < Duration::from_millis(1000) {
        let t = Instant::now();
        save();
        v.push(t.elapsed().as_secs_f64() * 1e3);
    }
    let c = (cpu() - c) / v.len() as f64 * 1e3;
    (v, c)
}
fn med(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}
fn main() {
    let folder = tempfile::tempdir().unwrap();
    if let Ok(page) = std::env::var("PAGE") {
        let conn = rusqlite::Connection::open(folder.path().join("a.steerbook")).unwrap();
        conn.execute_batch(&format!("PRAGMA page_size = {page}; CREATE TABLE t (a); DROP TABLE t;")).unwrap();
    }
    let (mut book, _) = FieldBook::open(&folder.path().join("a.steerbook"), Box::new(C(0))).unwrap();
    let bike = |n| Bike {
        schema: BikeSchema::V1,
        name: format!("Bike {n}"),
        owner: None,
        observed: Observed::default(),
        measured: vec![],
    };
    let ids = book
        .transact(Op::Import, |w| {
            (0..1000).map(|n| w.add_bike(&bike(n), None)).collect::<Result<Vec<_>, _>>()
        })
        .unwrap()
        .output;
    let row = Measurement {
        what: Quantity::HeadTubeLength,
        value: 112.0,
        unit: Quantity::HeadTubeLength.base_unit(),
        with: Instrument::SteelRule,
        plus_minus: None,
        at: None,
        note: None,
    };
    let noted = Measurement { note: Some("burr at the seam".into()), ..row.clone() };
    let mut f = File::create(folder.path().join("plain")).unwrap();
    f.write_all(&vec![1; 4096 * 1000]).unwrap();
    f.sync_all().unwrap();
    let mut at = 0usize;
    let (mut ratios, mut ours, mut disks, mut cpus, mut notes) = (vec![], vec![], vec![], vec![], vec![]);
    for _ in 0..7 {
        let (v, c) = turn(|| {
            at += 1;
            book.transact(Op::AddMeasurement, |w| {
                w.add_measurement(ids[at % 1000], &row, Some("Wren"), None)
            })
            .unwrap();
        });
        let (n, _) = turn(|| {
            at += 1;
            book.transact(Op::AddMeasurement, |w| {
                w.add_measurement(ids[at % 1000], &noted, Some("Wren"), None)
            })
            .unwrap();
        });
        let (d, _) = turn(|| {
            at += 1;
            f.seek(SeekFrom::Start((at % 1000) as u64 * 4096)).unwrap();
            f.write_all(&[2; 4096]).unwrap();
            f.sync_data().unwrap();
        });
        ratios.push(v.len() as f64 / d.len() as f64);
        ours.push(med(v));
        disks.push(med(d));
        cpus.push(c);
        notes.push(med(n));
    }
    println!(
        "median save {:.3} ms, with note {:.3} ms, raw write+fdatasync {:.3} ms, rate over disk {:.2}, CPU a save {:.3} ms",
        med(ours),
        med(notes),
        med(disks),
        med(ratios),
        med(cpus)
    );
}
