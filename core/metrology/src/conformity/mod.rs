//! The probability that a quantity is within its limits (JCGM 106:2012).

mod chi_square;
mod joint;
mod limits;
mod normal;

pub use chi_square::chi_square_tail;
pub use joint::{Bounds, joint_bounds};
pub use limits::{Limits, margin, probability};
pub use normal::{normal_cdf, normal_tail};
