//! One bike against a catalogue of kits: findings, requirements, verdict, advice and report.

pub mod advice;
pub mod bike;
pub mod catalogue;
pub mod judgement;
pub mod report;
