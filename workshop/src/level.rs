//! `steerwright level`.

use crate::args::Level;
use crate::fault::Fault;
use crate::handling::fitted;
use crate::{input, output, text};
use std::path::Path;
use steerwright_core::bike::Bike;
use steerwright_core::geometry::Figure;
use steerwright_core::level::{LevelPriors, Phones, Session};
use steerwright_core::quantity::{Estimate, Instruments, Quantity};
use steerwright_core::report::{HandlingError, Modification, handling, level, level_change};

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
            level_change(&session, &after, phones, &known, predicted(call)?)
        }
    };
    let report = report.map_err(|error| Fault::Input(format!("{error}.")))?;
    if call.json { output::print_json(&report) } else { output::print(&text::level(&report)) }
}

fn session(path: &Path, what: Quantity) -> Result<Session, Fault> {
    let table = input::samples(path)?;
    table.session(what).map_err(|error| Fault::Input(format!("{}: {error}", path.display())))
}

/// The change of the head angle that the kit was to make.
fn predicted(call: &Level) -> Result<Option<Estimate>, Fault> {
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
    // A range that rests on usual values is no prediction to hold a measurement against.
    let change = report.change.get(&Figure::HeadAngle).filter(|_| report.assumed.is_empty());
    let change = change.map(|it| Estimate::new(it.value, it.u));
    change.map(Some).ok_or_else(|| {
        let missing = report.missing.iter().find(|it| it.result == Figure::HeadAngle);
        let mut needs: Vec<Quantity> = missing.iter().flat_map(|it| it.needs.clone()).collect();
        if needs.is_empty() {
            needs.clone_from(&report.assumed);
        }
        if needs.is_empty() {
            needs = for_a_change(&bike, &instruments);
        }
        let expected = match needs.as_slice() {
            [] => {
                "readings that agree with each other; `steerwright check` names those that do not".to_owned()
            }
            needs => {
                let names: Vec<_> = needs.iter().map(|what| what.name()).collect();
                format!("measurements of {}", names.join(", "))
            }
        };
        Fault::Input(format!(
            "{}: what the kit does to the head angle is not known; expected {expected}.",
            path.display()
        ))
    })
}

/// The readings that the side view lacks: where the head angle itself was measured, its change still follows from how the
/// frame settles on its wheels.
fn for_a_change(bike: &Bike, instruments: &Instruments) -> Vec<Quantity> {
    let any = Modification { target: Some((Figure::HeadAngle, 65.0)), ..Modification::default() };
    match handling(bike, instruments, &any) {
        // The seat tube turns with the frame, but no angle at the front follows from it.
        Err(HandlingError::NotKnown { mut needs, .. }) => {
            needs.retain(|what| *what != Quantity::SeatAngle);
            needs
        }
        _ => Vec::new(),
    }
}
