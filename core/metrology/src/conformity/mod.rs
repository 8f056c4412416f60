//! How sure it is that a quantity lies within its limits (JCGM 106:2012).

mod joint;
mod limits;
mod normal;

pub use joint::{Bounds, joint_bounds};
pub use limits::{Limits, margin, probability};
pub use normal::{normal_cdf, normal_cdf_many, normal_tail};
