//! Output.

use crate::fault::Fault;
use serde::Serialize;
use std::fs;
use std::io::{self, Write};
use std::path::Path;
use steerwright_core::drawing::{Drawing, SvgOptions};

/// Prints text with optional styling. Styles are removed if standard output is not a terminal or `NO_COLOR` is set.
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

/// A closed pipe (`head`, a pager that was quit) is not an error.
fn written(result: io::Result<()>) -> Result<(), Fault> {
    match result.and_then(|()| io::stdout().flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Fault::Machine { doing: "writing", what: "standard output".to_owned(), error }),
        Ok(()) => Ok(()),
    }
}

/// Prints an error to standard error.
pub(crate) fn complain(fault: &Fault) {
    // Ignored, because an error cannot be reported if standard error is closed.
    let _ = writeln!(anstream::stderr(), "steerwright: {fault}");
}

/// Prints a remark to standard error.
pub(crate) fn remark(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Writes drawings as SVG files to a folder; the folder is created if it is missing.
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
