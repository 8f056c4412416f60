//! What to measure next: the expected value of a measurement per minute.
//!
//! A kit's verdict is wrong if any of its requirements is judged wrongly. Of one requirement's possible answers (met;
//! met after work; not met) the likeliest is wrong with the probability of the others; summed over the requirements
//! this bounds the chance of a wrong verdict from above, whatever their correlation (Boole's inequality). The value of a
//! measurement is the expected decrease of that bound, over all values it may read: the expected value of information
//! (H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961) of a decision that costs 1 when wrong. The
//! list is ordered by value / minutes.
//!
//! What was not measured is taken as bikes usually are (`core/metrology/data/measuring.json`, `observing.json`); this
//! expectation only weighs measurements and never enters a verdict.

mod belief;
mod gain;
mod next;
mod target;

pub use gain::{expected_gain, wrong};
pub use next::{MeasureNext, NextMeasurement, Subject, measure_next, next};
pub use target::measure_for_target;
