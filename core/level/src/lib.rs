//! The phone as a level: an angle of the frame from what a phone's accelerometer feels while its long edge lies on
//! the frame.
//!
//! A sample is the specific force in the device's axes, m/s²: x to the right, y up the screen, z out of it; a phone on
//! its back on a table reads (0, 0, +9.81). The elevation of the long edge is `asin(y / |g|)`, whatever the phone's
//! roll about that edge. What stands between it and the angle of the bike:
//!
//! * the floor's slope, which changes sign when the bike is turned round on the same spot;
//! * the sensor: zero of each axis, scale of each axis, and how it sits to the phone's edge. Turning the phone end for
//!   end changes the sign of the zeros' share, turning its screen to the other side that of the way it sits. The scales'
//!   share stays, but the length of g in the different positions gives them away;
//! * the bike's lean `k`: `sin(elevation) = sin(angle) cos(k)`, read with the phone's back on the rear wheel's rim.
//!
//! [`Session`] holds the readings; one least squares fit ([`Session::level`]) weighs all of it against what is known
//! beforehand of phones, floors and hands, so that whatever was not cancelled stays in the uncertainty. [`change`] fits
//! two sessions of one bike at once: what both share cancels. [`Guide`] leads through a session step by step.

mod change;
mod guide;
mod known;
mod lean;
mod model;
mod reading;
mod sample;
mod session;
mod solve;
mod table;

pub use change::{AngleChange, Phones, change};
pub use guide::{Guide, GuideRefusal, Progress, Step, StepText};
pub use known::Known;
pub use reading::{Bearing, Pose, Reading, Still, Unsteady};
pub use sample::Sample;
pub use session::{Doubt, Level, LevelError, Residual, Session};
pub use table::{Table, TableError};
