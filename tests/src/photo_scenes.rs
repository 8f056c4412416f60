//! Made-up scenes with marks (`tests/scenes/scenes.py`), and how far off the truth is what they tell.

use crate::photo_statistics::{ErrorStatistics, HEAD, rows, straight_off};
use serde::Deserialize;
use std::collections::BTreeMap;
use steerwright_core::photogrammetry::measure::{Marks, PhotoMeasurement, measure};
use steerwright_core::quantity::Quantity;

/// A file of scenes.
#[derive(Deserialize)]
pub struct Scenes {
    /// In the order of the file.
    pub scenes: Vec<Scene>,
}

/// One picture's marks and truth.
#[derive(Deserialize)]
pub struct Scene {
    /// Everything about the scene follows from it.
    pub number: u32,
    /// Where the camera stood.
    pub view: View,
    /// By the quantities' names.
    pub truth: BTreeMap<String, f64>,
    /// As a hand sets them.
    pub marks: Marks,
}

/// How the camera stood to the bike.
#[derive(Deserialize)]
pub struct View {
    /// Degrees from square on.
    pub yaw: f64,
}

/// Errors over many scenes.
pub struct Outcome {
    /// Of what was measured.
    pub measured: BTreeMap<Quantity, ErrorStatistics>,
    /// Of what a protractor on the screen tells.
    pub off_the_screen: BTreeMap<Quantity, ErrorStatistics>,
    /// Numbers of the scenes that were sent back, and why.
    pub refused: Vec<String>,
    /// How many scenes have a chi-square above twice its degrees of freedom.
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

/// The errors in rows, for people.
pub fn table(title: &str, outcome: &Outcome) -> String {
    let (measured, plain) = (rows("", &outcome.measured), rows(" off the screen", &outcome.off_the_screen));
    format!("{title}\n{HEAD}\n{measured}{plain}refused {}: {:?}\n", outcome.refused.len(), outcome.refused)
}
