//! Everything true about bikes, kits and steering angles: no interface, no network, no clock.
//!
//! The way of a request, in one breath: a file becomes a [`bike::Bike`], its readings become
//! [`bike::Findings`] (estimates with a standard uncertainty), a kit of a [`catalogue::Catalogue`] asks its
//! requirements of them, and [`fit`] turns those into a verdict and a report. [`advice`] says what to measure
//! next and [`drawing`] shows where.
//!
//! Lengths are in millimetres and angles in degrees at every public boundary.
#![forbid(unsafe_code)]

pub mod advice;
pub mod bike;
#[cfg(feature = "book")]
pub mod book;
pub mod catalogue;
pub mod clearance;
pub mod conformity;
pub mod drawing;
pub mod file;
pub mod fit;
pub mod geometry;
pub mod headset;
pub mod level;
#[cfg(feature = "book")]
pub mod orders;
pub mod photo;
pub mod practice;
pub mod press;
pub mod quantity;
pub mod report;
pub mod sentence;
pub mod steerer;
pub mod tilt;

mod embedded;
