//! The side view of a bicycle: its steering geometry, the effect of a change, and its reconstruction from readings.
//!
//! Eleven numbers determine a side view ([`Bicycle`]). [`changed`] fits an angle kit, another fork or other wheels and
//! settles the bike on its wheels. [`survey()`] takes any set of readings, too few or too many: it gives the figures
//! that these determine with their uncertainty, what is missing for the others, and the reading that contradicts the
//! rest.

mod bicycle;
mod change;
mod error;
mod figure;
mod inverse;
mod stance;
mod survey;
mod tyre;

pub use crate::tilt::Offsets;
pub use bicycle::{Bicycle, Point, SideView};
pub use change::{Change, Changed, changed};
pub use error::GeometryError;
pub use figure::Figure;
pub use inverse::tilt_for;
pub use survey::{
    Comparison, FigureEstimates, HeadAngle, Missing, Residual, Statement, Survey, UncertainChange,
    UncertainKit, survey,
};
pub use tyre::{TyreError, TyreSize, TyreSizeError, overall_diameter};
