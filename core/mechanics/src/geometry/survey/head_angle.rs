//! The head angle alone: for one change in full, or for thousands of kits.

use super::model::UNKNOWNS;
use super::outlook::judged;
use super::{HeadAngle, Survey, UncertainChange};
use crate::geometry::change::{Change, compare};
use crate::geometry::many::head_angles_moved;
use crate::geometry::{Bicycle, GeometryError};
use crate::tilt::Offsets;

/// The unknowns that a kit's effect on the head angle depends on, in their order: not chainstay, bottom bracket
/// height and seat angle, which only hang from the frame.
const STEERING: [bool; UNKNOWNS] = [true, true, true, true, true, true, true, true, false, false, false];

fn results(bicycle: &Bicycle, change: &Change) -> Vec<f64> {
    let (before, after) = compare(*bicycle, change);
    let [old, new] = [before, after].map(|settled| settled.view.head_angle);
    vec![old, new, new - old]
}

pub(super) fn of(survey: &Survey, change: &UncertainChange) -> Result<HeadAngle, GeometryError> {
    let mut rows = judged(survey, change, results)?.into_iter().map(Result::ok);
    let mut next = || rows.next().flatten();
    Ok(HeadAngle { before: next(), after: next(), difference: next() })
}

pub(super) fn moved(survey: &Survey, kits: &[(Offsets, f64)]) -> Vec<Option<f64>> {
    let Some(fits) = &survey.fits else { return vec![None; kits.len()] };
    let open = survey.open_unknowns();
    if STEERING.iter().zip(open).any(|(steers, open)| *steers && open) {
        // What is open may still cancel, or not matter to this one kit.
        return kits.iter().map(|kit| moved_by(survey, kit)).collect();
    }
    // Both fits agree in these unknowns to 1e-5 mm or degrees, and the difference depends on each by less than a
    // tenth of a degree per mm or degree: it is the same from both.
    let mut moved = Vec::with_capacity(kits.len());
    head_angles_moved(&fits.best.bicycle, kits, &mut moved);
    moved.into_iter().map(|moved| (!moved.is_nan()).then_some(moved)).collect()
}

fn moved_by(survey: &Survey, (offsets, lower_stack): &(Offsets, f64)) -> Option<f64> {
    let change = Change { kit: Some(*offsets), lower_stack: Some(*lower_stack), ..Change::default() };
    Some(of(survey, &change.into()).ok()?.difference?.value)
}
