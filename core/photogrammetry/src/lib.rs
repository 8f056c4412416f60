//! Angles and lengths of a bicycle from a side-on photo: edges, marks, camera and bike as one adjustment.

pub mod edges;
pub mod guess;
pub mod measure;
pub mod warp;
