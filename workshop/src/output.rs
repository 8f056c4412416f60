//! Everything that leaves the command.

use crate::fault::Fault;
use serde::Serialize;
use std::fs;
use std::io::{self, Write};
use std::path::Path;
use steerwright_core::drawing::{Drawing, SvgOptions};

/// Prints text that may carry styles; they are left out where standard output is not a terminal or `NO_COLOR` asks
/// for it.
pub(crate) fn print(text: &str) -> Result<(), Fault> {
    written(anstream::stdout().lock().write_all(text.as_bytes()))
}

/// Prints one JSON document.
pub(crate) fn print_json<T: Serialize>(value: &T) -> Result<(), Fault> {
    let text = serde_json::to_string_pretty(value).map_err(|error| Fault::Machine {
        doing: "writing",
        what: "JSON".to_owned(),
        error: error.into(),
    })?;
    print_bytes(format!("{text}\n").as_bytes())
}

pub(crate) fn print_bytes(bytes: &[u8]) -> Result<(), Fault> {
    written(io::stdout().lock().write_all(bytes))
}

/// A reader that stopped reading (a pager closed, `head`) is no fault.
fn written(result: io::Result<()>) -> Result<(), Fault> {
    match result.and_then(|()| io::stdout().flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Fault::Machine { doing: "writing", what: "standard output".to_owned(), error }),
        Ok(()) => Ok(()),
    }
}

/// Says on standard error what is wrong.
pub(crate) fn complain(fault: &Fault) {
    // Nobody is left to tell if standard error is closed as well.
    let _ = writeln!(anstream::stderr(), "steerwright: {fault}");
}

/// A remark beside the answer, on standard error.
pub(crate) fn remark(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Writes pictures as SVG files into a folder, which is made if it is not there.
pub(crate) fn write_drawings(folder: &Path, drawings: &[(String, Drawing)]) -> Result<(), Fault> {
    fs::create_dir_all(folder).map_err(|error| Fault::writing(folder, error))?;
    for (name, drawing) in drawings {
        write_file(&folder.join(format!("{name}.svg")), drawing.to_svg(&SvgOptions::default()).as_bytes())?;
    }
    let pictures = if drawings.len() == 1 { "picture" } else { "pictures" };
    remark(&format!("{} {pictures} written to {}", drawings.len(), folder.display()));
    Ok(())
}

pub(crate) fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    fs::write(path, bytes).map_err(|error| Fault::writing(path, error))
}
