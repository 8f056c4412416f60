//! Errors: an internal enum that keeps every cause, and the public one that a shell handles.

use super::{BundleProblem, CsvErrors};
use rusqlite::ErrorCode;
use std::path::PathBuf;
use steerwright_input::FileErrors;
use steerwright_metrology::ids::Id;
use steerwright_metrology::sentence::{Sentence, SentenceParam};
use steerwright_photo::PhotoError;
use steerwright_photogrammetry::measure::Refusal;

/// Why an operation of the field book failed. Every text is suitable for users.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BookError {
    /// No such row.
    #[error("there is no {what} `{name}` in this book")]
    NotFound {
        /// A bike, a measurement, a check, a photo, a catalogue.
        what: &'static str,
        /// The name or id that was looked up.
        name: String,
    },
    /// The request violates a rule of the book; nothing was changed.
    #[error("{0}")]
    Refused(Sentence),
    /// The input is invalid, with problems field by field; nothing was changed.
    #[error("{0}")]
    Invalid(FileErrors),
    /// A bundle was refused; nothing was written.
    #[error("{0}")]
    Bundle(BundleProblem),
    /// A table was refused, with all its problems; nothing was written.
    #[error("{0}")]
    Table(CsvErrors),
    /// A photo was refused; nothing was changed.
    #[error("{0}")]
    Photo(PhotoError),
    /// The marks on a photo give no result; nothing was changed.
    #[error("{0}. {remedy}", remedy = .0.remedy())]
    Marks(Refusal),
    /// The book was written by a newer version of the program. The file was not modified.
    #[error("{} was written by a newer version of Steerwright (format {found}; this one knows up to {known}); it was left as it is",
        path.display())]
    NewerFile {
        /// Its path.
        path: PathBuf,
        /// Its format.
        found: i32,
        /// The newest format that this program supports.
        known: i32,
    },
    /// The file has another format. It was not modified.
    #[error("{} is no Steerwright field book; it was left as it is", path.display())]
    NotABook {
        /// Its path.
        path: PathBuf,
    },
    /// The book is damaged. Opening it again recovers it.
    #[error("the field book is damaged ({details}); close it and open it again to save what can be read")]
    Corrupt {
        /// What was found.
        details: String,
    },
    /// Another program is writing; a retry may succeed.
    #[error("the field book is being written to by another program; try again in a moment")]
    Busy,
    /// The device is out of space; nothing was changed.
    #[error("there is no room left on this device; nothing was saved")]
    Full,
    /// The device or the operating system refused; nothing was changed.
    #[error("{doing} failed: {details}")]
    Io {
        /// The operation.
        doing: String,
        /// The system's message.
        details: String,
    },
    /// The work was cancelled; nothing was changed.
    #[error("stopped; nothing was changed")]
    Cancelled,
    /// A bug in this program; nothing was changed.
    #[error("this should not have happened, and nothing was changed: {details}")]
    Internal {
        /// Details for developers.
        details: String,
    },
}

/// Every error inside the crate.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Inner {
    #[error("no {what} {name}")]
    NotFound { what: &'static str, name: String },
    #[error("{0}")]
    Refused(Sentence),
    #[error("{0}")]
    Invalid(FileErrors),
    #[error("newer file")]
    NewerFile { path: PathBuf, found: i32, known: i32 },
    #[error("not a book")]
    NotABook { path: PathBuf },
    #[error("{0}")]
    Sqlite(#[from] rusqlite::Error),
    /// A stored value that the program cannot have written.
    #[error("{0}")]
    Stored(String),
    #[error("{doing}: {error}")]
    Io { doing: String, error: std::io::Error },
    /// An error from a caller's closure, passed through.
    #[error("{0}")]
    Caller(BookError),
}

impl Inner {
    /// A refusal by a rule, whose name is stable when its text changes.
    pub(crate) fn rule(rule: &'static str, reason: impl Into<String>) -> Self {
        Self::Refused(Sentence::new(rule, reason))
    }

    /// Adds a parameter of the sentence.
    pub(crate) fn with(self, name: &'static str, held: impl Into<SentenceParam>) -> Self {
        match self {
            Self::Refused(said) => Self::Refused(said.with(name, held)),
            other => other,
        }
    }

    /// For `map_err`: an error of the file system with the operation.
    pub(crate) fn io(doing: impl Into<String>) -> impl FnOnce(std::io::Error) -> Self {
        move |error| Self::Io { doing: doing.into(), error }
    }

    /// Whether the file itself is damaged.
    pub(crate) fn is_corrupt(&self) -> bool {
        match self {
            Self::Sqlite(error) => is_damage(error),
            Self::Stored(_) | Self::Caller(BookError::Corrupt { .. }) => true,
            _ => false,
        }
    }

    /// Whether SQLite could not parse a statement. The program's own statements are valid, so a definition of the
    /// file's tables, which is stored as text, may be damaged. An internal error from within a transaction has lost its
    /// cause, so every such error counts.
    pub(super) fn is_senseless(&self) -> bool {
        use rusqlite::{Error as E, ffi};
        match self {
            Self::Sqlite(E::SqlInputError { .. }) | Self::Caller(BookError::Internal { .. }) => true,
            Self::Sqlite(E::SqliteFailure(failure, _)) => failure.extended_code == ffi::SQLITE_ERROR,
            _ => false,
        }
    }
}

impl From<FileErrors> for Inner {
    fn from(errors: FileErrors) -> Self {
        Self::Invalid(errors)
    }
}

impl From<BookError> for Inner {
    fn from(error: BookError) -> Self {
        Self::Caller(error)
    }
}

fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::Error as E;
    match error {
        E::FromSqlConversionFailure(..)
        | E::IntegralValueOutOfRange(..)
        | E::InvalidColumnType(..)
        | E::Utf8Error(..) => true,
        E::SqliteFailure(failure, _) => {
            matches!(failure.code, ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
        }
        _ => false,
    }
}

impl From<Inner> for BookError {
    fn from(inner: Inner) -> Self {
        match inner {
            Inner::NotFound { what, name } => Self::NotFound { what, name },
            Inner::Refused(said) => Self::Refused(said),
            Inner::Invalid(errors) => Self::Invalid(errors),
            Inner::NewerFile { path, found, known } => Self::NewerFile { path, found, known },
            Inner::NotABook { path } => Self::NotABook { path },
            Inner::Stored(details) => Self::Corrupt { details },
            Inner::Caller(error) => error,
            Inner::Io { error, .. } if error.kind() == std::io::ErrorKind::StorageFull => Self::Full,
            Inner::Io { doing, error } => Self::Io { doing, details: error.to_string() },
            Inner::Sqlite(error) => sqlite(&error),
        }
    }
}

fn sqlite(error: &rusqlite::Error) -> BookError {
    let details = error.to_string();
    if is_damage(error) {
        return BookError::Corrupt { details };
    }
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => BookError::Busy,
        Some(ErrorCode::DiskFull) => BookError::Full,
        Some(
            ErrorCode::SystemIoFailure
            | ErrorCode::CannotOpen
            | ErrorCode::ReadOnly
            | ErrorCode::PermissionDenied
            | ErrorCode::OutOfMemory
            | ErrorCode::NoLargeFileSupport,
        ) => BookError::Io { doing: "reading or writing the field book".to_owned(), details },
        _ => BookError::Internal { details },
    }
}

/// An id without a row.
pub(crate) trait Missing: Id {
    /// The corresponding error.
    fn missing(&self) -> Inner {
        Inner::NotFound { what: Self::NOUN, name: self.to_string() }
    }
}

impl<T: Id> Missing for T {}
