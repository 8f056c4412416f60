//! What can go wrong, as a shell acts on it.

use crate::LocalizedText;
use steerwright_core::book::{BookError, CsvErrors};
use steerwright_core::input::{FileError, FileErrors};
use steerwright_core::report::{CheckError, HandlingError};

/// Why something was not done. A variant is there only where a shell acts differently; every `reason` is fit to show.
#[derive(Debug, Clone, PartialEq, thiserror::Error, uniffi::Error)]
#[uniffi::export(Display)]
pub enum SteerwrightError {
    /// What was asked for is not in the book (any more): leave its screen, refresh the list.
    #[error("{reason}")]
    NotFound {
        /// A bike, a measurement, a check, a photo, a catalogue.
        what: String,
        /// How it was asked for.
        name: String,
        /// For the user.
        reason: String,
    },
    /// A rule stands in the way; nothing was changed. Show why.
    #[error("{reason}")]
    Refused {
        /// The rule as a sentence, with a stable id and what it holds.
        text: LocalizedText,
        /// For the user.
        reason: String,
    },
    /// Fields are missing or wrong; nothing was changed. Mark them in the form.
    #[error("{reason}")]
    Invalid {
        /// Field by field.
        fields: Vec<FieldFault>,
        /// All of it for the user.
        reason: String,
    },
    /// A photo cannot be taken in. Ask for another one.
    #[error("{reason}")]
    PhotoRefused {
        /// Whether it is in a format that only the platform reads: hand in a decoder.
        needs_decoder: bool,
        /// For the user.
        reason: String,
    },
    /// Marks on a photo lead to no answer; nothing was changed. Go back to the marks, or to the camera.
    #[error("{reason}")]
    MarksRefused {
        /// What was found and what to do, with a stable id and parameters.
        text: LocalizedText,
        /// For the user.
        reason: String,
    },
    /// The readings of a level session are no angle; nothing was changed. Stay at this step.
    #[error("{reason}")]
    LevelRefused {
        /// What was found, with a stable id and parameters.
        text: LocalizedText,
        /// For the user.
        reason: String,
    },
    /// A bundle is not whole or not one; nothing was changed. Fetch it again.
    #[error("{reason}")]
    BundleRefused {
        /// For the user.
        reason: String,
    },
    /// The book is of a newer version; it was left as it is. Ask for an update of the app.
    #[error("{reason}")]
    NewerFile {
        /// For the user.
        reason: String,
    },
    /// The file is no field book; it was left as it is. Choose another.
    #[error("{reason}")]
    NotABook {
        /// For the user.
        reason: String,
    },
    /// The book is damaged. Close it and open it again: what can be read is saved then.
    #[error("{reason}")]
    Damaged {
        /// For the user.
        reason: String,
    },
    /// Another program is writing. Try again in a moment.
    #[error("{reason}")]
    Busy {
        /// For the user.
        reason: String,
    },
    /// No room on the device; nothing was changed. Ask for room to be made.
    #[error("{reason}")]
    Full {
        /// For the user.
        reason: String,
    },
    /// The device or its system refused; nothing was changed.
    #[error("{reason}")]
    Device {
        /// For the user.
        reason: String,
    },
    /// The work was stopped on request; nothing was changed. Say nothing.
    #[error("{reason}")]
    Cancelled {
        /// For the user.
        reason: String,
    },
    /// What the shell itself provides (a decoder, a watch) failed; nothing was changed.
    #[error("{reason}")]
    Shell {
        /// The shell's own words.
        reason: String,
    },
    /// A mistake in this library; nothing was changed. Report it.
    #[error("{reason}")]
    Internal {
        /// For whoever mends it.
        reason: String,
    },
}

/// One field that is missing or wrong.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct FieldFault {
    /// The field as a path, such as `contact.email`; empty for all of it.
    pub field: String,
    /// A stable id of the kind of problem: `missing`, `value`, `repeated`, `unknown`, `too_large`, `not_json`.
    pub problem: String,
    /// What was found there.
    pub found: Option<String>,
    /// What was expected.
    pub expected: String,
    /// What was probably meant.
    pub did_you_mean: Option<String>,
    /// The same in a sentence.
    pub english: String,
}

/// What a shell's own part (a sender, a decoder, a clock) throws.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, uniffi::Error)]
#[uniffi::export(Display)]
pub enum ShellError {
    /// It failed.
    #[error("{reason}")]
    Failed {
        /// Why.
        reason: String,
    },
}

impl From<uniffi::UnexpectedUniFFICallbackError> for ShellError {
    /// Anything else that a shell's code throws. Kotlin hands over where it came from as well, line by line, which is
    /// nothing to show.
    fn from(error: uniffi::UnexpectedUniFFICallbackError) -> Self {
        Self::Failed { reason: error.reason.lines().next().unwrap_or_default().to_owned() }
    }
}

impl From<ShellError> for SteerwrightError {
    fn from(ShellError::Failed { reason }: ShellError) -> Self {
        Self::Shell { reason }
    }
}

impl SteerwrightError {
    pub(crate) fn refused(id: &str, reason: impl Into<String>) -> Self {
        let reason = reason.into();
        Self::Refused { text: LocalizedText::new(id, reason.clone()), reason }
    }

    pub(crate) fn internal(reason: impl ToString) -> Self {
        Self::Internal { reason: reason.to_string() }
    }
}

fn word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|it| it.as_str().map(str::to_owned)).unwrap_or_default()
}

fn field(error: &FileError) -> FieldFault {
    FieldFault {
        field: error.field.clone(),
        problem: word(&error.problem),
        found: error.found.clone(),
        expected: error.expected.clone(),
        did_you_mean: error.did_you_mean.clone(),
        english: error.to_string(),
    }
}

fn rows(errors: &CsvErrors) -> Vec<FieldFault> {
    // A table's places are lines and columns; in words they are enough for a phone, which only imports tables rarely.
    vec![FieldFault {
        field: String::new(),
        problem: "value".to_owned(),
        found: None,
        expected: String::new(),
        did_you_mean: None,
        english: errors.to_string(),
    }]
}

impl From<FileErrors> for SteerwrightError {
    fn from(errors: FileErrors) -> Self {
        Self::Invalid { fields: errors.errors().iter().map(field).collect(), reason: errors.to_string() }
    }
}

impl From<BookError> for SteerwrightError {
    fn from(error: BookError) -> Self {
        use steerwright_core::photo::PhotoError;
        let reason = error.to_string();
        match error {
            BookError::NotFound { what, name } => Self::NotFound { what: what.to_owned(), name, reason },
            BookError::Refused(text) => Self::Refused { text: text.into(), reason },
            BookError::Invalid(errors) => errors.into(),
            BookError::Table(errors) => Self::Invalid { fields: rows(&errors), reason },
            BookError::Bundle(_) => Self::BundleRefused { reason },
            BookError::Photo(error) => {
                Self::PhotoRefused { needs_decoder: matches!(error, PhotoError::Heic), reason }
            }
            BookError::Marks(refusal) => Self::MarksRefused {
                text: LocalizedText::tagged("marks", "refusal", &refusal, &reason),
                reason,
            },
            BookError::NewerFile { .. } => Self::NewerFile { reason },
            BookError::NotABook { .. } => Self::NotABook { reason },
            BookError::Corrupt { .. } => Self::Damaged { reason },
            BookError::Busy => Self::Busy { reason },
            BookError::Full => Self::Full { reason },
            BookError::Io { .. } => Self::Device { reason },
            BookError::Cancelled => Self::Cancelled { reason },
            BookError::Internal { .. } => Self::Internal { reason },
        }
    }
}

impl From<CheckError> for SteerwrightError {
    fn from(error: CheckError) -> Self {
        let id = match error {
            CheckError::NoSuchKit { .. } => "check.no_such_kit",
            CheckError::Target { .. } => "check.target",
        };
        Self::refused(id, error.to_string())
    }
}

impl From<HandlingError> for SteerwrightError {
    fn from(error: HandlingError) -> Self {
        let id = match error {
            HandlingError::NoSag => "handling.no_sag",
            HandlingError::NotKnown { .. } => "handling.not_known",
            HandlingError::Geometry(_) => "handling.geometry",
        };
        Self::refused(id, error.to_string())
    }
}
