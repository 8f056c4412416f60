//! What to measure next: the expected value of a measurement per minute, and the order of work.
//!
//! A kit's verdict is wrong if any of its requirements is judged wrongly. Of one requirement's possible answers (met;
//! met after work; not met) the likeliest is wrong with the probability of the others; summed over the requirements
//! this bounds the chance of a wrong verdict from above, whatever their correlation (Boole's inequality). The value of a
//! measurement is the expected decrease of that bound, over all values it may read: the expected value of information
//! (H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961) of a decision that costs 1 when wrong. It is
//! the mean over the kits that may still become the best, each counted by the upper bound of its probability of going in.
//!
//! A quantity that was read is worth reading again as far as that makes its estimate surer. What is measured in
//! the same state of dismantling shares the minutes to reach it; the list is ordered by value over minutes, those to reach
//! the state included, state by state.
//!
//! What was not measured is taken as bikes usually are (`core/metrology/data/measuring.json`, `observing.json`); this
//! expectation only weighs measurements and never enters a verdict.

mod again;
mod belief;
mod case;
mod gain;
mod next;
mod plan;
mod target;
mod value;
mod words;

pub use case::{Guidance, of_quantity, seat_case};
pub use gain::{expected_gain, wrong};
pub use next::{Inquiry, NextMeasurement, OpenKit, Reason, Subject, next};
pub use target::measure_for_target;
pub use value::Gain;
pub use words::{MeasureNext, measure_next};
