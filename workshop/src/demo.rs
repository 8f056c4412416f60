//! `steerwright demo`: the Larch Hollow demo crew fits its hire bikes, start to end, on embedded data.

use crate::args::Demo;
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use std::fs;
use std::path::Path;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::fit::Wish;
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Options, Report, check, pictures};

/// How much slacker the crew wants its bikes on the ground: what a kit of a degree and a half gives.
pub(crate) const WANTED_DEG: f64 = 1.2;

/// What the crew learns.
#[derive(Debug, Serialize)]
struct Day<'a> {
    reports: &'a [Report],
}

pub(crate) fn run(call: &Demo) -> Result<(), Fault> {
    if let Some(folder) = &call.files {
        write_files(folder)?;
    }
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json")?;
    let instruments = Instruments::default();
    let wish = Options { wish: Some(Wish::Change(WANTED_DEG)), ..Options::default() };
    let mut bikes = Vec::new();
    let mut reports = Vec::new();
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file)?;
        let report =
            check(&bike, &catalogue, &instruments, &wish).map_err(|error| Fault::Input(error.to_string()))?;
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
    if call.output.json {
        output::print_json(&Day { reports: &reports })
    } else {
        output::print(&text::demo(&reports, call.files.as_deref()))
    }
}

fn write_files(folder: &Path) -> Result<(), Fault> {
    fs::create_dir_all(folder).map_err(|error| Fault::writing(folder, error))?;
    let catalogue = [("catalogue.json", demo_catalogue_json())];
    for (file, text) in demo_bikes_json().into_iter().chain(catalogue) {
        let path = folder.join(file);
        // A bike somebody has edited is theirs.
        if path.exists() && fs::read_to_string(&path).ok().as_deref() != Some(text) {
            return Err(Fault::Words(format!(
                "{} exists and differs; name another folder or take it away",
                path.display()
            )));
        }
        output::write_file(&path, text.as_bytes())?;
    }
    output::remark(&format!("bikes and catalogue written to {}", folder.display()));
    Ok(())
}
