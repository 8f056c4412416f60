//! Output.

use crate::fault::Fault;
use serde::Serialize;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use steerwright_core::drawing::{Drawing, SvgOptions};
use steerwright_core::input::{is_hidden, printable_lines};

/// Whether files that are there may be replaced (`--force`): set once, before any command runs.
static REPLACE: AtomicBool = AtomicBool::new(false);

/// Lets files that are there be replaced.
pub(crate) fn replace_files(may: bool) {
    REPLACE.store(may, Ordering::Relaxed);
}

/// Refuses a path at which something is, unless `--force` allows it or the same bytes are there already.
pub(crate) fn may_write(path: &Path, bytes: Option<&[u8]>) -> Result<(), Fault> {
    if REPLACE.load(Ordering::Relaxed) || fs::symlink_metadata(path).is_err() {
        return Ok(());
    }
    // A pipe or device is not read: it might never end.
    let length = fs::metadata(path).ok().filter(fs::Metadata::is_file).map(|about| about.len());
    let same = bytes.is_some_and(|bytes| {
        length == Some(bytes.len() as u64) && fs::read(path).is_ok_and(|there| there == bytes)
    });
    if same {
        return Ok(());
    }
    Err(Fault::Words(format!(
        "{} exists already and would be replaced; --force replaces it, or name another file",
        path.display()
    )))
}

/// Prints text that may carry styles; they are left out where standard output is not a terminal or `NO_COLOR` asks
/// for it.
pub(crate) fn print(text: &str) -> Result<(), Fault> {
    written(anstream::stdout().lock().write_all(styled(text).as_bytes()))
}

/// Text that may carry styles, with every other hidden character escaped. The escape character is left as it is: a page
/// escapes those of its texts before it adds styles.
fn styled(text: &str) -> String {
    text.split('\u{1b}').map(printable_lines).collect::<Vec<_>>().join("\u{1b}")
}

/// A JSON document in which hidden characters are escaped, as JSON allows in texts: a terminal may show it.
fn json_escaped(json: &str) -> String {
    let mut shown = String::with_capacity(json.len());
    for c in json.chars() {
        if !c.is_ascii() && is_hidden(c) || c == '\u{7f}' {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                shown.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            shown.push(c);
        }
    }
    shown
}

/// Prints one JSON document.
pub(crate) fn print_json<T: Serialize>(value: &T) -> Result<(), Fault> {
    let text = serde_json::to_string_pretty(value).map_err(|error| Fault::Machine {
        doing: "writing",
        what: "JSON".to_owned(),
        error: error.into(),
    })?;
    print_bytes(format!("{}\n", json_escaped(&text)).as_bytes())
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
    let _ = writeln!(anstream::stderr(), "steerwright: {}", printable_lines(&fault.to_string()));
}

/// Prints a remark to standard error.
pub(crate) fn remark(text: &str) {
    let _ = writeln!(anstream::stderr(), "{}", printable_lines(text));
}

/// Writes drawings as SVG files to a folder; the folder is created if it is missing.
pub(crate) fn write_drawings(folder: &Path, drawings: &[(String, Drawing)]) -> Result<(), Fault> {
    let files: Vec<_> = drawings
        .iter()
        .map(|(name, drawing)| (folder.join(format!("{name}.svg")), drawing.to_svg(&SvgOptions::default())))
        .collect();
    write_files(folder, &files)?;
    let pictures = if drawings.len() == 1 { "picture" } else { "pictures" };
    remark(&format!("{} {pictures} written to {}", drawings.len(), folder.display()));
    Ok(())
}

/// Writes files into a folder, which is made if it is not there; none of them if one may not be written.
pub(crate) fn write_files<T: AsRef<[u8]>>(folder: &Path, files: &[(PathBuf, T)]) -> Result<(), Fault> {
    for (path, bytes) in files {
        may_write(path, Some(bytes.as_ref()))?;
    }
    fs::create_dir_all(folder).map_err(|error| Fault::writing(folder, error))?;
    files.iter().try_for_each(|(path, bytes)| write_file(path, bytes.as_ref()))
}

/// Writes a file; one that is there is replaced only with `--force`.
pub(crate) fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    may_write(path, Some(bytes))?;
    fs::write(path, bytes).map_err(|error| Fault::writing(path, error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_characters_of_json_and_text_are_escaped_on_the_way_out() {
        let value = serde_json::json!({"name": "a\u{202e}\u{e0041}\u{7f}\u{1b}é"});
        let json = json_escaped(&value.to_string());
        assert_eq!(json, r#"{"name":"a\u202e\udb40\udc41\u007f\u001bé"}"#);
        assert_eq!(serde_json::from_str::<serde_json::Value>(&json).unwrap(), value);
        assert_eq!(styled("\u{1b}[1ma\u{202e}\u{1b}[0m\n"), "\u{1b}[1ma\\u{202e}\u{1b}[0m\n");
    }
}
