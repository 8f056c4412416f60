//! Measured quantities with their uncertainty, least squares, conformity with limits, and the sentences that state
//! them.

pub mod conformity;
pub mod ids;
pub mod least_squares;
pub mod practice;
pub mod quantity;
pub mod sentence;
pub mod timestamp;
pub mod voice;
