//! `steerwright demo`: the Larch Hollow demo crew checks its hire bikes, with embedded data.

use crate::args::Demo;
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use std::path::Path;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::book::{CatalogueImport, Clock, FieldBook, Op, Timestamp};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::{Direction, TargetChange, Verdict};
use steerwright_core::orders::{Order, OrderDraft, OrderScreen};
use steerwright_core::protocol::wire::{Contact, Kind, OrderRequest};
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{KitReport, Options, Report, check, pictures};

/// The change of the head angle on the ground that the crew wants, degrees: the effect of a 1.5° kit.
pub(crate) const WANTED_DEG: f64 = 1.2;

/// Results of the demo.
#[derive(Debug, Serialize)]
struct Day<'a> {
    reports: &'a [Report],
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<Asked<'a>>,
}

/// The order request in the outbox at the end.
#[derive(Debug, Serialize)]
struct Asked<'a> {
    order: &'a Order,
    request: &'a OrderRequest,
}

/// A fixed clock at 2026-05-02T08:00:00Z, with a counter instead of random numbers: the demo is reproducible.
struct ThatDay(u8);

impl Clock for ThatDay {
    fn now(&mut self) -> Timestamp {
        Timestamp(1_777_708_800_000)
    }

    fn random(&mut self) -> [u8; 10] {
        self.0 = self.0.wrapping_add(1);
        [self.0; 10]
    }
}

/// The bike for the order: preferably one whose kit fits and needs bearings too, otherwise any whose kit fits.
fn ready(reports: &[Report]) -> Option<(usize, &KitReport)> {
    let best = |report: &'_ Report| report.kits.first().is_some_and(|kit| kit.verdict == Verdict::GoesIn);
    let with_parts = |report: &'_ Report| report.kits.first().is_some_and(|kit| !kit.also_order.is_empty());
    let at = reports.iter().position(|report| best(report) && with_parts(report));
    let at = at.or_else(|| reports.iter().position(best))?;
    reports.get(at).and_then(|report| report.kits.first()).map(|kit| (at, kit))
}

/// Queues an order request for one of the bikes in a new field book in `folder`.
fn order(folder: &Path, bike: &Bike, kit: &KitReport, maker: &str) -> Result<OrderScreen, Fault> {
    let (mut book, _) = FieldBook::open(&folder.join("demo.steerbook"), Box::new(ThatDay(0)))?;
    let catalogue = demo_catalogue_json().as_bytes();
    let incoming =
        CatalogueImport { bytes: catalogue, file: "catalogue.json", signature: None, allow_older: false };
    book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming))?;
    let id = book.transact(Op::AddBike, |work| work.add_bike(bike, Some("Wren")))?.output;
    let draft = OrderDraft {
        bike: id,
        maker: maker.to_owned(),
        sku: kit.sku.clone(),
        direction: Direction::Slacker,
        quantity: 1,
        kind: Kind::Order,
        with_parts: true,
        contact: Contact {
            name: "Wren Alderfoot".to_owned(),
            email: Some("wren@larch-hollow.example".to_owned()),
            phone: None,
            address: Some("The old sawmill\nLarch Hollow".to_owned()),
        },
        note: "For the alpine week, please.".to_owned(),
        photos: Vec::new(),
    };
    let order = book.transact(Op::Order, |work| work.queue_order(&draft))?.output;
    Ok(book.read().order(order)?)
}

pub(crate) fn run(call: &Demo) -> Result<(), Fault> {
    if let Some(folder) = &call.files {
        write_files(folder)?;
    }
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json")?;
    let instruments = Instruments::default();
    let target = Options { target: Some(TargetChange::Change(WANTED_DEG)), ..Options::default() };
    let mut bikes = Vec::new();
    let mut reports = Vec::new();
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file)?;
        let report = check(&bike, &catalogue, &instruments, &target)
            .map_err(|error| Fault::Input(error.to_string()))?;
        reports.push(report);
        bikes.push(bike);
    }
    if let Some(folder) = &call.output.drawings {
        let drawings =
            bikes.iter().zip(&reports).zip(demo_bikes_json()).flat_map(|((bike, report), (file, _))| {
                let stem = file.trim_end_matches(".json");
                let of_bike = pictures(bike, &catalogue, &instruments, report).into_iter();
                of_bike.map(move |(name, drawing)| (format!("{stem}-{name}"), drawing))
            });
        output::write_drawings(folder, &drawings.collect::<Vec<_>>())?;
    }
    let asked = match ready(&reports).and_then(|(at, kit)| Some((bikes.get(at)?, kit))) {
        Some((bike, kit)) => {
            // A temporary book, so that the demo order does not enter the user's outbox.
            let folder = tempfile::tempdir().map_err(|error| Fault::writing(&std::env::temp_dir(), error))?;
            Some(order(folder.path(), bike, kit, &catalogue.maker)?)
        }
        None => None,
    };
    if call.output.json {
        let order = asked.as_ref().map(|asked| Asked { order: &asked.order, request: &asked.request });
        output::print_json(&Day { reports: &reports, order })
    } else {
        output::print(&text::demo(&reports, asked.as_ref(), call.files.as_deref()))
    }
}

fn write_files(folder: &Path) -> Result<(), Fault> {
    let catalogue = [("catalogue.json", demo_catalogue_json())];
    let files = demo_bikes_json().into_iter().chain(catalogue);
    // A bike somebody has edited is theirs: it is replaced only with --force.
    let files: Vec<_> = files.map(|(file, text)| (folder.join(file), text)).collect();
    output::write_files(folder, &files)?;
    output::remark(&format!("bikes and catalogue written to {}", folder.display()));
    Ok(())
}
