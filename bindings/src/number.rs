//! Numbers and their formatting for display.

use crate::MeasureUnit;
use steerwright_core::quantity::{Estimate, shown};
use steerwright_core::report::{FigureReport, Margin, percent};

pub use steerwright_core::quantity::{DecimalMark, LengthUnit, Notation};

/// A value with its standard uncertainty, both in `unit`: mm or degrees, unless the user recorded it in another unit.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct Amount {
    /// The value.
    pub value: f64,
    /// Standard uncertainty; 0 for an exact value.
    pub u: f64,
    /// Unit of `value` and `u`.
    pub unit: MeasureUnit,
}

/// A value formatted in the user's notation.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct FormattedAmount {
    /// The value alone.
    pub value: String,
    /// Expanded uncertainty (k = 2); absent if it is zero.
    pub plus_minus: Option<String>,
    /// `mm`, `in` or `°`.
    pub unit: String,
    /// Value, uncertainty and unit.
    pub text: String,
}

/// The user's unit of length.
#[uniffi::remote(Enum)]
pub enum LengthUnit {
    Millimetre,
    Inch,
}

/// Decimal separator.
#[uniffi::remote(Enum)]
pub enum DecimalMark {
    Point,
    Comma,
}

/// The user's number format.
#[uniffi::remote(Record)]
pub struct Notation {
    pub length: LengthUnit,
    pub mark: DecimalMark,
}

impl Amount {
    pub(crate) fn mm(estimate: Estimate) -> Self {
        Self { value: estimate.value, u: estimate.u, unit: MeasureUnit::Mm }
    }

    pub(crate) fn deg(estimate: Estimate) -> Self {
        Self { value: estimate.value, u: estimate.u, unit: MeasureUnit::Deg }
    }
}

impl From<Margin> for Amount {
    fn from(Margin { value, u, unit }: Margin) -> Self {
        Self { value, u, unit }
    }
}

impl From<FigureReport> for Amount {
    fn from(FigureReport { value, u, unit }: FigureReport) -> Self {
        Self { value, u, unit }
    }
}

/// Formats a value for display. Every host app uses this function for all numbers.
#[uniffi::export]
pub fn format_amount(amount: Amount, notation: Notation) -> FormattedAmount {
    let it = shown(Estimate::new(amount.value, amount.u), amount.unit, notation);
    FormattedAmount { value: it.value, plus_minus: it.plus_minus, unit: it.unit.to_owned(), text: it.text }
}

/// A probability in percent; never rounded to 0 % or 100 %.
#[uniffi::export]
pub fn format_probability(p: f64) -> String {
    percent(p)
}
