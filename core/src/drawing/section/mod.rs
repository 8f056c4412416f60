//! The head tube cut in the steering plane, with a kit in it.

mod input;

pub use input::{LeastRoom, Relief, ReliefSide, SectionEnd, SectionInput, SectionSeat, SectionSteerer, Side};
