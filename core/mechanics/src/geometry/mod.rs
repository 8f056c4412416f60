//! The side view of a bicycle: its steering figures, what a change does to them, and what a bike's readings
//! say.
//!
//! Eleven numbers fix a side view ([`Bicycle`]). [`changed`] fits an angle kit, another fork or other wheels
//! and lets the bike settle on its wheels. Few bikes are measured to exactly eleven numbers: [`survey()`]
//! takes whatever was read, too little or too much, and says which figures follow, how surely, what is
//! missing for the others and which reading contradicts the rest.

mod angle;
mod bicycle;
mod change;
mod custom;
mod error;
mod figure;
mod inverse;
mod kernel;
mod lanes;
mod many;
mod spread;
mod survey;
mod tyre;

pub use crate::tilt::Offsets;
pub use bicycle::{Bicycle, Point, SideView};
pub use change::{Change, Changed, changed};
pub use custom::{Uncustomary, crossing_height, uncustomary};
pub use error::GeometryError;
pub use figure::Figure;
pub use inverse::tilt_for;
pub use many::{ChangedColumns, Columns, changed_many};
pub use spread::{Spread, Spreads, spread};
pub use survey::{
    Comparison, HeadAngle, Missing, Outlook, Residual, Statement, Survey, UncertainChange, UncertainKit,
    survey,
};
pub use tyre::{TyreError, overall_diameter};
