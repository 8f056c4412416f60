//! Measured quantities: what was measured, in which unit, with what, and how sure it is (JCGM 100, the GUM).

mod combine;
mod estimate;
mod instrument;
mod instrument_file;
mod measurement;
mod monte_carlo;
mod propagate;
mod shown;
mod unit;
mod what;

pub use combine::{Combined, combine};
pub use estimate::Estimate;
pub use instrument::{Instrument, Instruments, Reach};
pub use measurement::Measurement;
pub use monte_carlo::{Distribution, MonteCarlo, MonteCarloError, monte_carlo};
pub use propagate::{jacobian, propagate, propagate_with_covariance};
pub use shown::{DecimalMark, LengthUnit, Notation, Shown, shown, trimmed};
pub use unit::Unit;
pub use what::{About, Dimension, ForkPosition, Quantity, about};
