//! The side view of a bicycle: its steering figures, what a change does to them, and what a bike's readings say.
//!
//! Eleven numbers fix a side view ([`Bicycle`]). [`changed`] fits an angle kit, another fork or other wheels and
//! lets the bike settle on its wheels. Few bikes are measured to exactly eleven numbers: [`survey()`] takes whatever
//! was read, too little or too much, and says which figures follow, how surely, what is missing for the others
//! and which reading contradicts the rest.

mod angle;
mod bicycle;
mod change;
mod error;
mod figure;
mod kernel;
mod survey;

pub use crate::tilt::Offsets;
pub use bicycle::{Bicycle, Point, SideView};
pub use change::{Change, Changed, changed};
pub use error::GeometryError;
pub use figure::Figure;
pub use survey::{
    Comparison, Missing, Outlook, Residual, Statement, Survey, UncertainChange, UncertainKit, survey,
};
