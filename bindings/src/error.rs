//! Errors, divided by what a host app does about them.

use crate::LocalizedText;
use steerwright_core::book::{BookError, CsvErrors};
use steerwright_core::input::{FileError, FileErrors, printable_lines};
use steerwright_core::report::{CheckError, HandlingError};

/// Why an operation failed. Errors are separate variants only where a host app reacts differently. Every
/// `reason` is suitable for display.
#[derive(Debug, Clone, PartialEq, thiserror::Error, uniffi::Error)]
#[uniffi::export(Display)]
pub enum SteerwrightError {
    /// The item is not, or no longer, in the book. The app closes the item's screen and refreshes the list.
    #[error("{reason}")]
    NotFound {
        /// Kind of the item: a bike, a measurement, a check, a photo, a catalogue.
        what: String,
        /// The id or name that was looked up.
        name: String,
        /// Message for the user.
        reason: String,
    },
    /// A rule forbids the operation; nothing was changed. The app shows the reason.
    #[error("{reason}")]
    Refused {
        /// The rule as a sentence, with a stable id and parameters.
        text: LocalizedText,
        /// Message for the user.
        reason: String,
    },
    /// Fields are missing or invalid; nothing was changed. The app marks them in the form.
    #[error("{reason}")]
    Invalid {
        /// One entry per invalid field.
        fields: Vec<FieldFault>,
        /// All faults as one message for the user.
        reason: String,
    },
    /// A photo is not accepted. The app asks for another one.
    #[error("{reason}")]
    PhotoRefused {
        /// Whether only the platform can decode the format: the app has to pass a decoder.
        needs_decoder: bool,
        /// Message for the user.
        reason: String,
    },
    /// The marks on a photo yield no result; nothing was changed. The app returns to the marks or to the camera.
    #[error("{reason}")]
    MarksRefused {
        /// The problem and its remedy, with a stable id and parameters.
        text: LocalizedText,
        /// Message for the user.
        reason: String,
    },
    /// The readings of a level session yield no angle; nothing was changed. The app stays at this step.
    #[error("{reason}")]
    LevelRefused {
        /// The problem, with a stable id and parameters.
        text: LocalizedText,
        /// Message for the user.
        reason: String,
    },
    /// The file is incomplete or not a bundle; nothing was changed. The app asks for it again.
    #[error("{reason}")]
    BundleRefused {
        /// Message for the user.
        reason: String,
    },
    /// The book was written by a newer version and was left unchanged. The app asks the user to update.
    #[error("{reason}")]
    NewerFile {
        /// Message for the user.
        reason: String,
    },
    /// The file is not a field book and was left unchanged. The app asks for another file.
    #[error("{reason}")]
    NotABook {
        /// Message for the user.
        reason: String,
    },
    /// The book is damaged. Closing and reopening it recovers the readable data.
    #[error("{reason}")]
    Damaged {
        /// Message for the user.
        reason: String,
    },
    /// Another process holds the write lock. The app retries shortly.
    #[error("{reason}")]
    Busy {
        /// Message for the user.
        reason: String,
    },
    /// The device has no free storage; nothing was changed. The app asks the user to free some.
    #[error("{reason}")]
    Full {
        /// Message for the user.
        reason: String,
    },
    /// The operating system reported an error; nothing was changed.
    #[error("{reason}")]
    Device {
        /// Message for the user.
        reason: String,
    },
    /// The work was cancelled on request; nothing was changed. The app shows nothing.
    #[error("{reason}")]
    Cancelled {
        /// Message for the user.
        reason: String,
    },
    /// A callback of the host app (decoder, progress listener) failed; nothing was changed.
    #[error("{reason}")]
    Shell {
        /// The host app's own message.
        reason: String,
    },
    /// A bug in this library; nothing was changed. It should be reported.
    #[error("{reason}")]
    Internal {
        /// Message for the developers.
        reason: String,
    },
}

/// One missing or invalid field.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct FieldFault {
    /// Path of the field, such as `contact.email`; empty for the whole input.
    pub field: String,
    /// Stable id of the kind of problem: `missing`, `value`, `repeated`, `unknown`, `too_large`, `not_json`.
    pub problem: String,
    /// The value that was found.
    pub found: Option<String>,
    /// The value that was expected.
    pub expected: String,
    /// A suggested correction.
    pub did_you_mean: Option<String>,
    /// The fault as a sentence.
    pub english: String,
}

/// Error thrown by a callback of the host app (a sender, a decoder, a clock).
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, uniffi::Error)]
#[uniffi::export(Display)]
pub enum ShellError {
    /// The callback failed.
    #[error("{reason}")]
    Failed {
        /// The reason.
        reason: String,
    },
}

impl From<uniffi::UnexpectedUniFFICallbackError> for ShellError {
    /// Converts any other exception of the host app. Only the first line is kept: Kotlin appends a stack
    /// trace, which is not for display.
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
    // The faults carry line and column of the table. A phone rarely imports tables, so text without a
    // structured location is sufficient.
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
        // It may quote a file's name or text.
        let reason = printable_lines(&error.to_string()).into_owned();
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
