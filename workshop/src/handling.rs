//! `steerwright handling`.

use crate::args::Handling;
use crate::fault::Fault;
use crate::{input, output, text};
use steerwright_core::bike::Measurement;
use steerwright_core::catalogue::Catalogue;
use steerwright_core::geometry::GeometryError;
use steerwright_core::judgement::PreparedKit;
use steerwright_core::quantity::{Instrument, Quantity, Unit};
use steerwright_core::report::{HandlingError, Modification, handling, side_view_picture};

pub(crate) fn run(call: &Handling) -> Result<(), Fault> {
    let catalogue = call.catalogue.as_deref();
    input::only_one_from_stdin(
        [Some(&call.bike), call.catalogue.as_ref()].into_iter().flatten(),
        &call.instruments,
    )?;
    let instruments = input::instruments(&call.instruments)?;
    let bike = input::bike(&call.bike)?;
    for tyre in [&call.front_tyre, &call.rear_tyre].into_iter().flatten() {
        if let Some(derivation) = &tyre.derivation {
            output::remark(derivation);
        }
    }
    if let Some(question) = call.fork_offset.and_then(unusual_offset) {
        output::remark(&question);
    }
    let mut modification = Modification {
        tilt_deg: call.tilt,
        target: call.to,
        kit: None,
        axle_to_crown: call.axle_to_crown,
        fork_offset: call.fork_offset,
        front_tyre: call.front_tyre.as_ref().map(|tyre| tyre.diameter),
        rear_tyre: call.rear_tyre.as_ref().map(|tyre| tyre.diameter),
        lower_stack: call.lower_stack,
        sag: call.sag,
    };
    if let (Some(sku), Some(path)) = (&call.kit, catalogue) {
        let catalogue = input::catalogue(path)?;
        let (prepared, lower_stack) = fitted(&catalogue, sku, call.steepen)?;
        modification.kit = Some(prepared.offsets);
        modification.lower_stack = call.lower_stack.or(Some(lower_stack));
    }
    let report = handling(&bike, &instruments, &modification).map_err(|error| match error {
        HandlingError::Geometry(GeometryError::OutOfReach { .. }) => Fault::Words(format!("{error}")),
        HandlingError::NoSag | HandlingError::NotKnown { .. } | HandlingError::Geometry(_) => {
            Fault::Input(format!("{}: {error}.", call.bike.display()))
        }
    })?;
    if let Some(folder) = &call.output.drawings {
        match side_view_picture(&report) {
            Some(drawing) => output::write_drawings(folder, &[("side-view".to_owned(), drawing)])?,
            None => output::remark("no picture: the side view is not fully known yet"),
        }
    }
    if call.output.json { output::print_json(&report) } else { output::print(&text::handling(&report)) }
}

/// A question about a fork offset that forks do not have.
fn unusual_offset(mm: f64) -> Option<String> {
    let reading = Measurement {
        what: Quantity::ForkOffset,
        value: mm,
        unit: Unit::Mm,
        with: Instrument::MakerSheet,
        plus_minus: None,
        at: None,
        note: None,
    };
    reading.question()
}

/// The kit turned the right way round, and its lower stack.
pub(crate) fn fitted(catalogue: &Catalogue, sku: &str, steepen: bool) -> Result<(PreparedKit, f64), Fault> {
    let Some(kit) = catalogue.kit(sku) else {
        let nearest =
            catalogue.nearest_sku(sku).map(|near| format!("; did you mean `{near}`?")).unwrap_or_default();
        return Err(Fault::Words(format!("the catalogue has no kit `{sku}`{nearest}")));
    };
    if steepen && !kit.reversible {
        return Err(Fault::Words(format!("{sku} is made for slackening only; it cannot be turned round")));
    }
    let prepared =
        PreparedKit::new(kit, catalogue).map_err(|error| Fault::Input(format!("{sku}: {error}")))?;
    let prepared = if steepen { prepared.turned_round() } else { prepared };
    Ok((prepared, kit.lower.stack_mm))
}
