//! `steerwright check`.

use crate::args::Check;
use crate::fault::Fault;
use crate::{input, output, text};
use steerwright_core::report::{CheckError, Options, check, pictures};

pub(crate) fn run(call: &Check) -> Result<(), Fault> {
    input::only_one_from_stdin([&call.bike, &call.catalogue], &call.instruments)?;
    let instruments = input::instruments(&call.instruments)?;
    let bike = input::bike(&call.bike)?;
    let catalogue = input::catalogue(&call.catalogue)?;
    let options = Options {
        direction: input::direction(&call.target),
        target: input::target(&call.target),
        only: call.kit.clone(),
    };
    let report = check(&bike, &catalogue, &instruments, &options).map_err(|error| match error {
        CheckError::NoSuchKit { .. } | CheckError::Target { .. } => Fault::Words(error.to_string()),
    })?;
    if let Some(folder) = &call.output.drawings {
        output::write_drawings(folder, &pictures(&bike, &catalogue, &instruments, &report))?;
    }
    if call.output.json {
        output::print_json(&report)
    } else {
        output::print(&text::report(&report, call.all_kits || call.kit.is_some()))
    }
}
