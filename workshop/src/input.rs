//! Reading of input files or standard input.

use crate::args::{InstrumentArgs, TargetArgs};
use crate::fault::Fault;
use crate::output;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use steerwright_core::bike::{Bike, Measurement};
use steerwright_core::book::open_plain;
use steerwright_core::catalogue::Catalogue;
use steerwright_core::input::{FileErrors, ReadError, read_limited};
use steerwright_core::judgement::{Direction, TargetChange};
use steerwright_core::level::Table;
use steerwright_core::photogrammetry::measure::Marks;
use steerwright_core::quantity::Instruments;

/// A bike by its file, or by its name in the field book where there is no such file.
pub(crate) fn bike(path: &Path) -> Result<Bike, Fault> {
    if !is_stdin(path)
        && !path.exists()
        && let Some(bike) = crate::book::bike_named(path)?
    {
        return Ok(bike);
    }
    bike_file(path)
}

/// A bike by its file.
pub(crate) fn bike_file(path: &Path) -> Result<Bike, Fault> {
    let bike = bike_without_questions(path)?;
    for question in bike.measured.iter().filter_map(Measurement::question) {
        output::remark(&format!("{}: {question}", path.display()));
    }
    Ok(bike)
}

/// A bike by its file, without remarks on unusual values.
pub(crate) fn bike_without_questions(path: &Path) -> Result<Bike, Fault> {
    read(path, Bike::MOST_BYTES, Bike::from_json)
}

pub(crate) fn catalogue(path: &Path) -> Result<Catalogue, Fault> {
    read(path, Catalogue::MOST_BYTES, Catalogue::from_json)
}

/// Reads samples of a phone.
pub(crate) fn samples(path: &Path) -> Result<Table, Fault> {
    let (name, bytes) = bytes(path, Table::MOST_BYTES)?;
    Table::read(&bytes).map_err(|errors| Fault::Input(format!("{name}:\n{errors}")))
}

/// Reads marks on a photo.
pub(crate) fn marks(path: &Path) -> Result<Marks, Fault> {
    read(path, Marks::MOST_BYTES, Marks::from_json)
}

/// The user's table of instruments, or the built-in one.
pub(crate) fn instruments(args: &InstrumentArgs) -> Result<Instruments, Fault> {
    match &args.instruments {
        Some(path) => read(path, Instruments::MOST_BYTES, Instruments::from_json),
        None => Ok(Instruments::default()),
    }
}

/// Checks that at most one file is standard input.
pub(crate) fn only_one_from_stdin<'a>(
    paths: impl IntoIterator<Item = &'a PathBuf>,
    instruments: &'a InstrumentArgs,
) -> Result<(), Fault> {
    let own = instruments.instruments.as_ref();
    one_from_stdin(paths.into_iter().chain(own))
}

/// The same check, without a table of instruments.
pub(crate) fn one_from_stdin<'a>(paths: impl IntoIterator<Item = &'a PathBuf>) -> Result<(), Fault> {
    if paths.into_iter().filter(|path| is_stdin(path)).count() > 1 {
        return Err(Fault::Words("only one file can come from standard input (-)".to_owned()));
    }
    Ok(())
}

pub(crate) fn direction(target: &TargetArgs) -> Direction {
    if target.steepen { Direction::Steeper } else { Direction::Slacker }
}

pub(crate) fn target(target: &TargetArgs) -> Option<TargetChange> {
    target.change.map(TargetChange::Change).or(target.head_angle.map(TargetChange::HeadAngle))
}

pub(crate) fn is_stdin(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn read<T>(
    path: &Path,
    limit: usize,
    parse: impl Fn(&[u8], &str) -> Result<T, FileErrors>,
) -> Result<T, Fault> {
    let (name, bytes) = bytes(path, limit)?;
    Ok(parse(&bytes, &name)?)
}

/// The content of a file, and its name for messages.
pub(crate) fn bytes(path: &Path, limit: usize) -> Result<(String, Vec<u8>), Fault> {
    let (name, bytes) = if is_stdin(path) {
        ("standard input".to_owned(), stdin(limit))
    } else {
        let file = open_plain(path).map_err(|error| unreadable(path, error))?;
        let Some(file) = file else { return Err(not_plain(path)) };
        (path.display().to_string(), read_limited(file, limit))
    };
    let bytes = bytes.map_err(|error| match error {
        ReadError::Io(error) => unreadable(path, error),
        ReadError::TooLarge { limit } => {
            Fault::Input(format!("{name}: the file is too large; expected at most {limit} bytes."))
        }
    })?;
    Ok((name, bytes))
}

/// Standard input, which is read once: a command that makes a book for what it brings in looks at it before.
fn stdin(limit: usize) -> Result<Vec<u8>, ReadError> {
    static READ: OnceLock<Vec<u8>> = OnceLock::new();
    match READ.get() {
        Some(bytes) if bytes.len() > limit => Err(ReadError::TooLarge { limit }),
        Some(bytes) => Ok(bytes.clone()),
        None => read_limited(io::stdin().lock(), limit).inspect(|bytes| {
            let _ = READ.set(bytes.clone());
        }),
    }
}

/// A pipe or device is not opened: it might never end.
pub(crate) fn not_plain(path: &Path) -> Fault {
    if path.is_dir() {
        return unreadable(path, io::ErrorKind::IsADirectory.into());
    }
    Fault::Words(format!(
        "{} is a pipe or a device; expected a plain file, or - for standard input where the command takes it",
        path.display()
    ))
}

/// A missing file is a usage error; anything else is a system error.
pub(crate) fn unreadable(path: &Path, error: io::Error) -> Fault {
    match error.kind() {
        io::ErrorKind::NotFound => Fault::Words(format!("there is no file {}", path.display())),
        io::ErrorKind::IsADirectory => {
            Fault::Words(format!("{} is a folder; expected a file", path.display()))
        }
        _ => Fault::reading(path, error),
    }
}
