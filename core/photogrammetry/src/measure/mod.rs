//! Measuring a bike on a side-on photo with marks.
//!
//! [`measure`] takes [`Marks`] and adjusts one model of camera and bike to all of them at once, by weighted least
//! squares: a pinhole with one radial coefficient, the wheels' plane, both tyres as rings of circular section, the
//! steering axis by the fork offset, and every marked point and line at its distance from the plane. Prior knowledge
//! (tyre size, focal length, offset, distances) enters as observations with their own uncertainties, so each result's u
//! includes them. Residuals show whether the marks are consistent; where they are not, a [`Refusal`] is returned
//! instead of numbers.
//!
//! A mirrored picture gives the same lengths and angles. Bikes that head left are computed in a mirrored picture.

mod adjust;
mod camera;
mod change;
mod circle;
mod ellipse;
mod judge;
mod known;
mod marks;
mod measurement;
mod numbers;
mod overlay;
mod plane;
mod rectify;
mod refusal;
mod rows;
mod scene;
mod start;

pub use camera::Camera;
pub use change::{Cameras, Changed, change};
pub use circle::{CirclePose, circle_poses};
pub use ellipse::{Ellipse, foot};
pub use marks::{Axis, Image, Lens, Line, Mark, Marks, MarksSchema, Pixel, Wheel};
pub use measurement::{PhotoMeasurement, measure};
pub use plane::Plane;
pub use rectify::{RectifiedView, rectify};
pub use refusal::{Doubt, Refusal, WheelEnd};
