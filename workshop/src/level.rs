//! `steerwright level`.

use crate::args::Level;
use crate::fault::Fault;
use crate::handling::fitted;
use crate::{input, output, text};
use std::path::Path;
use steerwright_core::geometry::Figure;
use steerwright_core::level::{LevelPriors, Phones, Session};
use steerwright_core::quantity::{Estimate, Quantity};
use steerwright_core::report::{Modification, handling, level, level_change};

pub(crate) fn run(call: &Level) -> Result<(), Fault> {
    let paths = [Some(&call.samples), call.after.as_ref(), call.bike.as_ref(), call.catalogue.as_ref()];
    input::only_one_from_stdin(paths.into_iter().flatten(), &call.instruments)?;
    let what = if call.seat_angle { Quantity::SeatAngle } else { Quantity::HeadAngle };
    let session = session(&call.samples, what)?;
    let known = LevelPriors::default();
    let report = match &call.after {
        None => level(&session, &known),
        Some(after) => {
            let after = self::session(after, what)?;
            let phones = if call.other_phone { Phones::Different } else { Phones::Same };
            level_change(&session, &after, phones, &known, foreseen(call)?)
        }
    };
    let report = report.map_err(|error| Fault::Input(format!("{error}.")))?;
    if call.json { output::print_json(&report) } else { output::print(&text::level(&report)) }
}

fn session(path: &Path, what: Quantity) -> Result<Session, Fault> {
    let table = input::samples(path)?;
    table.session(what).map_err(|error| Fault::Input(format!("{}: {error}", path.display())))
}

/// The change of the head angle predicted for the kit.
fn foreseen(call: &Level) -> Result<Option<Estimate>, Fault> {
    let (Some(path), Some(sku), Some(catalogue)) = (&call.bike, &call.kit, &call.catalogue) else {
        return Ok(None);
    };
    let instruments = input::instruments(&call.instruments)?;
    let bike = input::bike(path)?;
    let (kit, lower_stack) = fitted(&input::catalogue(catalogue)?, sku, call.steepen)?;
    let modification =
        Modification { kit: Some(kit.offsets), lower_stack: Some(lower_stack), ..Modification::default() };
    let report = handling(&bike, &instruments, &modification)
        .map_err(|error| Fault::Input(format!("{}: {error}.", path.display())))?;
    let change = report.change.get(&Figure::HeadAngle).map(|it| Estimate::new(it.value, it.u));
    change.map(Some).ok_or_else(|| {
        let missing = report.missing.iter().find(|it| it.result == Figure::HeadAngle);
        let needs: Vec<_> = missing.iter().flat_map(|it| &it.needs).map(|what| what.name()).collect();
        Fault::Input(format!(
            "{}: what the kit does to the head angle is not known; expected measurements of {}.",
            path.display(),
            needs.join(", ")
        ))
    })
}
