//! Location of the field book, and opening it.

use crate::fault::Fault;
use crate::output;
use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};
use std::hash::{BuildHasher, RandomState};
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};
use steerwright_core::book::{Clock, FieldBook, Opened, Timestamp, make_private};

/// Environment variable with the path of the default book.
const VARIABLE: &str = "STEERWRIGHT_BOOK";

/// The system's clock and random numbers.
struct Machine;

impl Clock for Machine {
    fn now(&mut self) -> Timestamp {
        let millis = |span: std::time::Duration| i64::try_from(span.as_millis()).unwrap_or(i64::MAX);
        Timestamp(match SystemTime::now().duration_since(UNIX_EPOCH) {
            Ok(since) => millis(since),
            Err(before) => -millis(before.duration()),
        })
    }

    fn random(&mut self) -> [u8; 10] {
        let mut bytes = [0; 10];
        if getrandom::fill(&mut bytes).is_err() {
            // The source worked when the book was opened. If it fails later, the hasher keys of the process
            // are used: they were drawn from the same source at process start, so the ids are still unique.
            let drawn = [RandomState::new().hash_one(0), RandomState::new().hash_one(1)];
            let drawn = drawn.iter().flat_map(|word| word.to_le_bytes());
            bytes.iter_mut().zip(drawn).for_each(|(byte, fresh)| *byte = fresh);
        }
        bytes
    }
}

fn variable() -> Option<PathBuf> {
    std::env::var_os(VARIABLE).filter(|value| !value.is_empty()).map(PathBuf::from)
}

/// Path of the book: from the argument, the environment variable, or the platform's data directory.
fn place(named: Option<PathBuf>) -> Result<PathBuf, Fault> {
    if let Some(path) = named.or_else(variable) {
        return Ok(path);
    }
    let strategy = choose_native_strategy().map_err(|_| {
        Fault::Words(format!(
            "there is no home folder to keep a field book in; name one with --book or {VARIABLE}"
        ))
    })?;
    Ok(strategy.data_dir().join("steerwright").join("field.steerbook"))
}

/// The user's book if there is one; none is made.
pub(super) fn open_if_there() -> Result<Option<FieldBook>, Fault> {
    match place(None) {
        Ok(path) if path.exists() => open(None, false).map(Some),
        _ => Ok(None),
    }
}

/// Whether there is a book, or what an interrupted recovery left of one.
pub(super) fn is_there(named: Option<&PathBuf>) -> Result<bool, Fault> {
    let path = place(named.cloned())?;
    Ok(path.exists() || halfway(&path).exists())
}

/// After an interrupted recovery, the new book still has its temporary name.
fn halfway(path: &Path) -> PathBuf {
    let mut halfway = path.as_os_str().to_owned();
    halfway.push(".recovering");
    halfway.into()
}

/// Opens the book, and tells on standard error what that meant. A book that is not there is made only if `begin`:
/// a mistyped path must not look like an empty book.
pub(crate) fn open(named: Option<PathBuf>, begin: bool) -> Result<FieldBook, Fault> {
    let default = named.is_none() && variable().is_none();
    let path = place(named)?;
    if !begin && !path.exists() && !halfway(&path).exists() {
        return Err(Fault::Words(format!(
            "there is no field book {} yet; `steerwright book new NAME` begins one with a bike, `steerwright book add FILE` \
             with a bike's file",
            path.display()
        )));
    }
    getrandom::fill(&mut [0; 1]).map_err(|error| Fault::Machine {
        doing: "reading",
        what: "random numbers of the system".to_owned(),
        error: std::io::Error::other(error.to_string()),
    })?;
    let (book, opened) = FieldBook::open(&path, Box::new(Machine))?;
    // The folder is the program's own only where nobody named another.
    if default && let Some(folder) = path.parent() {
        make_private(folder);
    }
    match opened {
        Opened::Existing => {}
        Opened::New => output::remark(&format!("a new field book was made: {}", path.display())),
        Opened::Migrated { from, to } => {
            output::remark(&format!(
                "the field book was brought from format {from} to {to}; nothing was lost"
            ));
        }
        Opened::Recovered(recovery) => output::remark(&recovery.description()),
    }
    Ok(book)
}
