//! Why a picture cannot be drawn.

/// A number that cannot be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DrawingError {
    /// Not a number, or without end.
    #[error("{field} is not a finite number")]
    NotFinite {
        /// The input's field.
        field: String,
    },
    /// A number outside the range of any bike.
    #[error("{field} is {value}; a drawing needs {low} to {high}")]
    OutOfRange {
        /// The input's field.
        field: String,
        /// The given value.
        value: f64,
        /// The lower limit.
        low: f64,
        /// The upper limit.
        high: f64,
    },
    /// Two numbers that contradict each other.
    #[error("{field} cannot be drawn: {why}")]
    Contradiction {
        /// The input's field.
        field: String,
        /// What is wrong, in words.
        why: String,
    },
}

/// Refuses a number that is not finite or is outside `[low, high]`.
pub(super) fn within(field: &str, value: f64, low: f64, high: f64) -> Result<f64, DrawingError> {
    if !value.is_finite() {
        return Err(DrawingError::NotFinite { field: field.to_owned() });
    }
    if value < low || value > high {
        return Err(DrawingError::OutOfRange { field: field.to_owned(), value, low, high });
    }
    Ok(value)
}

/// The same for a number that may be unknown.
pub(super) fn within_if_known(
    field: &str,
    value: Option<f64>,
    low: f64,
    high: f64,
) -> Result<Option<f64>, DrawingError> {
    value.map(|value| within(field, value, low, high)).transpose()
}
