//! Measured quantities: units, instruments, readings, and estimates with a standard uncertainty (JCGM 100, the GUM).

mod combine;
mod dismantling;
mod estimate;
mod format;
mod instrument;
mod instrument_file;
mod measurement;
mod propagate;
mod unit;
mod what;

pub use combine::{Combined, combine};
pub use dismantling::{Dismantling, DismantlingInfo};
pub use estimate::Estimate;
pub use format::{DecimalMark, FormattedEstimate, LengthUnit, Notation, shown, trimmed};
pub use instrument::{Instrument, InstrumentAccuracy, Instruments};
pub use measurement::Measurement;
pub use propagate::{jacobian, propagate};
pub use unit::Unit;
pub use what::{
    Dimension, ForkPosition, Instruction, Quantity, QuantityCase, QuantityInfo, SeatCase, quantity_info,
};
