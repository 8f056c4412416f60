//! Measured quantities: what was measured, in which unit, with what, how sure it is, and what follows for a limit.

pub mod conformity;
pub mod ids;
pub mod timestamp;
pub mod practice;
pub mod quantity;
pub mod sentence;
