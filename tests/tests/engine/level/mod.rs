//! The phone as a level: compared with SciPy's least squares, over simulated sessions, and for edge cases.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

mod coverage;
mod edges;
mod guide;
mod oracle;
mod phone;
mod table;
