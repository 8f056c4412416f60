//! Whether the steerer is long enough, and how many spacers still fit.
//!
//! Needed from crown race seat to cut end: the kit's lower stack, the head tube along the tilted steerer (L / cos t),
//! the kit's upper stack, spacers and stem, minus the recess of the steerer's end below the top. The head tube
//! contributes the length between its faces; bearing planes outside them add (z_u + z_l) (1 / cos t - 1), under 0.01
//! mm, which is neglected. Available: measured with the fork out, or from outside as the stack of parts on the steerer
//! minus the gap under the cap.
//!
//! Both are linear forms of the same readings ([`LinearForm`]). A head tube length that enters both cancels in the
//! margin together with its uncertainty, and so do a stem and spacers that stay.

mod budget;
mod linear_form;

pub use budget::{Available, Budget, Note, Plan, Readings, Route, SpacersKept, available, budget, needed};
pub use linear_form::LinearForm;

use steerwright_metrology::quantity::Quantity;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SteererError {
    /// A number is infinite or not a number, or an uncertainty is negative.
    #[error("{0} is not a finite number")]
    NotFinite(&'static str),
    /// A tilt of 45 degrees or more.
    #[error("a tilt of {0} degrees; expected less than 45 either way")]
    Tilt(f64),
    /// Quantities without which there is no answer.
    #[error("{0}")]
    Missing(Missing),
}

/// What is missing for the margin: either list, once measured, is sufficient.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("not measured: {} (fork out), or {} (fork in)", names(.fork_out), names(.fork_in))]
pub struct Missing {
    /// With the steerer measured directly.
    pub fork_out: Vec<Quantity>,
    /// With the steerer's length from the parts on it.
    pub fork_in: Vec<Quantity>,
}

fn names(quantities: &[Quantity]) -> String {
    quantities.iter().map(|quantity| quantity.name()).collect::<Vec<_>>().join(", ")
}
