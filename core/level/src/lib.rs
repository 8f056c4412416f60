//! The phone as an inclinometer: an angle of the frame from the accelerometer of a phone whose long edge is on the
//! frame.
//!
//! A sample is the specific force in the device's axes, m/s²: x to the right, y up the screen, z out of it; a phone on
//! its back on a table reads (0, 0, +9.81). The elevation of the long edge is `asin(y / |g|)`, independent of the
//! phone's roll about that edge. It differs from the angle of the bike by:
//!
//! * the slope of the floor, which changes sign when the bike is turned round on the same spot;
//! * the sensor: zero offset and scale of each axis, and its misalignment to the edge of the phone. Turning the phone
//!   end for end reverses the effect of the zero offsets, turning its screen to the other side that of the
//!   misalignment. The effect of the scales stays, but the measured length of g in several positions determines them;
//! * the lean `k` of the bike: `sin(elevation) = sin(angle) cos(k)`, read with the back of the phone on the rim of the
//!   rear wheel.
//!
//! [`Session`] holds the readings. [`Session::level`] adjusts all of them together with the priors on phones, floors
//! and handling by least squares, so an effect that does not cancel enters the uncertainty. [`change`] adjusts two
//! sessions of one bike at once: common errors cancel. [`Guide`] guides the user through a session step by step.

mod change;
mod guide;
mod known;
mod lean;
mod model;
mod reading;
mod sample;
mod session;
mod table;

pub use change::{AngleChange, Phones, change};
pub use guide::{Guide, GuideRefusal, Progress, Step, StepText};
pub use known::LevelPriors;
pub use reading::{Bearing, Pose, Reading, Still, Unsteady};
pub use sample::Sample;
pub use session::{Doubt, Level, LevelError, Residual, Session};
pub use table::{Table, TableError};
