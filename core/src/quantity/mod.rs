//! Measured quantities: what was measured, in which unit, with what, and how sure it is (JCGM 100, the GUM).

mod estimate;
mod instrument;
mod unit;
mod what;

pub use estimate::Estimate;
pub use instrument::{Instrument, Instruments};
pub use unit::Unit;
pub use what::{About, Dimension, ForkPosition, Quantity, about};
