//! Errors of a command and their exit status.

use std::path::Path;
use steerwright_core::book::BookError;
use steerwright_core::input::FileErrors;

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Fault {
    /// Wrong usage.
    #[error("{0}")]
    Words(String),
    /// Invalid content of a file.
    #[error(transparent)]
    File(#[from] FileErrors),
    /// Well-formed input that cannot be processed.
    #[error("{0}")]
    Input(String),
    /// Error of the field book.
    #[error(transparent)]
    Book(#[from] BookError),
    /// Error of the operating system.
    #[error("{doing} {what}: {error}")]
    Machine {
        /// "reading" or "writing".
        doing: &'static str,
        /// The file or resource.
        what: String,
        /// The system error.
        error: std::io::Error,
    },
}

impl Fault {
    /// Exit status. 2: wrong usage; 3: invalid input; 1: anything else.
    pub(crate) fn status(&self) -> u8 {
        match self {
            Self::Words(_) => 2,
            Self::File(_) | Self::Input(_) => 3,
            Self::Book(error) => match error {
                BookError::NotFound { .. } | BookError::Refused(_) => 2,
                BookError::Invalid(_)
                | BookError::Bundle(_)
                | BookError::Table(_)
                | BookError::Photo(_)
                | BookError::Marks(_)
                | BookError::NewerFile { .. }
                | BookError::NotABook { .. } => 3,
                BookError::Corrupt { .. }
                | BookError::Busy
                | BookError::Full
                | BookError::Io { .. }
                | BookError::Cancelled
                | BookError::Internal { .. } => 1,
            },
            Self::Machine { .. } => 1,
        }
    }

    pub(crate) fn reading(path: &Path, error: std::io::Error) -> Self {
        Self::Machine { doing: "reading", what: path.display().to_string(), error }
    }

    pub(crate) fn writing(path: &Path, error: std::io::Error) -> Self {
        Self::Machine { doing: "writing", what: path.display().to_string(), error }
    }
}
