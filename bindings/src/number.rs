//! Numbers as they are, and as a reader wants them.

use crate::MeasureUnit;
use steerwright_core::quantity::{Estimate, shown};
use steerwright_core::report::{FigureReport, Margin, percent};

pub use steerwright_core::quantity::{DecimalMark, LengthUnit, Notation};

/// A number with its standard uncertainty, both in `unit`: millimetres or degrees unless a user wrote it down otherwise.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct Amount {
    /// The number.
    pub value: f64,
    /// Its standard uncertainty; 0 for what is exact.
    pub u: f64,
    /// The unit of both.
    pub unit: MeasureUnit,
}

/// A number in a reader's notation.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct FormattedAmount {
    /// The number alone.
    pub value: String,
    /// Its expanded uncertainty (k = 2); absent where it is nothing.
    pub plus_minus: Option<String>,
    /// `mm`, `in` or `°`.
    pub unit: String,
    /// All of it.
    pub text: String,
}

/// The unit in which a reader wants lengths.
#[uniffi::remote(Enum)]
pub enum LengthUnit {
    Millimetre,
    Inch,
}

/// What stands between a number's whole part and its fraction.
#[uniffi::remote(Enum)]
pub enum DecimalMark {
    Point,
    Comma,
}

/// How a reader wants numbers.
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

/// Writes a number for a reader: the one way in which every shell shows numbers.
#[uniffi::export]
pub fn format_amount(amount: Amount, notation: Notation) -> FormattedAmount {
    let it = shown(Estimate::new(amount.value, amount.u), amount.unit, notation);
    FormattedAmount { value: it.value, plus_minus: it.plus_minus, unit: it.unit.to_owned(), text: it.text }
}

/// A probability in percent, never rounded to certainty.
#[uniffi::export]
pub fn format_probability(p: f64) -> String {
    percent(p)
}
