//! Measured quantities: units, instruments, readings, and estimates with a standard uncertainty (JCGM 100, the GUM).

mod combine;
mod estimate;
mod instrument;
mod instrument_file;
mod measurement;
mod propagate;
mod shown;
mod unit;
mod what;

pub use combine::{Combined, combine};
pub use estimate::Estimate;
pub use instrument::{Instrument, Instruments, Reach};
pub use measurement::Measurement;
pub use propagate::{jacobian, propagate};
pub use shown::{DecimalMark, LengthUnit, Notation, Shown, shown, trimmed};
pub use unit::Unit;
pub use what::{About, Dimension, ForkPosition, Quantity, about};
