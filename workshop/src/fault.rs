//! Why a command did not answer, and the exit status that tells.

use std::path::Path;
use steerwright_core::book::BookError;
use steerwright_core::input::FileErrors;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Fault {
    /// The call's words are wrong.
    #[error("{0}")]
    Words(String),
    /// A file's content is wrong.
    #[error(transparent)]
    File(#[from] FileErrors),
    /// The input is readable but cannot be answered.
    #[error("{0}")]
    Input(String),
    /// The field book did not do it.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The machine failed us.
    #[error("{doing} {what}: {error}")]
    Machine {
        /// "reading" or "writing".
        doing: &'static str,
        /// What was read or written.
        what: String,
        /// What the system said.
        error: std::io::Error,
    },
}

impl Fault {
    /// 2: the call's words; 3: the input; 1: anything else.
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
