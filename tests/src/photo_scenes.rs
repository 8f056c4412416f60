//! Synthetic scenes with marks (`tests/scenes/scenes.py`), and the errors of the measurements from them.

use crate::photo_statistics::{ErrorStatistics, HEAD, rows, straight_off};
use serde::Deserialize;
use std::collections::BTreeMap;
use steerwright_core::photogrammetry::measure::{Marks, PhotoMeasurement, measure};
use steerwright_core::quantity::Quantity;

/// A file of scenes.
#[derive(Deserialize)]
pub struct Scenes {
    /// In file order.
    pub scenes: Vec<Scene>,
}

/// One picture's marks and truth.
#[derive(Deserialize)]
pub struct Scene {
    /// The seed of the scene.
    pub number: u32,
    /// The camera's pose.
    pub view: View,
    /// By the quantities' names.
    pub truth: BTreeMap<String, f64>,
    /// As set by hand.
    pub marks: Marks,
}

/// The camera's orientation relative to the bike.
#[derive(Deserialize)]
pub struct View {
    /// Degrees from square on.
    pub yaw: f64,
}

/// Errors over many scenes.
pub struct Outcome {
    /// Of the measurements.
    pub measured: BTreeMap<Quantity, ErrorStatistics>,
    /// Of a protractor on the screen.
    pub off_the_screen: BTreeMap<Quantity, ErrorStatistics>,
    /// Numbers of the refused scenes, and the reasons.
    pub refused: Vec<String>,
    /// Number of scenes with a chi-square above twice its degrees of freedom.
    pub odd: usize,
}

/// Measures every scene.
pub fn outcome(scenes: &[Scene]) -> Outcome {
    let mut outcome =
        Outcome { measured: BTreeMap::new(), off_the_screen: BTreeMap::new(), refused: Vec::new(), odd: 0 };
    for scene in scenes {
        for (what, value) in straight_off(&scene.marks) {
            let truth = scene.truth[what.name()];
            outcome.off_the_screen.entry(what).or_default().errors.push(value - truth);
        }
        let seen: PhotoMeasurement = match measure(&scene.marks) {
            Ok(seen) => seen,
            Err(refusal) => {
                outcome.refused.push(format!("{}: {refusal}", scene.number));
                continue;
            }
        };
        let probable = seen.chi_square / seen.degrees_of_freedom as f64;
        outcome.odd += usize::from(probable > 2.0);
        for (what, estimate) in &seen.values {
            if let Some(truth) = scene.truth.get(what.name()) {
                outcome.measured.entry(*what).or_default().add(estimate.value - truth, estimate.u);
            }
        }
    }
    outcome
}

/// The errors as a printable table.
pub fn table(title: &str, outcome: &Outcome) -> String {
    let (measured, plain) = (rows("", &outcome.measured), rows(" off the screen", &outcome.off_the_screen));
    format!("{title}\n{HEAD}\n{measured}{plain}refused {}: {:?}\n", outcome.refused.len(), outcome.refused)
}
